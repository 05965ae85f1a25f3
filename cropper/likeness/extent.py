"""Where in a found file the picture stands: all of it, or within a border or an interface.

Pixel by pixel the file is compared with the known picture laid on it, through the tone curve that
the agreeing parts have. The picture is the rectangle that holds most matching and fewest foreign
pixels. An edge inside the file counts only when it is a real one: matching on its inside along
its whole length, foreign right outside. Otherwise the picture just *ceases to agree* there, as two
frames of one sitting do, and no rectangle is cut out of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.geometry import Extent
from cropper.likeness.agreement import SAME, TILE_PX, Tiles
from cropper.likeness.features import Floats
from cropper.likeness.overlay import Overlay

Mask = npt.NDArray[np.bool_]

LEAST_TOLERANCE: Final = 10.0
"""8-bit codes by which a matching pixel may miss the tone curve (house)."""
TOLERANCE_SIGMAS: Final = 4.0
"""Or so many deviations of the agreeing tiles, if that is more (house)."""
CELLS: Final = 48
"""The rectangle is looked for on a grid of at most this many cells a side, then to the pixel."""
AT_EDGE: Final = 0.02
"""An edge this near the file's own, as a share of its side, is the file's own (house)."""
INSIDE_MATCHES: Final = 0.8
OUTSIDE_MATCHES: Final = 0.5
"""Shares of matching pixels just inside and just outside a real edge (house)."""
STRIP: Final = 0.025
"""Depth of those strips, as a share of the rectangle's side; at least 2 px (house)."""
TONE_STEPS: Final = 16
"""The tone curve is told at this many levels of the known picture."""
FEW: Final = 24
"""A level with fewer pixels than this tells nothing."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Half-open whole pixels."""

    start: int
    stop: int


def standing(overlay: Overlay, tiles: Tiles) -> Extent | None:
    """The picture's part of the grid, in its pixels; None when it just ceases to agree."""
    matching = _matching(overlay, tiles)
    wide, high = overlay.size
    across, down = _coarse(matching)
    for _ in range(2):
        across = _snapped(_longest(matching[down.start : down.stop].mean(axis=0)), wide)
        down = _snapped(_longest(matching[:, across.start : across.stop].mean(axis=1)), high)
    sides = (
        (matching[down.start : down.stop].mean(axis=0), across),
        (matching[:, across.start : across.stop].mean(axis=1), down),
    )
    if not all(_real(profile, interval) for profile, interval in sides):
        return None
    return Extent(across.start, down.start, across.stop, down.stop)


def _matching(overlay: Overlay, tiles: Tiles) -> Mask:
    """Where the found pixels are the known ones seen through one tone curve."""
    same = tiles.telling & (tiles.correlation >= SAME)
    agreeing = np.zeros(overlay.found.shape, bool)
    block = np.repeat(np.repeat(same, TILE_PX, axis=0), TILE_PX, axis=1)
    agreeing[: block.shape[0], : block.shape[1]] = block
    curve = _tone(overlay.known[agreeing], overlay.found[agreeing])
    miss = np.abs(overlay.found - curve(overlay.known))
    usual = 1.4826 * float(np.median(miss[agreeing])) if agreeing.any() else 0.0
    tolerance = max(LEAST_TOLERANCE, TOLERANCE_SIGMAS * usual)
    return np.asarray((miss <= tolerance) & overlay.covered, bool)


class _Curve:
    """A curve through medians, carried on with the slope of the whole."""

    def __init__(self, levels: Floats, answers: Floats) -> None:
        self._levels, self._answers = levels, answers
        many = len(levels) > 1
        self._slope = float(np.polyfit(levels, answers, 1)[0]) if many else 1.0

    def __call__(self, known: Floats) -> Floats:
        inside = np.interp(known, self._levels, self._answers)
        below = np.minimum(known - self._levels[0], 0) * self._slope
        above = np.maximum(known - self._levels[-1], 0) * self._slope
        return np.asarray(inside + below + above, np.float32)


def _tone(known: Floats, found: Floats) -> _Curve:
    step = 256 // TONE_STEPS
    which = (known // step).astype(int)
    told = [n for n in range(TONE_STEPS) if (which == n).sum() >= FEW]
    if not told:
        return _Curve(np.zeros(1, np.float32), np.zeros(1, np.float32))
    levels = [float(np.median(known[which == n])) for n in told]
    answers = [float(np.median(found[which == n])) for n in told]
    return _Curve(np.array(levels, np.float32), np.array(answers, np.float32))


def _coarse(matching: Mask) -> tuple[Interval, Interval]:
    """The rectangle of cells with the greatest sum of (share matching - half)."""
    high, wide = matching.shape
    rows, columns = min(CELLS, high), min(CELLS, wide)
    down = np.linspace(0, high, rows + 1).astype(int)
    right = np.linspace(0, wide, columns + 1).astype(int)
    summed = np.zeros((high + 1, wide + 1))
    summed[1:, 1:] = np.cumsum(np.cumsum(matching - 0.5, axis=0), axis=1)
    at = summed[np.ix_(down, right)]
    first, last = np.triu_indices(rows + 1, 1)
    bands = at[last] - at[first]
    # For every band of rows, the best interval of columns: greatest rise of its running sum.
    lowest = np.minimum.accumulate(bands, axis=1)
    rise = bands[:, 1:] - lowest[:, :-1]
    band, stop = np.unravel_index(int(rise.argmax()), rise.shape)
    start = int(bands[band, : stop + 1].argmin())
    across = Interval(int(right[start]), int(right[stop + 1]))
    return across, Interval(int(down[first[band]]), int(down[last[band]]))


def _longest(profile: npt.NDArray[Any]) -> Interval:
    """The interval with the greatest sum of (share - half)."""
    running = np.concatenate([[0.0], np.cumsum(profile - 0.5)])
    rise = running[1:] - np.minimum.accumulate(running)[:-1]
    stop = int(rise.argmax())
    return Interval(int(running[: stop + 1].argmin()), stop + 1)


def _snapped(interval: Interval, side: int) -> Interval:
    near = AT_EDGE * side
    start = 0 if interval.start <= near else interval.start
    stop = side if side - interval.stop <= near else interval.stop
    return Interval(start, stop)


def _real(profile: npt.NDArray[Any], interval: Interval) -> bool:
    """Whether both ends are the file's own edges, or edges of a picture."""
    deep = max(2, round(STRIP * (interval.stop - interval.start)))
    ends = (
        (
            interval.start > 0,
            profile[interval.start : interval.start + deep],
            profile[max(0, interval.start - deep) : interval.start],
        ),
        (
            interval.stop < len(profile),
            profile[interval.stop - deep : interval.stop],
            profile[interval.stop : interval.stop + deep],
        ),
    )
    return all(
        not within or (inside.mean() >= INSIDE_MATCHES and outside.mean() <= OUTSIDE_MATCHES)
        for within, inside, outside in ends
    )
