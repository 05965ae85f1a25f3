"""Crop boxes as arrays, the sizes a destination allows, and the frames that are seen.

Written from docs/composition.md alone; nothing of ``cropper.proposal`` is imported anywhere in
this folder's checker, so that agreement with the planner means something.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from cropper.destination.destination import CoveredZone, Destination, Frame
from cropper.geometry import WHOLE, Extent, NormalBox, Size

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Boxes:
    """Many crops at once: left edge, top edge, width and height in px.

    The four arrays need not have one shape, but must broadcast: a column of tops beside a row of
    lefts is a whole table of boxes, and what depends on the tops alone stays a column.
    """

    x0: Whole
    y0: Whole
    w: Whole
    h: Whole


@dataclass(frozen=True, slots=True)
class Rect:
    """A seen rectangle in master pixels, one per box."""

    left: Floats
    top: Floats
    right: Floats
    bottom: Floats

    @property
    def wide(self) -> Floats:
        return self.right - self.left

    @property
    def high(self) -> Floats:
        return self.bottom - self.top


def edge(start: Whole, length: Whole, share: Fraction) -> Floats:
    """``start + share x length``: the product is whole before the one division, hence exact."""
    return start + (length * share.numerator) / share.denominator


def part(boxes: Boxes, box: NormalBox) -> Rect:
    """The part of each crop that ``box``, in fractions of the crop, names."""
    return Rect(
        edge(boxes.x0, boxes.w, box.x0),
        edge(boxes.y0, boxes.h, box.y0),
        edge(boxes.x0, boxes.w, box.x1),
        edge(boxes.y0, boxes.h, box.y1),
    )


def of_trim(destination: Destination, boxes: Boxes, box: NormalBox) -> Rect:
    """The part of each crop that ``box``, in fractions of the trim, names."""
    trim = destination.trim
    wide, high = trim.x1 - trim.x0, trim.y1 - trim.y0
    nested = NormalBox(
        trim.x0 + wide * box.x0,
        trim.y0 + high * box.y0,
        trim.x0 + wide * box.x1,
        trim.y0 + high * box.y1,
    )
    return part(boxes, nested)


def primary(destination: Destination, boxes: Boxes) -> Rect:
    """The primary seen frame: the trim, or the bounding square of the circle inscribed in it."""
    trim = part(boxes, destination.trim)
    if destination.frame is Frame.RECTANGLE:
        return trim
    half = np.minimum(trim.wide, trim.high) / 2
    x, y = (trim.left + trim.right) / 2, (trim.top + trim.bottom) / 2
    return Rect(x - half, y - half, x + half, y + half)


def live_areas(destination: Destination, boxes: Boxes) -> list[Rect]:
    """Every live area that is not the whole trim."""
    return [
        of_trim(destination, boxes, area.box)
        for area in destination.live_areas
        if area.box != WHOLE
    ]


def seen(destination: Destination, boxes: Boxes) -> list[Rect]:
    """The primary frame, then every live area."""
    return [primary(destination, boxes), *live_areas(destination, boxes)]


def shared(start: Floats, end: Floats, a: float, b: float) -> Floats:
    """How far start..end and a..b overlap; negative: how far they lie apart."""
    overlap: Floats = np.minimum(end, b) - np.maximum(start, a)
    return overlap


def share_under(cover: Rect, box: Extent) -> Floats:
    """The share of ``box`` that lies inside ``cover``."""
    across = np.maximum(shared(cover.left, cover.right, box.x0, box.x1), 0.0)
    down = np.maximum(shared(cover.top, cover.bottom, box.y0, box.y1), 0.0)
    share: Floats = across * down / (box.width * box.height)
    return share


def covering(destination: Destination, boxes: Boxes, zone: CoveredZone, box: Extent) -> Rect:
    """The zone, made to reach past ``box`` on both sides if it is as wide as the crop."""
    cover = of_trim(destination, boxes, zone.box)
    trim = destination.trim
    if zone.box.x0 == trim.x0 == 0 and zone.box.x1 == trim.x1 == 1:
        return Rect(np.full(1, box.x0), cover.top, np.full(1, box.x1), cover.bottom)
    return cover


def sizes(destination: Destination, master: Size) -> list[tuple[int, int]]:
    """Every allowed (w, h) of this orientation that fits in ``master``."""
    if destination.full_frame:
        return [(master.width, master.height)]
    least, most = destination.shape.least, destination.shape.most
    if least != most:
        return [
            (w, h)
            for h in range(1, master.height + 1)
            for w in range(math.ceil(least * h), min(master.width, math.floor(most * h)) + 1)
            if w >= 1
        ]
    ratio = min(least, 1 / least)
    pairs = [
        (longer, max(1, math.floor(longer * ratio + Fraction(1, 2))))
        for longer in range(1, max(master.width, master.height) + 1)
    ]
    oriented = [(a, b) if least >= 1 else (b, a) for a, b in pairs]
    return [(w, h) for w, h in oriented if w <= master.width and h <= master.height]


def one_box(x0: int, y0: int, w: int, h: int) -> Boxes:
    """A single crop in the arrays' dress."""
    return Boxes(*(np.array([value], dtype=np.int64) for value in (x0, y0, w, h)))
