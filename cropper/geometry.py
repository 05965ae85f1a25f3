"""Points, boxes and shapes: pure arithmetic, and the coordinate convention of the whole program.

- The origin is the top-left corner of the **upright** master. x runs right, **y runs down**:
  headroom is a smaller y.
- Coordinates name pixel **edges**: pixel (0, 0) covers [0, 1) x [0, 1); its centre is (0.5, 0.5).
- Boxes are **half-open**: ``PixelBox(0, 0, 10, 5)`` is 10 px wide and its last column is 9.
- Order is (width, height), (x, y) everywhere.
- Shapes, normalised boxes and millimetres are exact ``Fraction``; floats begin at found points.
- Size first, then place: a box gets its whole-pixel size from the shape once, then slides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

MM_PER_INCH: Final = Fraction(254, 10)


def half_up(value: Fraction | float) -> int:
    """Nearest whole number, halves upward (Python's ``round`` sends 2512.5 to 2512).

    >>> half_up(Fraction(5025, 2)), half_up(Fraction(5027, 2))
    (2513, 2514)
    """
    if isinstance(value, Fraction):
        return math.floor(value + Fraction(1, 2))
    # Floats: floor(v + .5) would lift 0.49999999999999994 to 1, so the fraction is looked at.
    below = math.floor(value)
    return below + 1 if value - below >= 0.5 else below  # noqa: PLR2004 - a half is a half


@dataclass(frozen=True, slots=True)
class Point:
    """A place in the upright master, in pixels, pixel-edge convention, y down."""

    x: float
    y: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.x) and math.isfinite(self.y)):
            message = f"a point needs finite coordinates, not ({self.x}, {self.y})"
            raise ValueError(message)

    def to(self, other: Point) -> float:
        """Distance in pixels."""
        return math.hypot(other.x - self.x, other.y - self.y)

    def midway(self, other: Point) -> Point:
        """The point half way to ``other``."""
        return Point((self.x + other.x) / 2, (self.y + other.y) / 2)


@dataclass(frozen=True, slots=True)
class Extent:
    """A box with fractional edges (a head, a face), half-open; may reach past the master."""

    x0: float
    y0: float
    x1: float
    y1: float

    def __post_init__(self) -> None:
        if not (self.x1 > self.x0 and self.y1 > self.y0):
            message = f"an extent may not be empty: {self.x0}, {self.y0}, {self.x1}, {self.y1}"
            raise ValueError(message)

    @property
    def width(self) -> float:
        """Width in pixels."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Height in pixels."""
        return self.y1 - self.y0

    @property
    def centre(self) -> Point:
        """Middle of the box."""
        return Point((self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2)


@dataclass(frozen=True, slots=True)
class Size:
    """Width and height in whole pixels."""

    width: int
    height: int

    def __post_init__(self) -> None:
        if self.width < 1 or self.height < 1:
            message = f"a size needs at least one pixel each way, not {self.width} x {self.height}"
            raise ValueError(message)

    @property
    def turned(self) -> Size:
        """The same size on its side."""
        return Size(self.height, self.width)


@dataclass(frozen=True, slots=True)
class PixelBox:
    """A whole-pixel, half-open box: columns x0..x1-1 and rows y0..y1-1. Never empty."""

    x0: int
    y0: int
    x1: int
    y1: int

    def __post_init__(self) -> None:
        if not (self.x1 > self.x0 and self.y1 > self.y0):
            message = f"a box may not be empty: {self.x0}, {self.y0}, {self.x1}, {self.y1}"
            raise ValueError(message)

    @property
    def width(self) -> int:
        """Width in pixels."""
        return self.x1 - self.x0

    @property
    def height(self) -> int:
        """Height in pixels."""
        return self.y1 - self.y0

    @property
    def size(self) -> Size:
        """Width and height."""
        return Size(self.width, self.height)

    @property
    def centre(self) -> Point:
        """Middle of the box."""
        return Point((self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2)

    def inside(self, size: Size) -> bool:
        """Whether every pixel of the box lies in a picture of ``size``."""
        return self.x0 >= 0 and self.y0 >= 0 and self.x1 <= size.width and self.y1 <= size.height

    def overlap(self, other: PixelBox) -> float:
        """Intersection over union, 0..1."""
        across = min(self.x1, other.x1) - max(self.x0, other.x0)
        down = min(self.y1, other.y1) - max(self.y0, other.y0)
        if across <= 0 or down <= 0:
            return 0.0
        both = across * down
        return both / (self.width * self.height + other.width * other.height - both)


@dataclass(frozen=True, slots=True)
class NormalBox:
    """A half-open box in exact fractions of some frame: 0 is its left/top edge, 1 right/bottom."""

    x0: Fraction
    y0: Fraction
    x1: Fraction
    y1: Fraction

    def __post_init__(self) -> None:
        if not (0 <= self.x0 < self.x1 <= 1 and 0 <= self.y0 < self.y1 <= 1):
            message = f"a normal box needs 0 <= x0 < x1 <= 1 and 0 <= y0 < y1 <= 1, not {self}"
            raise ValueError(message)

    def within(self, frame: NormalBox) -> NormalBox:
        """The same box seen from one frame further out: that of which ``frame`` is a fraction."""
        wide, high = frame.x1 - frame.x0, frame.y1 - frame.y0
        return NormalBox(
            frame.x0 + self.x0 * wide,
            frame.y0 + self.y0 * high,
            frame.x0 + self.x1 * wide,
            frame.y0 + self.y1 * high,
        )

    def of(self, box: PixelBox) -> Extent:
        """Where this fraction of ``box`` lies in the master, in pixels."""
        return Extent(
            float(box.x0 + self.x0 * box.width),
            float(box.y0 + self.y0 * box.height),
            float(box.x0 + self.x1 * box.width),
            float(box.y0 + self.y1 * box.height),
        )


WHOLE: Final = NormalBox(Fraction(0), Fraction(0), Fraction(1), Fraction(1))
"""All of a frame."""


@dataclass(frozen=True, slots=True)
class Crop:
    """What is taken of the master.

    ``straighten_deg`` turns the box clockwise about its own centre (the picture inside it turns
    the other way); 0 unless somebody asked.
    """

    box: PixelBox
    straighten_deg: float = 0.0


def mm_to_px(mm: Fraction, ppi: Fraction) -> int:
    """Whole pixels for a length, rounded half up once, at the end [mm_px, half_trap].

    >>> mm_to_px(Fraction(210), Fraction(300))
    2480
    >>> mm_to_px(MM_PER_INCH * Fraction(67, 8), Fraction(300))  # 2512.5 exactly
    2513
    """
    return half_up(mm / MM_PER_INCH * ppi)


def shorter_side(longer: int, shape: Fraction) -> int:
    """The whole-pixel shorter side that belongs to ``longer`` in a frame of ``shape`` (w/h)."""
    ratio = shape if shape <= 1 else 1 / shape
    return max(1, half_up(longer * ratio))


def size_for(longer: int, shape: Fraction) -> Size:
    """The one whole-pixel size of ``shape`` (w/h) whose longer side is ``longer`` px."""
    shorter = shorter_side(longer, shape)
    return Size(longer, shorter) if shape >= 1 else Size(shorter, longer)
