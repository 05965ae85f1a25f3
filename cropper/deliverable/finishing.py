"""From strips of linear light to finished codes: primaries, curve, sharpening, one rounding.

Strips are small enough to stay in the processor's cache. The last rows of each are carried into
the next, so that sharpening looks across the seam and no row is resampled twice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.deliverable.dithering import rows_of
from cropper.deliverable.levels import Lit
from cropper.deliverable.light import FLOOR, FRACTION, crossing, encoding_table, looked_up
from cropper.deliverable.sharpening import Sharpening, difference
from cropper.geometry import Size
from cropper.master.icc import Floats
from cropper.master.spaces import Space

STRIP_PIXELS: Final = 300_000
"""Delivered pixels per strip (house: measured, see decision 0004)."""
LEAST_ROWS: Final = 32

Codes = npt.NDArray[Any]
"""(rows, columns, channels), uint8 or uint16."""


def strip_rows(size: Size) -> int:
    """Rows per strip."""
    return max(LEAST_ROWS, min(size.height, STRIP_PIXELS // size.width))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finisher:
    """Everything that is the same for all strips of one deliverable."""

    matrix: npt.NDArray[np.float32] | None
    table: npt.NDArray[Any]
    sharpening: Sharpening | None
    deep: bool
    dither: bool = False

    @property
    def channels(self) -> int:
        """Of the finished picture."""
        return 3 if self.matrix is None else len(self.matrix)

    def encoded(self, lit: Lit) -> npt.NDArray[Any]:
        """Linear light on the pedestal to codes with a fraction (int16 1/64, or float32)."""
        import cv2  # noqa: PLC0415

        moved: Any = lit if self.matrix is None else cv2.transform(lit, self.matrix)
        crossed: Any = np.asarray(moved).reshape(*lit.shape[:2], self.channels)
        return looked_up(crossed, self.table)

    def rounded(self, encoded: npt.NDArray[Any], edge: npt.NDArray[Any] | None, top: int) -> Codes:
        """The one rounding, after adding what sharpening found. ``top``: the picture's row."""
        if self.deep:
            whole = encoded if edge is None else encoded + edge[:, :, np.newaxis]
            return np.asarray(np.clip(np.rint(whole * 257), 0, 65535), np.uint16)
        more: npt.NDArray[Any] | np.int16 = np.int16(FRACTION // 2 - FLOOR)
        if self.dither:
            rows, columns, _ = encoded.shape
            more = rows_of(top, rows, columns) - np.int16(FLOOR)
        if edge is not None:
            more = edge + more
        moved = encoded + more if isinstance(more, np.int16) else _added(encoded, more)
        moved >>= 6  # 2 ** 6 = FRACTION
        np.clip(moved, 0, 255, out=moved)
        return np.asarray(moved, np.uint8)


def _added(encoded: npt.NDArray[Any], edge: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """``edge`` added to every channel."""
    import cv2  # noqa: PLC0415

    if encoded.shape[2] == 1:
        return np.asarray(encoded + edge[:, :, np.newaxis])
    return np.asarray(cv2.add(encoded, cv2.merge((edge, edge, edge))))


def finisher_for(
    source: Floats,
    target: Space,
    sharpening: Sharpening | None,
    *,
    deep: bool,
    dither: bool = False,
) -> Finisher:
    """``source`` is the master's linear RGB -> XYZ (D50); ``dither`` rounds without bands."""
    same = target.channels == 3 and np.allclose(source, target.matrix, atol=2e-4)  # noqa: PLR2004
    if deep:
        table = encoding_table(target.curve, 255.0).astype(np.float32)
    else:
        scaled = encoding_table(target.curve, 255.0 * FRACTION) + FLOOR
        table = np.clip(np.rint(scaled), 0, 32767).astype(np.int16)
    return Finisher(
        matrix=None if same else crossing(source, target),
        table=table,
        sharpening=sharpening,
        deep=deep,
        dither=dither,
    )


def finished(strips: Iterator[Lit], size: Size, how: Finisher) -> Codes:
    """The whole picture from its strips, top to bottom."""
    out: Codes = np.empty(
        (size.height, size.width, how.channels), np.uint16 if how.deep else np.uint8
    )
    if how.sharpening is None:
        at = 0
        for lit in strips:
            out[at : at + len(lit)] = how.rounded(how.encoded(lit), None, at)
            at += len(lit)
        return out
    _sharpened_into(out, strips, how, how.sharpening)
    return out


def _sharpened_into(
    out: npt.NDArray[Any], strips: Iterator[Lit], how: Finisher, sharpening: Sharpening
) -> None:
    """Fill ``out``, each block overlapping the one before by twice the blur's reach."""
    reach, unit = sharpening.reach, 1.0 if how.deep else float(FRACTION)
    block: npt.NDArray[Any] | None = None
    top = 0  # row of the picture that the block's first row is
    for lit in strips:
        encoded = how.encoded(lit)
        kept = None if block is None else block[-2 * reach :]
        top += 0 if block is None or kept is None else len(block) - len(kept)
        block = encoded if kept is None else np.concatenate((kept, encoded))
        edge = difference(block, sharpening, unit)
        first = 0 if top == 0 else reach
        last = len(block) if top + len(block) == len(out) else len(block) - reach
        if last > first:  # a first strip no taller than the reach waits for the next one
            rows = slice(first, last)
            out[top + first : top + last] = how.rounded(block[rows], edge[rows], top + first)
