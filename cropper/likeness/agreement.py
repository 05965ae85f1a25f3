"""Whether two pictures that lie on one another are the same picture: tile by tile, by structure.

Normalised correlation [zncc] of each tile's fine structure: brightness, contrast, tint and a tone
curve change nothing of it, another expression, another fold of the wool or another picture does.
Flat tiles (plain backdrop) say nothing and are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.likeness.features import Floats

TILE_PX: Final = 16
"""Side of a tile in pixels of the compared pictures (house)."""
SMOOTHED_PX: Final = (1.0, 2.0)
"""Both are blurred by this sigma first: block edges and halos of sharpening count less (house).
The second where the first leaves them unlike: a file that was enlarged is softer than it is large.
"""
SHARP: Final = 0.985
"""Median correlation from which the first blur will do (design/likeness)."""
PLAIN: Final = 2.5
"""A tile of the known picture with less spread than this, in 8-bit codes, is flat (house)."""
SAME: Final = 0.7
"""Tiles that correlate at least this well show the same (design/likeness)."""

FOREIGN: Final = ((0.99, 0.7), (0.97, 0.55), (-1.0, 0.4))
"""(median of all tiles, correlation below which one is foreign): the better a file is
kept, the less its tiles stray. Worn files' own: at least .72, .64, .41 (design/likeness)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiles:
    """Correlation of every tile (rows, columns), and which tiles say something."""

    correlation: Floats
    telling: npt.NDArray[np.bool_]

    @property
    def count(self) -> int:
        """How many tiles say something."""
        return int(self.telling.sum())

    @property
    def agreeing(self) -> float:
        """Share of the telling tiles that show the same; 0 when none tells."""
        return float((self.correlation[self.telling] >= SAME).mean()) if self.count else 0.0

    @property
    def median(self) -> float:
        """Median correlation of the telling tiles; 0 when none tells."""
        return float(np.median(self.correlation[self.telling])) if self.count else 0.0

    @property
    def foreign(self) -> npt.NDArray[np.bool_]:
        """Telling tiles that show something else than the rest leads one to expect."""
        below = next(limit for median, limit in FOREIGN if self.median >= median)
        return np.asarray(self.telling & (self.correlation < below), bool)

    @property
    def mean(self) -> float:
        """Mean correlation of the telling tiles; 0 when none tells."""
        return float(self.correlation[self.telling].mean()) if self.count else 0.0


def compared(found: Floats, known: Floats, covered: npt.NDArray[np.bool_]) -> Tiles:
    """The two pictures' tiles; both (rows, columns) on one grid, looked at where ``covered``."""
    fine, soft = SMOOTHED_PX
    first = compared_at(found, known, covered, fine)
    if first.median >= SHARP:
        return first
    second = compared_at(found, known, covered, soft)
    return second if second.median > first.median else first


def compared_at(
    found: Floats, known: Floats, covered: npt.NDArray[np.bool_], sigma: float
) -> Tiles:
    """As :func:`compared`, blurred by ``sigma`` pixels whatever comes of it."""
    one, other = _smooth(found, sigma), _smooth(known, sigma)
    spread, across, both = _moments(one, other)
    whole = _tiled(covered.astype(np.float32)) > 0.999  # noqa: PLR2004 - all of its pixels
    correlation = across / np.maximum(np.sqrt(spread * both), 1e-6)
    return Tiles(
        correlation=np.asarray(np.clip(correlation, -1, 1), np.float32),
        telling=whole & (both > PLAIN**2),
    )


def _moments(one: Floats, other: Floats) -> tuple[Floats, Floats, Floats]:
    """Per tile: variance of one, covariance, variance of the other."""
    mean, mean_other = _tiled(one), _tiled(other)
    return (
        np.maximum(_tiled(one * one) - mean * mean, 0),
        _tiled(one * other) - mean * mean_other,
        np.maximum(_tiled(other * other) - mean_other * mean_other, 0),
    )


def _tiled(values: Any) -> Floats:
    """Means over tiles; what is left at the right and the bottom is dropped."""
    rows, columns = (side // TILE_PX for side in values.shape)
    cut = values[: rows * TILE_PX, : columns * TILE_PX].astype(np.float64)
    blocks = cut.reshape(rows, TILE_PX, columns, TILE_PX)
    return np.asarray(blocks.mean(axis=(1, 3)), np.float32)


def _smooth(values: Floats, sigma: float) -> Floats:
    import cv2  # noqa: PLC0415

    return np.asarray(cv2.GaussianBlur(values, (0, 0), sigma), np.float32)
