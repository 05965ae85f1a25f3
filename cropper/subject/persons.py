"""Persons as boxes: seen from any side, with a face or without, standing or cut by the frame.

A head left out is cut through in silence, so whoever has no face in the picture is looked for by
the body: the box of a person detector, and the joints of the pose network in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cropper.geometry import Extent, Point
from cropper.subject.engine import Engine
from cropper.subject.engine_points import Points
from cropper.subject.pyramid import Pyramid

LEAST_SCORE: Final = 0.5
"""Persons on portraits .75-.97, a figure of a third of the frame .45-.6; nothing on a cat, cups,
clocks, bricks and grass above .06."""
LEAST_SMALL_SCORE: Final = 0.4
"""The same on tiles, asked of only when the whole picture shows nobody."""
SAME: Final = 0.55
"""Intersection over union above which two boxes are one person."""
INSIDE: Final = 0.8
"""A box that lies within another by this share of itself is a part of that person."""
HEAD_ZONE: Final = 0.5
"""Heads lie in this upper part of a standing or sitting person's box."""
TILES: Final = (2, 0.3)
"""Tiles each way, and their overlap."""

_NOSE, _MOUTH, _EYES, _EARS, _SHOULDERS = (0,), (9, 10), (2, 5), (7, 8), (11, 12)
EYES_TO_MOUTH: Final = 0.31
"""In heads, between the pose's points (49 real portraits: median .31, .25-.38)."""
EARS_APART: Final = 0.56
"""The same between the ears of a head that faces the lens or turns its back."""
LEAST_FACE: Final = 0.1
"""Eyes and mouth nearer than this, in heads, say nothing about which way is up (house)."""
EYES_SIGMA: Final = 0.07
"""One standard deviation of the pose's eyes along each axis, in heads (the same portraits: .056
median, .10 at 90 %, largest .23, of the distance)."""


@dataclass(frozen=True, slots=True)
class Person:
    """A person's box in master pixels, and its score 0..1."""

    box: Extent
    score: float

    @property
    def area(self) -> float:
        """Of the box, in square pixels."""
        return self.box.width * self.box.height


@dataclass(frozen=True, slots=True)
class BodyHead:
    """A head as the pose sees it: both eyes and their middle, its height, and which way is up."""

    left_eye: Point
    right_eye: Point
    head_px: float
    up: tuple[float, float]

    @property
    def eyes(self) -> Point:
        """Midpoint of the eyes."""
        return self.left_eye.midway(self.right_eye)


def _shared(one: Extent, other: Extent) -> float:
    across = min(one.x1, other.x1) - max(one.x0, other.x0)
    down = min(one.y1, other.y1) - max(one.y0, other.y0)
    return max(0.0, across) * max(0.0, down)


def _separate(found: Sequence[Person]) -> list[Person]:
    """One box for each person, best first."""
    kept: list[Person] = []
    for one in sorted(found, key=lambda p: (-round(p.score, 1), -p.area, p.box.x0, p.box.y0)):
        shares = [(_shared(one.box, other.box), one.area, other.area) for other in kept]
        if not any(
            both / (mine + theirs - both) > SAME or both > INSIDE * min(mine, theirs)
            for both, mine, theirs in shares
        ):
            kept.append(one)
    return kept


def persons(engine: Engine, pyramid: Pyramid, *, small: bool) -> list[Person]:
    """Everybody in the picture by their bodies.

    Tiles are looked at as well when ``small`` asks for it, or the whole shows nobody; what an inner
    edge of a tile cuts is left out.
    """
    middle, side = (pyramid.width / 2, pyramid.height / 2), float(pyramid.longest)
    found = _separate(_seen(engine, pyramid, middle, side, LEAST_SCORE))
    if found and not small:
        return found
    count, overlap = TILES
    tile = side / (count - (count - 1) * overlap)
    starts = [index * tile * (1 - overlap) + tile / 2 - side / 2 for index in range(count)]
    for down in starts:
        for across in starts:
            at = (middle[0] + across, middle[1] + down)
            found += [
                one
                for one in _seen(engine, pyramid, at, tile, LEAST_SMALL_SCORE)
                if not _cut(one.box, at, tile, pyramid)
            ]
    return _separate(found)


