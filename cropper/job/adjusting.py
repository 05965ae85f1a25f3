"""A crop drawn by hand becomes one that can be delivered: right shape, whole pixels, inside.

Size first, then place (see :mod:`cropper.geometry`). What the hand wished for may be any box with
fractional edges; what comes back is the nearest crop of an allowed shape that lies, turned as
asked, wholly in the master.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from typing import Final

from cropper.destination.destination import Destination
from cropper.geometry import Crop, Extent, PixelBox, Point, Size, half_up, size_for
from cropper.job.choices import Measurer
from cropper.job.plan import PHOTOGRAPHER, Choice, ChoiceState, PlannedMaster
from cropper.proposal.delivering import lying_as
from cropper.proposal.sizes import largest
from cropper.subject.subject import Finding

STRAIGHTEN_MOST_DEG: Final = 15.0
"""A crop is turned no further than this (house: beyond it, a tilted head is meant)."""
LEAST_SIDE_PX: Final = 64
"""No crop has a shorter side than this, if the master has as much (house: less shows nobody)."""


class Anchor(StrEnum):
    """What stays where it is while a crop is resized."""

    CENTRE = "centre"
    TOP_LEFT = "top left"
    TOP_RIGHT = "top right"
    BOTTOM_LEFT = "bottom left"
    BOTTOM_RIGHT = "bottom right"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What a hand wished for: a box, which part of it stays put, and how far it is turned."""

    box: Extent
    anchor: Anchor = Anchor.CENTRE
    straighten_deg: float = 0.0


def fitted(drawn: Drawn, destination: Destination, size: Size) -> Crop:
    """The nearest crop to ``drawn`` that ``destination`` takes from a master of ``size``."""
    turn = _within(drawn.straighten_deg, -STRAIGHTEN_MOST_DEG, STRAIGHTEN_MOST_DEG)
    lying = _lying(drawn.box, destination)
    if lying.full_frame:
        return Crop(PixelBox(0, 0, size.width, size.height))
    shape = _shape(drawn.box, lying)
    wanted = max(drawn.box.width, drawn.box.height)
    least = math.ceil(LEAST_SIDE_PX * max(shape, 1 / shape))
    longer = min(max(half_up(wanted), least), _longest(size, shape, turn))
    whole = size_for(longer, shape)
    at = _anchored(drawn, whole)
    return Crop(_inside(at, whole, size, turn), turn)


def _lying(box: Extent, destination: Destination) -> Destination:
    """The way the frame lies that is nearest to the drawn box."""
    return lying_as(destination, Size(max(1, half_up(box.width)), max(1, half_up(box.height))))


def _shape(box: Extent, destination: Destination) -> Fraction:
    """The drawn box's own shape where a range is allowed, else the nearest end of it."""
    drawn = Fraction(box.width / box.height).limit_denominator(100_000)
    return min(max(drawn, destination.shape.least), destination.shape.most)


def _longest(size: Size, shape: Fraction, turn: float) -> int:
    """The longest side of a box of ``shape``, turned by so much, that lies in the master."""
    cos, sin = math.cos(math.radians(abs(turn))), math.sin(math.radians(abs(turn)))
    wide, high = (1.0, float(1 / shape)) if shape >= 1 else (float(shape), 1.0)
    across = size.width / (wide * cos + high * sin)
    down = size.height / (wide * sin + high * cos)
    longest = max(1, math.floor(min(across, down) + 1e-9))
    # Rounding the shorter side, and whole-pixel places, may ask for a pixel or two less.
    while longest > 1 and not _fits(size_for(longest, shape), size, turn):
        longest -= 1
    return longest


def _fits(whole: Size, size: Size, turn: float) -> bool:
    """Whether there is a whole-pixel place in the master for a box, turned by so much."""
    return all(first <= last for first, last in _places(whole, size, turn))


def _places(whole: Size, size: Size, turn: float) -> tuple[tuple[int, int], tuple[int, int]]:
    """The first and last whole left edge, and top edge, that a turned box may have."""
    reach = _reach(whole, turn)
    sides = ((reach.x, whole.width, size.width), (reach.y, whole.height, size.height))
    across, down = (
        (math.ceil(half - side / 2 - 1e-9), math.floor(room - half - side / 2 + 1e-9))
        for half, side, room in sides
    )
    return across, down


def _reach(whole: Size, turn: float) -> Point:
    """Half the width and height that a turned box takes up."""
    cos, sin = math.cos(math.radians(abs(turn))), math.sin(math.radians(abs(turn)))
    return Point(
        (whole.width * cos + whole.height * sin) / 2,
        (whole.width * sin + whole.height * cos) / 2,
    )


def _anchored(drawn: Drawn, whole: Size) -> Point:
    """The top left corner that leaves the anchor where it was drawn."""
    box, anchor = drawn.box, drawn.anchor
    if anchor is Anchor.CENTRE:
        return Point(box.centre.x - whole.width / 2, box.centre.y - whole.height / 2)
    left = anchor in {Anchor.TOP_LEFT, Anchor.BOTTOM_LEFT}
    top = anchor in {Anchor.TOP_LEFT, Anchor.TOP_RIGHT}
    return Point(box.x0 if left else box.x1 - whole.width, box.y0 if top else box.y1 - whole.height)


def _inside(at: Point, whole: Size, size: Size, turn: float) -> PixelBox:
    """The whole-pixel box nearest to ``at`` whose turned corners lie in the master."""
    across, down = _places(whole, size, turn)
    x, y = int(_within(half_up(at.x), *across)), int(_within(half_up(at.y), *down))
    return PixelBox(x, y, x + whole.width, y + whole.height)


def _within(value: float, least: float, most: float) -> float:
    return min(max(value, least), most)


def biggest(destination: Destination, finding: Finding) -> PixelBox:
    """The largest crop of the destination's shape, about the eyes: where a hand may begin."""
    size, people = finding.size, finding.principals
    whole = largest(size, destination.shape)
    middle = Point(size.width / 2, size.height / 2)
    if people:
        eyes = [one.eyes for one in people]
        middle = Point(
            sum(one.x for one in eyes) / len(eyes), sum(one.y for one in eyes) / len(eyes)
        )
    at = Point(middle.x - whole.width / 2, middle.y - whole.height / 2)
    return _inside(at, whole, size, 0.0)


def by_hand(
    master: PlannedMaster,
    destination: Destination,
    drawn: Drawn,
    *,
    measure: Measurer,
    now: datetime,
) -> Choice:
    """The choice that a hand's drawing makes, with or without known eyes."""
    return taken(fitted(drawn, destination, Size(master.width, master.height)), measure, now)


def taken(crop: Crop, measure: Measurer, now: datetime) -> Choice:
    """The photographer's choice of a crop that can be delivered."""
    hand = replace(measure(crop), proposed_by=PHOTOGRAPHER)
    return Choice(hand=hand, chosen_by=PHOTOGRAPHER, at=now, state=ChoiceState.ADJUSTED)
