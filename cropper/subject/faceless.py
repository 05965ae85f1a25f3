"""Persons whose faces the ordinary looks did not confirm: looked at closer, then by their bodies.

In order: the detectors once more on the person's upper part, which is larger there (small figures,
somebody beside the sitter); many meshes where a detector saw something (profiles, bent heads);
what the detectors alone say of the eyes; the head that the pose sees, without eyes; and a box of
the whole person when nothing says where the head is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np

from cropper.geometry import Extent, Point, Size
from cropper.subject.agreeing import agreed
from cropper.subject.by_hand import by_hand
from cropper.subject.detecting import Sighting, in_master, merged
from cropper.subject.engine import FULL, SHORT, Engine
from cropper.subject.meshing import ASSURED, Face, confirmed
from cropper.subject.persons import EYES_SIGMA, BodyHead, Person, head_by_pose
from cropper.subject.proportions import BETWEEN_EYES
from cropper.subject.pyramid import LOOK, Pyramid
from cropper.subject.subject import EyeDetail, EyesState, Origin, Subject

LEAST_SIGHTING: Final = 0.6
"""A detector's score that is worth a closer look, where a person's body says that a head is."""
SIDE_IN_HEADS: Final = 0.62
"""Side of a detector's square, in heads (real portraits: .50-.79)."""
BELOW_TOP: Final = (0.2, 1.25)
"""Eyes lie so far below the top of a person's box, in heads: bent forward, under a tall hat."""
HEAD_PX_OF_POSE: Final = 1.08
"""Heads measured by the pose come out smaller (median .92 on 49 real portraits)."""
DETECTED_SIGMA: Final = 0.12
"""Eyes by the detectors alone, one standard deviation in heads."""
_UPPER: Final = 0.5
"""The part of a standing person's box that is looked at closer."""
NO_FACE: Final = "a head was seen, but no face"
UNCLEAR: Final = "a head was seen, but its eyes could not be made out"
_LEAST_HEAD_PX: Final = 12.0


@dataclass(frozen=True, slots=True)
class Closer:
    """What a closer look at a person gave: a face, or the eyes as detectors see them, or a head."""

    face: Face | None = None
    head: Subject | None = None


def _sightings(engine: Engine, pyramid: Pyramid, person: Person) -> list[Sighting]:
    """What both detectors see on the person's upper part, at two sizes."""
    box = person.box
    found = []
    for part in (1.0, _UPPER):
        side = max(part * min(box.width, box.height), part * 0.5 * box.height)
        piece = pyramid.piece((box.centre.x, box.y0 + 0.45 * side), 1.15 * side)
        for which in (SHORT, FULL):
            found += [
                in_master(piece, one)
                for one in engine.detect(piece.pixels, which)
                if one.score >= LEAST_SIGHTING
            ]
    return merged(found)


def _plausible(seen: Sighting, person: Person, pose: BodyHead | None) -> bool:
    """Whether a sighting may be this person's head."""
    box, head_px = person.box, seen.side / SIDE_IN_HEADS
    if head_px < _LEAST_HEAD_PX:
        return False
    if not box.x0 <= seen.x <= box.x1:
        return False
    low, high = BELOW_TOP
    if not low * head_px <= seen.y - box.y0 <= high * head_px:
        return False
    if pose is None:
        return True
    return math.dist((seen.x, seen.y), (pose.eyes.x, pose.eyes.y)) <= 1.2 * max(
        head_px, pose.head_px
    )


def looked_closer(
    engine: Engine, pyramid: Pyramid, person: Person, seen: Sequence[Sighting]
) -> Closer:
    """The person's face or head; both None when nothing says where the head is."""
    pose = head_by_pose(engine, pyramid, person)
    near = [
        one
        for one in merged([*seen, *_sightings(engine, pyramid, person)])
        if _plausible(one, person, pose)
    ]
    possible = [face for one in near[:3] if (face := confirmed(engine, pyramid, one)) is not None]
    best = max(possible, key=lambda face: face.assurance, default=None)
    if best is not None and best.assurance >= ASSURED:
        return Closer(face=best)
    for one in near[:2]:
        face = agreed(engine, pyramid, one)
        if face is not None:
            return Closer(face=face)
    if best is not None and best.assurance >= LEAST_SIGHTING:
        return Closer(face=best)
    if near:
        head = _by_detectors(engine, pyramid, near[0])
        if head is not None:
            return Closer(head=head)
    if pose is not None and pose.head_px >= _LEAST_HEAD_PX and _on_top(pose, person):
        return Closer(head=_by_pose(pose, pyramid))
    return Closer()