def _seen(
    engine: Engine, pyramid: Pyramid, middle: tuple[float, float], side: float, least: float
) -> list[Person]:
    """Persons in one square of the picture."""
    piece = pyramid.piece(middle, side)
    found = []
    for box, score in engine.persons(piece.pixels, least):
        (x0, y0), (x1, y1) = piece.to_master(box.reshape(2, 2))
        x0, x1 = max(0.0, float(x0)), min(float(pyramid.width), float(x1))
        y0, y1 = max(0.0, float(y0)), min(float(pyramid.height), float(y1))
        if x1 > x0 and y1 > y0:
            found.append(Person(Extent(x0, y0, x1, y1), score))
    return found


def _cut(box: Extent, middle: tuple[float, float], side: float, pyramid: Pyramid) -> bool:
    """Whether a box reaches an edge of its tile behind which the picture goes on."""
    near, half = 0.02 * side, side / 2
    left, right = middle[0] - half, middle[0] + half
    top, low = middle[1] - half, middle[1] + half
    return (
        (left > 1 and box.x0 < left + near)
        or (top > 1 and box.y0 < top + near)
        or (right < pyramid.width - 1 and box.x1 > right - near)
        or (low < pyramid.height - 1 and box.y1 > low - near)
    )


def _middle(points: Points, which: tuple[int, ...]) -> Points:
    middle: Points = points[list(which), :2].mean(axis=0)
    return middle


def head_by_pose(engine: Engine, pyramid: Pyramid, person: Person) -> BodyHead | None:
    """The head that the pose sees on a person; None when it sees no body, or the head elsewhere."""
    box = person.box
    for room in (1.5, 1.1):
        side = room * max(box.width, box.height)
        if box.height > box.width:
            middle = (box.centre.x, box.centre.y)
        else:
            middle = (box.centre.x, box.y0 + box.width / 2)
        piece = pyramid.piece(middle, side)
        body = engine.pose(piece.pixels)
        if body is None:
            continue
        head = _head(piece.to_master(body[:, :2]))
        spare = 0.25 * head.head_px
        at = head.eyes
        zone = box.y0 + HEAD_ZONE * max(box.height, box.width) + spare
        if box.x0 - spare <= at.x <= box.x1 + spare and box.y0 - spare <= at.y <= zone:
            return head
    return None


def _head(points: Points) -> BodyHead:
    """The head's measures from the pose's points on it."""
    eyes, mouth = _middle(points, _EYES), _middle(points, _MOUTH)
    rise = eyes - mouth
    face = float(np.hypot(*rise))
    ears = float(np.hypot(*(points[_EARS[0], :2] - points[_EARS[1], :2])))
    head_px = max(1.0, face / EYES_TO_MOUTH, ears / EARS_APART)
    known = face > LEAST_FACE * head_px
    up = (float(rise[0]) / face, float(rise[1]) / face) if known else (0.0, -1.0)
    one, other = points[_EYES[0], :2], points[_EYES[1], :2]
    left, right = sorted(((float(x), float(y)) for x, y in (one, other)))
    return BodyHead(Point(*left), Point(*right), head_px, up)


def holds_head(person: Person, eyes: Point, head_px: float) -> bool:
    """Whether a head with these eyes may belong to the person of the box."""
    box = person.box
    spare = 0.2 * head_px
    if not (box.x0 - spare <= eyes.x <= box.x1 + spare):
        return False
    return box.y0 - 0.6 * head_px <= eyes.y <= box.y0 + max(0.6 * box.height, 1.2 * head_px)


def faceless(people: Sequence[Person], heads: Sequence[tuple[Point, float]]) -> list[Person]:
    """The persons to whom none of the heads (eyes, height in px) belongs.

    Each head belongs to one person: of those whose box may hold it, the one with the top of the
    head nearest to the box's own top.
    """
    taken: set[int] = set()
    for eyes, head_px in sorted(heads, key=lambda head: -head[1]):
        fitting = [
            index
            for index, person in enumerate(people)
            if index not in taken and holds_head(person, eyes, head_px)
        ]
        if fitting:
            taken.add(min(fitting, key=lambda index: _misfit(people[index], eyes, head_px)))
    return [person for index, person in enumerate(people) if index not in taken]


def _misfit(person: Person, eyes: Point, head_px: float) -> float:
    """How far a head's top lies from the middle of the box's top, in heads."""
    box = person.box
    return math.hypot(
        (eyes.x - box.centre.x) / max(box.width, head_px),
        (eyes.y - 0.55 * head_px - box.y0) / head_px,
    )
