"""A person placed by hand: two eyes, perhaps crown and chin.

The rest comes from what was found there, or from human proportions with honest sigmas.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from cropper.geometry import Extent, Point, Size
from cropper.subject import proportions
from cropper.subject.subject import EyesState, Finding, Landmark, Origin, Subject

HAND_SIGMA: Final = 0.02
"""One standard deviation of an eye placed by hand, in distances between the eyes (house: two
screen pixels on an eye of 100)."""
HAND_POINT_SIGMA: Final = 0.01
"""The same for crown and chin, in heads (house)."""
NEAR: Final = 0.35
"""A found person is taken to be meant when the eyes' middles lie this near, in heads (house)."""
SPREAD_FROM_EYES: Final = 0.075
"""One standard deviation of a head built from the eyes alone, in heads: .02 of .281 between the
eyes [ratios] and .022 of the eyes' place in it [eye_frac], squared, summed."""


def by_hand(
    size: Size,
    left_eye: Point,
    right_eye: Point,
    *,
    crown: Point | None = None,
    chin: Point | None = None,
    found: Subject | None = None,
) -> Subject:
    """The person with these eyes, in pixels of the upright master of ``size``.

    ``crown`` is the top of the hair. What is not given is taken from ``found`` when its eyes lie
    near these, else from proportions. The chin lies on the lower side of the eye line (of an
    upright one: to its right), unless a given chin or crown says otherwise. ``ValueError`` when
    the eyes coincide or lie outside the picture.
    """
    left, right = sorted((left_eye, right_eye), key=lambda eye: (eye.x, eye.y))
    if left.to(right) < 1:
        raise ValueError("the two eyes lie in one place")
    if not all(0 <= eye.x <= size.width and 0 <= eye.y <= size.height for eye in (left, right)):
        message = f"an eye lies outside the picture of {size.width} x {size.height} px"
        raise ValueError(message)
    if found is not None and found.eyes.to(left.midway(right)) <= NEAR * found.head_height_px:
        subject = _moved(found, left, right)
    else:
        subject = _proportioned(left, right, chin=chin, crown=crown, size=size)
    return _with_ends(subject, crown=crown, chin=chin)


def placed(
    finding: Finding,
    left_eye: Point,
    right_eye: Point,
    *,
    crown: Point | None = None,
    chin: Point | None = None,
) -> Finding:
    """The finding with a person placed by hand, who is then the one principal subject.

    The person found nearest to these eyes is replaced; everybody else becomes a bystander.
    """
    near = nearest(finding.subjects, left_eye.midway(right_eye))
    mine = by_hand(finding.size, left_eye, right_eye, crown=crown, chin=chin, found=near)
    replaced = near is not None and near.eyes.to(mine.eyes) <= NEAR * near.head_height_px
    others = [
        one.as_principal(principal=False, why="another's eyes were placed by hand")
        for one in finding.subjects
        if not (replaced and one is near)
    ]
    everybody = sorted([mine, *others], key=lambda one: (one.eyes.x, one.eyes.y))
    return replace(finding, subjects=tuple(everybody), problem=None)


def nearest(subjects: Sequence[Subject], place: Point) -> Subject | None:
    """The subject whose eyes are nearest to ``place``; None when there is nobody."""
    return min(subjects, key=lambda one: (one.eyes.to(place), one.eyes.x), default=None)


def _moved(found: Subject, left: Point, right: Point) -> Subject:
    """The found person, with the eyes put right."""
    state = EyesState.CLOSED if found.eyes_state is EyesState.CLOSED else EyesState.OPEN
    return replace(
        found,
        left_eye=left,
        right_eye=right,
        eye_sigma_px=HAND_SIGMA * left.to(right),
        eyes_from=Origin.HAND,
        eyes_state=state,
        left_detail=None,
        right_detail=None,
        principal=True,
        why="eyes placed by hand",
        doubt="",
    )


@dataclass(frozen=True, slots=True)
class _Axis:
    """Where the head's parts lie: ``above`` heads up from the eyes' middle, ``beside`` across."""

    eyes: Point
    up: tuple[float, float]
    head_px: float

    def at(self, above: float, beside: float = 0.0) -> Point:
        up_x, up_y = self.up
        return Point(
            self.eyes.x + (above * up_x - beside * up_y) * self.head_px,
            self.eyes.y + (above * up_y + beside * up_x) * self.head_px,
        )

    def mark(self, above: float, sigma: float) -> Landmark:
        return Landmark(self.at(above), sigma * self.head_px, Origin.ESTIMATED)