def _on_top(pose: BodyHead, person: Person) -> bool:
    """Whether the pose's head lies where a head may lie in the person's box."""
    low, high = BELOW_TOP
    return low * pose.head_px <= pose.eyes.y - person.box.y0 <= high * pose.head_px


def _by_detectors(engine: Engine, pyramid: Pyramid, seen: Sighting) -> Subject | None:
    """A head whose eyes are the mean of what the detectors say at two sizes."""
    eyes = []
    for times in (1.4, 2.0):
        piece = pyramid.piece(
            (seen.x, seen.y),
            times * seen.side,
            angle_deg=seen.angle_deg,
            outside=cv2.BORDER_REPLICATE,
        )
        for which in (SHORT, FULL):
            eyes += [
                piece.to_master(one.eyes)
                for one in engine.detect(piece.pixels, which)
                if math.dist(one.middle, (LOOK / 2, LOOK / 2)) < LOOK / 4
            ]
    if not eyes:
        return None
    left, right = np.mean(eyes, axis=0)
    head_px = seen.side / SIDE_IN_HEADS
    return _head(
        Point(float(left[0]), float(left[1])),
        Point(float(right[0]), float(right[1])),
        head_px,
        pyramid,
        sigma=DETECTED_SIGMA,
        origin=Origin.ESTIMATED,
    )


def _by_pose(pose: BodyHead, pyramid: Pyramid) -> Subject | None:
    """A head without a face: eyes by proportion about their middle, which the pose sees."""
    head_px = HEAD_PX_OF_POSE * pose.head_px
    across = (-pose.up[1] * head_px, pose.up[0] * head_px)
    half = BETWEEN_EYES / 2
    one = Point(pose.eyes.x - half * across[0], pose.eyes.y - half * across[1])
    other = Point(pose.eyes.x + half * across[0], pose.eyes.y + half * across[1])
    return _head(one, other, head_px, pyramid, sigma=2 * EYES_SIGMA, origin=Origin.NONE)


def _head(
    one: Point, other: Point, head_px: float, pyramid: Pyramid, *, sigma: float, origin: Origin
) -> Subject | None:
    """A head of this height about two eyes; None when an eye would lie outside the picture."""
    middle = one.midway(other)
    apart = max(1e-6, one.to(other))
    half = BETWEEN_EYES * head_px / 2
    along = ((other.x - one.x) / apart * half, (other.y - one.y) / apart * half)
    try:
        built = by_hand(
            Size(pyramid.width, pyramid.height),
            Point(middle.x - along[0], middle.y - along[1]),
            Point(middle.x + along[0], middle.y + along[1]),
        )
    except ValueError:
        return None
    state = EyesState.HIDDEN if origin is Origin.NONE else EyesState.COVERED
    detail = EyeDetail(state=state, score=0.5, sigma_px=round(sigma * head_px, 2))
    unsure = built.carried(lambda at: at, head_box=built.head_box, sigma_scale=1.5)
    return replace(
        unsure,
        eye_sigma_px=round(sigma * head_px, 2),
        eyes_from=origin,
        eyes_state=state,
        left_detail=detail,
        right_detail=detail,
        score=0.4,
        why="",
        doubt=NO_FACE if origin is Origin.NONE else UNCLEAR,
    )


def body_box(person: Person) -> Extent:
    """The person's box, as a finding tells it."""
    box = person.box
    return Extent(*(round(edge, 2) for edge in (box.x0, box.y0, box.x1, box.y1)))
