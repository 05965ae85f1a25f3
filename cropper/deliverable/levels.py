"""The master in linear light at half, quarter, eighth ... size, shared by all deliverables.

The full size is never held in linear light: it is lit strip by strip as it is needed, which saves
6 bytes per master pixel. Lanczos is never asked for a reduction of less than 2 from a halved
level, so that what the 2 x 2 box lets alias is filtered out after it.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.deliverable.light import Light
from cropper.geometry import Extent, Size
from cropper.master.resampling import resized

LEAST_LEFT: Final = 2.0
"""Reduction left for Lanczos after halving (house, with decision 0004)."""
LOBES: Final = 3
"""Lanczos-3 looks three destination pixels to each side."""
_STRIP_ROWS: Final = 256

Lit = npt.NDArray[np.uint16]


@dataclass(frozen=True, slots=True)
class Part:
    """A box in the pixels of one level."""

    level: int
    box: Extent


class Levels:
    """The master's pixels, and its halved levels, made when first asked for. Safe for threads."""

    def __init__(self, pixels: npt.NDArray[Any], light: Light) -> None:
        self._full: Final = pixels
        self._light: Final = light
        self._halves: Final[list[Lit]] = []
        self._lock: Final = threading.Lock()

    def part(self, box: Extent, size: Size) -> Part:
        """From which level ``box`` (full-size px) is best brought to ``size``."""
        reduction = min(box.width / size.width, box.height / size.height)
        level = 0
        while reduction / 2 >= LEAST_LEFT:
            reduction, level = reduction / 2, level + 1
        scale = 0.5**level
        return Part(level, Extent(box.x0 * scale, box.y0 * scale, box.x1 * scale, box.y1 * scale))

    def strip(self, part: Part, size: Size, first: int, last: int) -> Lit:
        """Rows first..last-1 of ``part`` brought to ``size``."""
        box = part.box
        tall = box.height / size.height
        top, bottom = box.y0 + first * tall, box.y0 + last * tall
        slab, x, y = self.slab(part.level, Extent(box.x0, top, box.x1, bottom), _margin(box, size))
        # Sums of floats may land a hair outside the slab; the engine would refuse.
        rows, columns = slab.shape[:2]
        inside = Extent(
            max(box.x0 - x, 0.0),
            max(top - y, 0.0),
            min(box.x1 - x, columns),
            min(bottom - y, rows),
        )
        return resized(slab, Size(size.width, last - first), box=inside)

    def slab(self, level: int, box: Extent, margin: int) -> tuple[Lit, int, int]:
        """Lit pixels of a level covering ``box`` and ``margin`` around it, and its corner x, y."""
        pixels: Any = self._full if level == 0 else self._half(level)
        rows, columns = pixels.shape[:2]
        x0, y0 = max(int(box.x0) - margin, 0), max(int(box.y0) - margin, 0)
        x1 = min(int(np.ceil(box.x1)) + margin, columns)
        y1 = min(int(np.ceil(box.y1)) + margin, rows)
        cut = pixels[y0:y1, x0:x1]
        return (self._lit(cut) if level == 0 else cut), x0, y0

    def _lit(self, cut: npt.NDArray[Any]) -> Lit:
        """Three channels of linear light; grey becomes three equal ones."""
        three = np.repeat(cut, 3, axis=2) if cut.shape[2] == 1 else np.ascontiguousarray(cut)
        return self._light.lit(three)

    def _half(self, level: int) -> Lit:
        """Level 1 is half size."""
        with self._lock:
            while len(self._halves) < level:
                self._halves.append(self._next())
            return self._halves[level - 1]

    def _next(self) -> Lit:
        """The smallest level so far, halved in strips."""
        above: Any = self._halves[-1] if self._halves else self._full
        rows, columns = above.shape[:2]
        half = np.empty(((rows + 1) // 2, (columns + 1) // 2, 3), np.uint16)
        for first in range(0, rows, 2 * _STRIP_ROWS):
            cut = above[first : first + 2 * _STRIP_ROWS]
            lit = cut if self._halves else self._lit(cut)
            half[first // 2 : first // 2 + (lit.shape[0] + 1) // 2] = halved(lit)
        return half


def _margin(box: Extent, size: Size) -> int:
    """Pixels the kernel looks beyond the box."""
    reduction = max(box.width / size.width, box.height / size.height, 1.0)
    return int(np.ceil(LOBES * reduction)) + 2


def halved(lit: Lit) -> Lit:
    """Means of 2 x 2; an odd last row or column is repeated first."""
    import cv2  # noqa: PLC0415

    rows, columns = lit.shape[:2]
    if rows % 2 or columns % 2:
        lit = np.pad(lit, ((0, rows % 2), (0, columns % 2), (0, 0)), mode="edge")
    wanted = (lit.shape[1] // 2, lit.shape[0] // 2)
    out: Lit = cv2.resize(lit, wanted, interpolation=cv2.INTER_AREA).astype(np.uint16, copy=False)
    return out
