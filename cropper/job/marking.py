"""The photographer's marks laid over what the finder saw: eyes, crown, chin, who is principal.

Where only eyes are given, the rest of the head is estimated from them with the head proportions
of ANSUR II [ansur]: pupil distance is .28 of the head's height, the eyes lie half way down it.
Estimates say so (``Origin.ESTIMATED``) and carry the spread of those proportions.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from cropper.geometry import Extent, Point, Size
from cropper.job.plan import HandMarks
from cropper.subject.subject import EyesState, Finding, Joint, Landmark, Origin, Subject

HEADS_PER_PUPILS: Final = 1 / 0.281
"""Head height over pupil distance, mean of women and men [ansur: ratios .277 and .285]."""
EYES_DOWN: Final = 0.496
"""Eyes below the skull's top, in heads: mean of women .502 and men .491 [ansur: eye_frac]."""
SPREAD: Final = 0.09
"""One standard deviation of head height from pupil distance and eye line, in heads
[ansur: crown_k, cv .09]."""
HAIR: Final = 0.08
"""Hair above the skull, in heads (house: 10 to 40 mm, common practice)."""
HAIRLINE_DOWN: Final = 0.16
"""Hairline below the skull's top, in heads (house)."""
BROWS_UP: Final = 0.1
"""Brows above the pupils, in heads (house)."""
HALF_HEAD: Final = 0.42
"""Half the head's breadth with hair, in heads [ansur: breadth .68, plus hair (house)]."""
HAND_SIGMA: Final = 0.01
"""One standard deviation of a point placed by hand, in heads (house)."""


def scaled(finding: Finding, size: Size) -> Finding:
    """The same finding in pixels of a picture of ``size``."""
    across, down = size.width / finding.size.width, size.height / finding.size.height
    if across == down == 1:
        return finding
    subjects = tuple(_scaled(one, across, down) for one in finding.subjects)
    return replace(finding, size=size, subjects=subjects)


def _scaled(one: Subject, across: float, down: float) -> Subject:
    def at(point: Point) -> Point:
        return Point(point.x * across, point.y * down)

    def mark(landmark: Landmark) -> Landmark:
        return replace(landmark, at=at(landmark.at), sigma_px=landmark.sigma_px * down)

    return _moved(
        replace(one, eye_sigma_px=one.eye_sigma_px * down),
        at,
        mark,
        Extent(
            one.head_box.x0 * across,
            one.head_box.y0 * down,
            one.head_box.x1 * across,
            one.head_box.y1 * down,
        ),
    )


def _moved(
    one: Subject,
    at: Callable[[Point], Point],
    mark: Callable[[Landmark], Landmark],
    head_box: Extent,
) -> Subject:
    return replace(
        one,
        left_eye=at(one.left_eye),
        right_eye=at(one.right_eye),
        chin=mark(one.chin),
        skull_top=mark(one.skull_top),
        hair_top=mark(one.hair_top),
        hairline=mark(one.hairline),
        brows=mark(one.brows),
        head_box=head_box,
        joints=tuple(Joint(j.name, at(j.at), j.visibility) for j in one.joints),
    )


def marked(finding: Finding, marks: HandMarks) -> Finding:
    """The finding as the photographer has it; ``ValueError`` says which mark makes no sense."""
    subjects = _chosen(finding.subjects, marks)
    if marks.eyes is not None:
        subjects = _with_eyes(subjects, marks.eyes, finding.size)
    if marks.crown is not None or marks.chin is not None:
        subjects = _with_ends(subjects, marks)
    known = any(one.principal for one in subjects)
    return replace(finding, subjects=subjects, problem=None if known else finding.problem)


def _chosen(subjects: tuple[Subject, ...], marks: HandMarks) -> tuple[Subject, ...]:
    """Who is principal, counted from 1; the excluded are no people at all."""
    for number in (*marks.principal, *marks.excluded):
        if not 1 <= number <= len(subjects):
            raise ValueError(f"there is no person {number}: {len(subjects)} were found")
    if marks.principal:
        subjects = tuple(
            one.as_principal(principal=number in marks.principal, why="named by hand")
            for number, one in enumerate(subjects, start=1)
        )
    kept = tuple(
        one for number, one in enumerate(subjects, start=1) if number not in marks.excluded
    )
    if kept and not any(one.principal for one in kept):
        return (kept[0].as_principal(principal=True, why="the others were excluded"), *kept[1:])
    return kept


