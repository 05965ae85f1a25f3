"""The master in linear light at full, half, quarter ... size, shared by all deliverables.

Each level is cut into bands of rows that overlap by what the kernel looks at, so that every band
can be lit, handed to the resizer once, and used by all deliverables. Only so many bytes of
bands are kept; the others are made again for each deliverable. Halving is Lanczos-3 as
well, and a reduction of at least 2 is left for the last step: the 2 x 2 box was tried and let
hair-fine lines alias (decision 0004).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.deliverable.light import Light
from cropper.geometry import Extent, Size
from cropper.master.resampling import Source, resized

LEAST_LEFT: Final = 2.0
"""Reduction left for the last step after halving (see decision 0004)."""
LOBES: Final = 3
"""Lanczos-3 looks three destination pixels to each side."""
BAND_ROWS: Final = 256
"""Rows of a band; while it is handed over it stands in memory three times (512: 60 MB more at
50 MP; 128: CPU + 5 to 15 %; one run each)."""
AROUND: Final = 2 * LOBES * int(LEAST_LEFT) + 4
"""Rows a band has beyond its own: the kernel's reach at the largest reduction left, below 4."""
MOST_KEPT_BYTES: Final = 156_000_000
"""Bands kept, of all levels: a 24 MP master's at full size (house: CPU against memory; the planes
of least codes take 22 MB beside them)."""

BELOW: Final = 1
"""Codes of 8 bit by which a pixel may be darker than any near it (house: by so much Lanczos and a
plain average differ in the grain anyhow)."""

Lit = npt.NDArray[np.uint16]
Codes = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class Part:
    """A box in the pixels of one level."""

    level: int
    box: Extent


@dataclass(frozen=True, slots=True)
class Run:
    """Delivered rows first..last-1, all of which one band can serve."""

    band: int
    first: int
    last: int


