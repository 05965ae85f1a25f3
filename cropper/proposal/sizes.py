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
    return _range_sizes(master, shape, sides, stretch, near)


def exact_sizes(sides: Whole, shape: Fraction) -> tuple[Whole, Whole]:
    """Widths and heights for many longer sides of an exact shape; integers throughout."""
    ratio = shape if shape <= 1 else 1 / shape
    over, under = ratio.numerator, ratio.denominator
    shorter = np.maximum(1, (2 * sides * over + under) // (2 * under))
    return (sides, shorter) if shape >= 1 else (shorter, sides)


def _range_sizes(
    master: Size,
    shape: ShapeRange,
    sides: Whole,
    stretch: int,
    near: tuple[Size, int] | None,
) -> tuple[Whole, Whole]:
    wide, high = sides[sides <= master.width], sides[sides <= master.height]
    (under, least), (over, most) = shape.least.as_integer_ratio(), shape.most.as_integer_ratio()
    # as wide as `wide`, and of a height not above it: w/most <= h <= w/least
    from_h = np.maximum(1, -(-wide * most // over))
    to_h = np.minimum(np.minimum(wide, master.height), wide * least // under)
    # as high as `high`, and narrower: the same range, least * h <= w <= most * h
    from_w = np.maximum(1, -(-high * under // least))
    to_w = np.minimum(np.minimum(high - 1, master.width), high * over // most)
    if near:
        size, gap = near
        from_h, to_h = np.maximum(from_h, size.height - gap), np.minimum(to_h, size.height + gap)
        from_w, to_w = np.maximum(from_w, size.width - gap), np.minimum(to_w, size.width + gap)
    lying_w, lying_h = _ladders(wide, from_h, to_h, stretch)
    upright_h, upright_w = _ladders(high, from_w, to_w, stretch)
    return np.concatenate([lying_w, upright_w]), np.concatenate([lying_h, upright_h])


def _ladders(sides: Whole, least: Whole, most: Whole, count: int) -> tuple[Whole, Whole]:
    """Every side with up to ``count`` others from its own ``least`` to its own ``most``."""
    some = least <= most
    sides, least, most = sides[some], least[some, None], most[some, None]
    steps = np.arange(count)
    spread = np.rint(least * (most / least) ** (steps / max(1, count - 1))).astype(np.int64)
    others = np.where(most - least < count, np.minimum(least + steps, most), spread)
    new = np.ones(others.shape, dtype=bool)
    new[:, 1:] = others[:, 1:] != others[:, :-1]
    at, _ = np.nonzero(new)
    return sides[at], others[new]


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