def _with_eyes(
    subjects: tuple[Subject, ...], eyes: tuple[Point, Point], size: Size
) -> tuple[Subject, ...]:
    """The person whose head holds both eyes gets them; nobody there: a person is made of them."""
    left, right = sorted(eyes, key=lambda eye: (eye.x, eye.y))
    if left.to(right) < 1:
        raise ValueError("the two eyes are in one place")
    if not all(0 <= eye.x <= size.width and 0 <= eye.y <= size.height for eye in eyes):
        raise ValueError(f"an eye lies outside the picture of {size.width} x {size.height} px")
    mine = next((one for one in subjects if _holds(one, left.midway(right))), None)
    if mine is None or _far(mine, left, right):
        made = estimated(left, right, size)
        others = (one for one in subjects if one is not mine)
        return (made, *(_beside(one) for one in others))
    moved = replace(
        mine,
        left_eye=left,
        right_eye=right,
        eye_sigma_px=HAND_SIGMA * mine.head_height_px,
        eyes_from=Origin.HAND,
        eyes_state=EyesState.OPEN if mine.eyes_state is EyesState.COVERED else mine.eyes_state,
        principal=True,
        why="eyes placed by hand",
    )
    return tuple(moved if one is mine else _beside(one) for one in subjects)


def _beside(one: Subject) -> Subject:
    return one.as_principal(principal=False, why="somebody else was marked by hand")


def _holds(one: Subject, eyes: Point) -> bool:
    box = one.head_box
    return box.x0 <= eyes.x <= box.x1 and box.y0 <= eyes.y <= box.y1


def _far(one: Subject, left: Point, right: Point) -> bool:
    """Whether the marks are so unlike the found head that its other points cannot be trusted."""
    apart = left.midway(right).to(one.eyes)
    turned = abs(math.remainder(_tilt(left, right) - one.tilt_deg, 360))
    return apart > one.head_height_px / 4 or turned > 20  # noqa: PLR2004 - house, as the quarter


def _tilt(left: Point, right: Point) -> float:
    return math.degrees(math.atan2(right.y - left.y, right.x - left.x))


def estimated(left: Point, right: Point, size: Size) -> Subject:
    """A person of whom only the eyes are known: an upright head in proportion to them."""
    head = left.to(right) * HEADS_PER_PUPILS
    across = ((right.x - left.x) / left.to(right), (right.y - left.y) / left.to(right))
    down = (-across[1], across[0])
    eyes = left.midway(right)

    def along(heads: float) -> Landmark:
        at = Point(eyes.x + down[0] * heads * head, eyes.y + down[1] * heads * head)
        return Landmark(at, SPREAD * head, Origin.ESTIMATED)

    chin, skull = along(1 - EYES_DOWN), along(-EYES_DOWN)
    hair = along(-EYES_DOWN - HAIR)
    middle = hair.at.midway(chin.at)
    half_height = abs(chin.at.y - hair.at.y) / 2
    reach = HALF_HEAD * head
    return Subject(
        left_eye=left,
        right_eye=right,
        eye_sigma_px=HAND_SIGMA * head,
        chin=chin,
        skull_top=skull,
        hair_top=hair,
        hairline=along(-EYES_DOWN + HAIRLINE_DOWN),
        brows=along(-BROWS_UP),
        crown_in_frame=0 <= hair.at.y <= size.height,
        head_box=Extent(
            middle.x - reach,
            middle.y - max(half_height, reach),
            middle.x + reach,
            middle.y + max(half_height, reach),
        ),
        eyes_from=Origin.HAND,
        score=1.0,
        why="eyes placed by hand",
    )


def _with_ends(subjects: tuple[Subject, ...], marks: HandMarks) -> tuple[Subject, ...]:
    """Crown (the hair's top) and chin of the one principal person."""
    mine = [one for one in subjects if one.principal]
    if len(mine) != 1:
        raise ValueError(f"--crown and --chin are about one person, and {len(mine)} are principal")
    return tuple(_ended(one, marks) if one.principal else one for one in subjects)


def _ended(one: Subject, marks: HandMarks) -> Subject:
    sigma = HAND_SIGMA * one.head_height_px
    box = one.head_box
    if marks.chin is not None:
        one = replace(one, chin=Landmark(marks.chin, sigma, Origin.HAND))
        box = Extent(box.x0, box.y0, box.x1, max(marks.chin.y, box.y0 + 1))
    if marks.crown is not None:
        hair = Landmark(marks.crown, sigma, Origin.HAND)
        skull = one.skull_top
        if skull.at.y < marks.crown.y:  # the skull cannot stand above its hair
            skull = hair
        one = replace(one, hair_top=hair, skull_top=skull, crown_in_frame=marks.crown.y >= 0)
        box = Extent(box.x0, min(marks.crown.y, box.y1 - 1), box.x1, box.y1)
    return replace(one, head_box=box)