class Levels:
    """The master's pixels, and its halved levels, made when first asked for. Safe for threads."""

    def __init__(self, pixels: Codes, light: Light) -> None:
        self._light: Final = light
        self._levels: Final[list[Codes]] = [pixels]
        self._below: Final = _lowered(light)
        self._least: Final[list[Codes]] = [pixels]
        self._bands: Final[dict[tuple[int, int], Source]] = {}
        self.kept_bytes = 0
        self._lock: Final = threading.RLock()

    def part(self, box: Extent, size: Size) -> Part:
        """From which level ``box`` (full-size px) is best brought to ``size``."""
        reduction = min(box.width / size.width, box.height / size.height)
        level = 0
        while reduction / 2 >= LEAST_LEFT:
            reduction, level = reduction / 2, level + 1
        scale = 0.5**level
        return Part(level, Extent(box.x0 * scale, box.y0 * scale, box.x1 * scale, box.y1 * scale))

    def strips(self, part: Part, size: Size, rows: int) -> Iterator[Lit]:
        """``part`` brought to ``size``, at most ``rows`` delivered rows at a time."""
        band, held = -1, None
        for run in runs(part.box, size, rows):
            if held is None or run.band != band:
                band, held = run.band, self._band(part.level, run.band)
            yield self._floored(_strip(part, size, run, *held), part, size, run)

    def _floored(self, lit: Lit, part: Part, size: Size, run: Run) -> Lit:
        """``lit`` nowhere darker than the darkest pixel that was near, by more than BELOW codes.

        Beside a hard edge Lanczos goes below the dark side: by little light, but in codes by up to
        a quarter of the step, where the eye sees it. No average is darker than its darkest pixel,
        so such a floor costs no detail: a lash keeps its own darkness.
        """
        import cv2  # noqa: PLC0415

        # At half the level's size: a quarter of the work, and its floor lies near enough.
        box, tall = part.box, part.box.height / size.height / 2
        darkest = self._darkest(part.level + 1)
        rows, columns = darkest.shape[:2]
        left, top = int(box.x0 / 2 + tall / 2), int(box.y0 / 2 + (run.first + 0.5) * tall)
        left, top = min(left, columns - 1), min(top, rows - 1)
        right = min(left + max(round(box.width / 2), 1), columns)
        bottom = min(top + max(round((run.last - run.first) * tall), 1), rows)
        # Half a delivered pixel, and what whole pixels and the nearest one may miss it by.
        reach = int(np.ceil(tall / 2)) + 2
        y0, x0 = max(top - reach, 0), max(left - reach, 0)
        near = darkest[y0 : bottom + reach, x0 : right + reach]
        least: Any = cv2.erode(near, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
        least = least.reshape(near.shape)[top - y0 : bottom - y0, left - x0 : right - x0]
        small: Any = cv2.resize(
            least, (size.width, run.last - run.first), interpolation=cv2.INTER_NEAREST
        )
        floor = _three(small.reshape(*lit.shape[:2], near.shape[2]))
        return np.asarray(cv2.max(lit, self._below.lit(floor)))

    def _darkest(self, level: int) -> Codes:
        """Codes of the master at a level's size, each the least of those it stands for."""
        import cv2  # noqa: PLC0415

        with self._lock:
            while len(self._least) <= level:
                above = self._least[-1]
                rows, columns = above.shape[:2]
                half = np.empty(((rows + 1) // 2, (columns + 1) // 2, above.shape[2]), above.dtype)
                for top in range(0, rows, BAND_ROWS):  # its copies stay small
                    band = above[top : top + BAND_ROWS + 1]
                    pooled: Any = cv2.erode(band, np.ones((2, 2), np.uint8), anchor=(0, 0))
                    kept = pooled.reshape(band.shape)[: min(BAND_ROWS, rows - top) : 2, ::2]
                    half[top // 2 : top // 2 + len(kept)] = kept
                self._least.append(half)
            return self._least[level]

    def _band(self, level: int, band: int) -> tuple[Source, int]:
        """The band ready for resizing, and its first row in the level."""
        top = max(band * BAND_ROWS - AROUND, 0)
        with self._lock:  # one at a time: two threads making one band would waste both
            kept = self._bands.get((level, band))
            if kept is not None:
                return kept, top
            pixels = self._level(level)
            made = Source(self._lit(pixels[top : (band + 1) * BAND_ROWS + AROUND]))
            if self.kept_bytes + made.bytes <= MOST_KEPT_BYTES:
                self._bands[(level, band)] = made
                self.kept_bytes += made.bytes
        return made, top

    def slab(self, level: int, box: Extent, margin: int) -> tuple[Lit, int, int]:
        """Lit pixels of a level covering ``box`` and ``margin`` around it, and its corner x, y."""
        pixels = self._level(level)
        rows, columns = pixels.shape[:2]
        x0, y0 = max(int(box.x0) - margin, 0), max(int(box.y0) - margin, 0)
        x1 = min(int(np.ceil(box.x1)) + margin, columns)
        y1 = min(int(np.ceil(box.y1)) + margin, rows)
        return self._lit(pixels[y0:y1, x0:x1]), x0, y0

    def _lit(self, cut: Codes) -> Lit:
        """Three channels of linear light; halved levels are that already."""
        if cut.base is not None and any(cut.base is level for level in self._levels[1:]):
            return cut
        return self._light.lit(_three(cut))

    def _level(self, level: int) -> Codes:
        """Level 0 is the master's codes, level 1 half its size in linear light."""
        with self._lock:
            while len(self._levels) <= level:
                self._levels.append(self._next(len(self._levels) - 1))
            return self._levels[level]

    def _next(self, above: int) -> Lit:
        """Level ``above`` at half its size, band by band."""
        rows, columns = self._levels[above].shape[:2]
        half = np.empty(((rows + 1) // 2, (columns + 1) // 2, 3), np.uint16)
        for band in range(-(-rows // BAND_ROWS)):
            first, last = band * BAND_ROWS // 2, min((band + 1) * BAND_ROWS // 2, len(half))
            wanted = Size(half.shape[1], last - first)
            source, top = self._band(above, band)
            whole = Extent(0, 2 * first - top, 2 * half.shape[1], 2 * last - top)
            if whole.x1 <= source.size.width and whole.y1 <= source.size.height:
                half[first:last] = source.resized(wanted, box=whole)
            else:
                cut = self._levels[above][top : (band + 1) * BAND_ROWS + AROUND]
                half[first:last] = resized(evened(self._lit(cut), rows), wanted, box=whole)
        return half


def _three(codes: Codes) -> Codes:
    """Three channels in one piece of memory."""
    return np.repeat(codes, 3, axis=2) if codes.shape[2] == 1 else np.ascontiguousarray(codes)


def _lowered(light: Light) -> Light:
    """The way into light of codes that are BELOW lower."""
    tables = []
    for table in light.tables:
        by = BELOW * (len(table) - 1) // 255
        tables.append(np.concatenate((np.full(by, table[0]), table[: len(table) - by])))
    return replace(light, tables=tuple(tables))


def _strip(part: Part, size: Size, run: Run, source: Source, top: int) -> Lit:
    """The rows of one run, from a band whose first row is ``top`` of its level."""
    box, tall = part.box, part.box.height / size.height
    # Sums of floats may land a hair outside the picture; the engine would refuse.
    inside = Extent(
        max(box.x0, 0.0),
        max(box.y0 + run.first * tall - top, 0.0),
        min(box.x1, source.size.width),
        min(box.y0 + run.last * tall - top, source.size.height),
    )
    return source.resized(Size(size.width, run.last - run.first), box=inside)


def runs(box: Extent, size: Size, rows: int) -> Iterator[Run]:
    """Delivered rows in runs of at most ``rows``, split where their sources change bands."""
    tall = box.height / size.height
    first = 0
    while first < size.height:
        band = max(int((box.y0 + (first + 0.5) * tall) // BAND_ROWS), 0)
        beyond = int(np.ceil(((band + 1) * BAND_ROWS - box.y0) / tall - 0.5))
        last = min(max(beyond, first + 1), first + rows, size.height)
        yield Run(band, first, last)
        first = last


def evened(lit: Lit, rows: int) -> Lit:
    """An odd last column, or an odd picture's last row, repeated, so that halves are whole."""
    return np.pad(lit, ((0, rows % 2), (0, lit.shape[1] % 2), (0, 0)), mode="edge")