def _axis(left: Point, right: Point, chin: Point | None, crown: Point | None) -> _Axis:
    """Square to the eye line; up is away from a given chin, towards a given crown, else up."""
    between = left.to(right)
    along_x, along_y = (right.x - left.x) / between, (right.y - left.y) / between
    up_x, up_y = along_y, -along_x
    eyes = left.midway(right)
    hint = 0.0
    if chin is not None:
        hint = (eyes.x - chin.x) * up_x + (eyes.y - chin.y) * up_y
    elif crown is not None:
        hint = (crown.x - eyes.x) * up_x + (crown.y - eyes.y) * up_y
    if hint < 0:
        up_x, up_y = -up_x, -up_y
    return _Axis(eyes, (up_x, up_y), between / proportions.BETWEEN_EYES)


def _proportioned(
    left: Point, right: Point, *, chin: Point | None, crown: Point | None, size: Size
) -> Subject:
    """A head built from two eyes."""
    axis = _axis(left, right, chin, crown)
    spread = SPREAD_FROM_EYES
    skull = 1 - proportions.CHIN_BELOW_EYES
    skull_top = axis.mark(skull, spread)
    hair_at = axis.at(skull)
    hair_top = Landmark(
        Point(hair_at.x, hair_at.y - proportions.HAIR * axis.head_px),
        math.hypot(spread, proportions.HAIR_SD) * axis.head_px,
        Origin.ESTIMATED,
    )
    return Subject(
        left_eye=left,
        right_eye=right,
        eye_sigma_px=HAND_SIGMA * left.to(right),
        chin=axis.mark(-proportions.CHIN_BELOW_EYES, spread),
        skull_top=skull_top,
        hair_top=hair_top,
        hairline=axis.mark(proportions.HAIRLINE_ABOVE_EYES, spread),
        brows=axis.mark(proportions.BROWS_ABOVE_EYES, spread / 2),
        crown_in_frame=hair_top.at.y > 0 and 0 <= skull_top.at.x <= size.width,
        head_box=_box(axis, hair_top.at),
        eyes_from=Origin.HAND,
        why="eyes placed by hand",
    )


def _box(axis: _Axis, hair_top: Point) -> Extent:
    """Ear to ear and hair to chin of a proportioned head."""
    half = proportions.BREADTH / 2 + proportions.HAIR / 2
    heights = (-proportions.CHIN_BELOW_EYES, 1 - proportions.CHIN_BELOW_EYES)
    corners = [hair_top, axis.at(heights[0]), axis.at(heights[1])]
    corners += [axis.at(0.0, side) for side in (-half, half)]
    corners += [axis.at(heights[1] / 2, side) for side in (-half, half)]
    return Extent(
        min(corner.x for corner in corners),
        min(corner.y for corner in corners),
        max(corner.x for corner in corners),
        max(corner.y for corner in corners),
    )


def _with_ends(subject: Subject, *, crown: Point | None, chin: Point | None) -> Subject:
    """The subject with a crown and a chin given by hand."""
    sigma = HAND_POINT_SIGMA * subject.head_height_px
    if chin is not None:
        subject = replace(subject, chin=Landmark(chin, sigma, Origin.HAND))
    if crown is not None:
        subject = replace(
            subject, hair_top=Landmark(crown, sigma, Origin.HAND), crown_in_frame=crown.y > 0
        )
        if subject.skull_top.at.y < crown.y:
            # Hair cannot end below the skull it grows on.
            skull = replace(subject.skull_top, at=Point(subject.skull_top.at.x, crown.y))
            subject = replace(subject, skull_top=skull)
    return replace(subject, head_box=_ending_at(subject, crown, chin))


def _ending_at(subject: Subject, crown: Point | None, chin: Point | None) -> Extent:
    """The head box ended at a crown above and a chin below the eyes, and holding both anyway."""
    box, eyes_y = subject.head_box, subject.eyes.y
    ends = [point for point in (crown, chin) if point is not None]
    top = crown.y if crown is not None and crown.y < eyes_y else box.y0
    low = chin.y if chin is not None and chin.y > eyes_y else box.y1
    return Extent(
        min([box.x0, *(end.x for end in ends)]),
        min([top, *(end.y for end in ends)]),
        max([box.x1, *(end.x for end in ends)]),
        max([low, *(end.y for end in ends)]),
    )
