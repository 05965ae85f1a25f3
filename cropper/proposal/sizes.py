"""The whole-pixel sizes a crop may have, from its shape and the master. Size first, then place."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cropper.destination.destination import ShapeRange
from cropper.geometry import Size, half_up

Whole = NDArray[np.int64]

Many = NDArray[np.float64]

STRETCH: Final = 7
"""Shapes tried per longer side of a range."""


def heights_of(width: int, shape: ShapeRange, most: int) -> tuple[int, int]:
    """Least and greatest whole height that ``width`` may have in a range; empty if least > most."""
    least = max(1, math.ceil(Fraction(width) / shape.most))
    return least, min(most, math.floor(Fraction(width) / shape.least))


def exact_size(longer: int, shape: Fraction) -> Size:
    """The size of ``shape`` (w/h) with this longer side; the shorter is rounded half up."""
    if shape >= 1:
        return Size(longer, max(1, half_up(longer / shape)))
    return Size(max(1, half_up(longer * shape)), longer)


@lru_cache(maxsize=256)
def longest_side(master: Size, shape: Fraction) -> int:
    """The greatest longer side of an exact shape that fits; 0 when not even one pixel does."""
    ratio = shape if shape >= 1 else 1 / shape
    along, other = (master.width, master.height) if shape >= 1 else (master.height, master.width)
    # half_up(longer / ratio) <= other  <=>  longer / ratio < other + 1/2
    bound = math.ceil((other + Fraction(1, 2)) * ratio) - 1
    return max(0, min(along, bound))


@lru_cache(maxsize=256)
def largest(master: Size, shape: ShapeRange) -> Size:
    """The allowed size of the greatest area (ties: the wider)."""
    if shape.exact:
        return exact_size(max(1, longest_side(master, shape.least)), shape.least)
    best = (0, 1, 1)
    for width in _ladder_ends(master, shape):
        least, most = heights_of(width, shape, master.height)
        if least <= most:
            best = max(best, (width * most, width, most))
    return Size(best[1], best[2])


def all_sizes(master: Size, shape: ShapeRange, least: float, count: int) -> tuple[Many, Many]:
    """Widths and heights of shape (n, 1), evenly spaced in proportion up to the largest.

    ``least`` is the shortest longer side looked at, px; a range of shapes gives ``STRETCH`` of
    them per longer side.
    """
    biggest = largest(master, shape)
    longest = max(biggest.width, biggest.height)
    first = min(max(1, math.ceil(least)), longest)
    sides = _ladder(first, longest, count)
    if shape.exact:
        return _columns(*exact_sizes(sides, shape.least))
    ratios = np.geomspace(float(shape.least), float(shape.most), STRETCH)
    wide = np.rint(sides[:, None] * np.minimum(1.0, ratios)).astype(np.int64).ravel()
    high = np.rint(sides[:, None] * np.minimum(1.0, 1 / ratios)).astype(np.int64).ravel()
    return _in_range(master, shape, wide, high)


def every_size(master: Size, shape: ShapeRange, least: float) -> tuple[Many, Many]:
    """Every allowed size of a small master, with a longer side from ``least`` px; shape (n, 1)."""
    if shape.exact:
        return all_sizes(master, shape, least, max(master.width, master.height))
    wide, high = np.meshgrid(np.arange(1, master.width + 1), np.arange(1, master.height + 1))
    long = np.maximum(wide, high) >= least
    return _in_range(master, shape, wide[long], high[long])


def sizes_near(
    master: Size, shape: ShapeRange, size: Size, step: float, count: int
) -> tuple[Many, Many]:
    """Sizes of the shape round one, ``step`` px of the longer side apart; shape (n, 1)."""
    steps = np.rint((np.arange(count) - count // 2) * step).astype(np.int64)
    longer = np.unique(np.maximum(1, max(size.width, size.height) + steps))
    if shape.exact:
        longest = longest_side(master, shape.least)
        return _columns(*exact_sizes(np.unique(np.minimum(longer, longest)), shape.least))
    wide, high = np.meshgrid(size.width + steps, size.height + steps)
    return _in_range(master, shape, wide.ravel(), high.ravel())


def _columns(w: Whole, h: Whole) -> tuple[Many, Many]:
    return w.astype(np.float64)[:, None], h.astype(np.float64)[:, None]


def _in_range(master: Size, shape: ShapeRange, w: Whole, h: Whole) -> tuple[Many, Many]:
    """Those sizes that the shape and the master allow, and the largest; integers throughout."""
    biggest = largest(master, shape)
    w, h = np.append(w, biggest.width), np.append(h, biggest.height)
    (under, least), (over, most) = shape.least.as_integer_ratio(), shape.most.as_integer_ratio()
    fits = (w >= 1) & (h >= 1) & (w <= master.width) & (h <= master.height)
    fits &= (under * h <= least * w) & (most * w <= over * h)
    fits[-1] = True
    pairs = np.unique(np.stack([w[fits], h[fits]]), axis=1)
    return _columns(pairs[0], pairs[1])


def exact_sizes(sides: Whole, shape: Fraction) -> tuple[Whole, Whole]:
    """Widths and heights for many longer sides of an exact shape; integers throughout."""
    ratio = shape if shape <= 1 else 1 / shape
    over, under = ratio.numerator, ratio.denominator
    shorter = np.maximum(1, (2 * sides * over + under) // (2 * under))
    return (sides, shorter) if shape >= 1 else (shorter, sides)


def _ladder(least: int, most: int, count: int) -> Whole:
    """Up to ``count`` whole numbers evenly spaced in proportion, both ends included."""
    if least > most:
        return np.zeros(0, dtype=np.int64)
    if most - least < count:
        return np.arange(least, most + 1, dtype=np.int64)
    steps = np.arange(count) / (count - 1)
    rungs = np.rint(least * (most / least) ** steps).astype(np.int64)
    return np.asarray(rungs[np.concatenate([[True], rungs[1:] != rungs[:-1]])])


def _ladder_ends(master: Size, shape: ShapeRange) -> list[int]:
    """Widths among which the greatest area of a range lies."""
    ends = {
        master.width,
        math.floor(shape.most * master.height),
        math.floor(shape.least * master.height),
    }
    return [width for width in ends if 1 <= width <= master.width]
