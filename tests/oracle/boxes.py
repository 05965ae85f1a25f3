"""Crop boxes as arrays, the sizes a destination allows, and the frames that are seen.

Written from docs/composition.md alone; nothing of ``cropper.proposal`` is imported anywhere in
this folder's checker, so that agreement with the planner means something.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from cropper.destination.destination import Destination, Frame
from cropper.geometry import Extent, NormalBox, Size

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Whole = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Boxes:
    """Many crops at once: left edge, top edge, width and height, each an array of whole px."""

    x0: Whole
    y0: Whole
    w: Whole
    h: Whole

    def where(self, chosen: Flags) -> Boxes:
        """Only the boxes for which ``chosen`` is true."""
        return Boxes(self.x0[chosen], self.y0[chosen], self.w[chosen], self.h[chosen])

    def __len__(self) -> int:
        return len(self.x0)

    def tuples(self) -> list[tuple[int, int, int, int]]:
        """Each box as (x0, y0, w, h)."""
        return [
            (int(x), int(y), int(w), int(h))
            for x, y, w, h in zip(self.x0, self.y0, self.w, self.h, strict=True)
        ]


def one_box(x0: int, y0: int, w: int, h: int) -> Boxes:
    """A single crop in the arrays' dress."""
    return Boxes(*(np.array([value], dtype=np.int64) for value in (x0, y0, w, h)))


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


@dataclass(frozen=True, slots=True)
class Disc:
    """A seen circle in master pixels, one per box."""

    x: Floats
    y: Floats
    radius: Floats

    @property
    def square(self) -> Rect:
        """The circle's bounding square."""
        return Rect(
            self.x - self.radius, self.y - self.radius, self.x + self.radius, self.y + self.radius
        )


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


def nested(inner: NormalBox, outer: NormalBox) -> NormalBox:
    """``inner``, a fraction of ``outer``, as a fraction of what ``outer`` is a fraction of."""
    wide, high = outer.x1 - outer.x0, outer.y1 - outer.y0
    return NormalBox(
        outer.x0 + wide * inner.x0,
        outer.y0 + high * inner.y0,
        outer.x0 + wide * inner.x1,
        outer.y0 + high * inner.y1,
    )


def primary(destination: Destination, boxes: Boxes) -> Rect | Disc:
    """The primary seen frame: the trim, or the circle inscribed in it."""
    trim = part(boxes, destination.trim)
    if destination.frame is Frame.RECTANGLE:
        return trim
    return Disc(
        (trim.left + trim.right) / 2,
        (trim.top + trim.bottom) / 2,
        np.minimum(trim.wide, trim.high) / 2,
    )


def rectangle(frame: Rect | Disc) -> Rect:
    """The frame's own rectangle, or a circle's bounding square."""
    return frame.square if isinstance(frame, Disc) else frame


def seen(destination: Destination, boxes: Boxes) -> list[Rect | Disc]:
    """The primary frame, then every live area."""
    areas = [part(boxes, nested(area.box, destination.trim)) for area in destination.live_areas]
    return [primary(destination, boxes), *areas]


def whole_or_absent(frame: Rect | Disc, head: Extent) -> Flags:
    """Whether the frame's outline leaves ``head`` uncut; touching is fine."""
    if isinstance(frame, Disc):
        far_x = np.maximum(np.abs(head.x0 - frame.x), np.abs(head.x1 - frame.x))
        far_y = np.maximum(np.abs(head.y0 - frame.y), np.abs(head.y1 - frame.y))
        near_x = np.maximum(np.maximum(head.x0 - frame.x, frame.x - head.x1), 0.0)
        near_y = np.maximum(np.maximum(head.y0 - frame.y, frame.y - head.y1), 0.0)
        whole: Flags = np.hypot(far_x, far_y) <= frame.radius
        whole |= np.hypot(near_x, near_y) >= frame.radius
        return whole
    held: Flags = (head.x0 >= frame.left) & (head.x1 <= frame.right)
    held &= (head.y0 >= frame.top) & (head.y1 <= frame.bottom)
    held |= (head.x1 <= frame.left) | (head.x0 >= frame.right)
    held |= (head.y1 <= frame.top) | (head.y0 >= frame.bottom)
    return held


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
    wide = least >= 1
    oriented = [(a, b) if wide else (b, a) for a, b in pairs]
    return [(w, h) for w, h in oriented if w <= master.width and h <= master.height]


@lru_cache(maxsize=256)
def greatest_area(destination: Destination, master: Size) -> int:
    """The greatest w h of this orientation's allowed sizes in ``master``."""
    least, most = destination.shape.least, destination.shape.most
    if destination.full_frame or least == most:
        return max(w * h for w, h in sizes(destination, master))
    best = 0
    for h in range(1, master.height + 1):
        w = min(master.width, math.floor(most * h))
        if w >= 1 and w >= least * h:
            best = max(best, w * h)
    return best
