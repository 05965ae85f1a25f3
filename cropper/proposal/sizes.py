"""The whole-pixel sizes a crop may have, from its shape and the master. Size first, then place."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cropper.destination.destination import ShapeRange
from cropper.geometry import Size, half_up

Whole = NDArray[np.int64]

ALL_SIDES_UP_TO: Final = 128
"""Sides (and positions) are all tried up to this many; beyond, a ladder is, and then its gap."""


def heights_of(width: int, shape: ShapeRange, most: int) -> tuple[int, int]:
    """Least and greatest whole height that ``width`` may have in a range; empty if least > most."""
    least = max(1, math.ceil(Fraction(width) / shape.most))
    return least, min(most, math.floor(Fraction(width) / shape.least))


def exact_size(longer: int, shape: Fraction) -> Size:
    """The size of ``shape`` (w/h) with this longer side; the shorter is rounded half up."""
    if shape >= 1:
        return Size(longer, max(1, half_up(longer / shape)))
    return Size(max(1, half_up(longer * shape)), longer)


def longest_side(master: Size, shape: Fraction) -> int:
    """The greatest longer side of an exact shape that fits; 0 when not even one pixel does."""
    ratio = shape if shape >= 1 else 1 / shape
    along, other = (master.width, master.height) if shape >= 1 else (master.height, master.width)
    # half_up(longer / ratio) <= other  <=>  longer / ratio < other + 1/2
    bound = math.ceil((other + Fraction(1, 2)) * ratio) - 1
    return max(0, min(along, bound))


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


def allowed(
    master: Size,
    shape: ShapeRange,
    *,
    between: tuple[int, int],
    most: int,
    stretch: int,
    near: tuple[Size, int] | None = None,
) -> tuple[Whole, Whole]:
    """Widths and heights to try, with the longer side in ``between`` (inclusive), at most ``most``.

    A range gives ``stretch`` shorter sides per longer one; ``near`` keeps them within so many px
    of one size's. All sizes when they are few; else a ladder evenly spaced in proportion, both
    ends included.
    """
    if shape.exact:
        longest = min(between[1], longest_side(master, shape.least))
        return exact_sizes(_ladder(between[0], longest, most), shape.least)
    sides = _ladder(between[0], min(between[1], max(master.width, master.height)), most)
    pairs = _range_sizes(master, shape, sides, stretch, near)
    table = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    return table[:, 0], table[:, 1]


def exact_sizes(longer: list[int], shape: Fraction) -> tuple[Whole, Whole]:
    """Widths and heights for many longer sides of an exact shape; integers throughout."""
    sides = np.array(longer, dtype=np.int64)
    ratio = shape if shape <= 1 else 1 / shape
    over, under = ratio.numerator, ratio.denominator
    shorter = np.maximum(1, (2 * sides * over + under) // (2 * under))
    return (sides, shorter) if shape >= 1 else (shorter, sides)


def _range_sizes(
    master: Size,
    shape: ShapeRange,
    sides: list[int],
    stretch: int,
    near: tuple[Size, int] | None,
) -> list[tuple[int, int]]:
    pairs: list[tuple[int, int]] = []
    for side in sides:
        if side <= master.width:
            least, top = heights_of(side, shape, min(side, master.height))
            if near:
                least, top = (
                    max(least, near[0].height - near[1]),
                    min(top, near[0].height + near[1]),
                )
            pairs += [(side, high) for high in _ladder(least, top, stretch)]
        if side <= master.height:
            # the same range, seen from the height: w between least * h and most * h
            least = max(1, math.ceil(shape.least * side))
            top = min(side - 1, master.width, math.floor(shape.most * side))
            if near:
                least, top = max(least, near[0].width - near[1]), min(top, near[0].width + near[1])
            pairs += [(across, side) for across in _ladder(least, top, stretch)]
    return pairs


def _ladder(least: int, most: int, count: int) -> list[int]:
    if least > most:
        return []
    if most - least < count:
        return list(range(least, most + 1))
    rungs = np.geomspace(least, most, count)
    return sorted({round(float(rung)) for rung in rungs} | {least, most})


def _ladder_ends(master: Size, shape: ShapeRange) -> list[int]:
    """Widths among which the greatest area of a range lies."""
    ends = {
        master.width,
        math.floor(shape.most * master.height),
        math.floor(shape.least * master.height),
    }
    return [width for width in ends if 1 <= width <= master.width]
