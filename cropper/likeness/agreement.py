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
SMOOTHED_PX: Final = 1.0
"""Both are blurred by this sigma first: block edges and halos of sharpening count less (house)."""
PLAIN: Final = 2.5
"""A tile of the known picture with less spread than this, in 8-bit codes, is flat (house)."""
SAME: Final = 0.7
"""Tiles that correlate at least this well show the same (design/likeness)."""


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
    def mean(self) -> float:
        """Mean correlation of the telling tiles; 0 when none tells."""
        return float(self.correlation[self.telling].mean()) if self.count else 0.0


def compared(found: Floats, known: Floats, covered: npt.NDArray[np.bool_]) -> Tiles:
    """The two pictures' tiles; both (rows, columns) on one grid, looked at where ``covered``."""
    one, other = _smooth(found), _smooth(known)
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


def _smooth(values: Floats) -> Floats:
    import cv2  # noqa: PLC0415

    return np.asarray(cv2.GaussianBlur(values, (0, 0), SMOOTHED_PX), np.float32)
