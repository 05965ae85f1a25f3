"""Linear light in 16 bit, and the way into it and out of it.

Samples stand on a **pedestal**: 6000 + 53000 L. Lanczos has negative lobes; between its two passes
they would be clipped at 0 and at white without room below and above (largest error dE00 15.8, and
1.9 with it). One 8-bit sRGB code near black is still 16 steps.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.master import icc
from cropper.master.icc import Floats, MatrixProfile
from cropper.master.spaces import SPACES, Space

PEDESTAL: Final = 6000
SPAN: Final = 53000
"""Room for lobes of 11 % below black and 12 % above white (house)."""

FRACTION: Final = 64
"""8-bit finishing works in 1/64 of a code, as int16, standing on FLOOR so that all are positive."""
FLOOR: Final = 2048
"""Room for ringing of 32 codes below black."""

Lut = npt.NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Light:
    """A master's own linear light: a look-up table per channel (one when all are alike)."""

    tables: tuple[Lut, ...]
    matrix: Floats

    def lit(self, codes: npt.NDArray[Any]) -> npt.NDArray[np.uint16]:
        """Codes (rows, columns, 3), 8 or 16 bit, as linear uint16 on the pedestal."""
        if len(self.tables) == 1:
            return looked_up(codes, self.tables[0])
        planes = [
            looked_up(np.ascontiguousarray(codes[:, :, channel]), table)
            for channel, table in enumerate(self.tables)
        ]
        return np.stack(planes, axis=2)


def looked_up(codes: npt.NDArray[Any], table: Lut) -> npt.NDArray[Any]:
    """``table[codes]``, shaped as ``codes`` (8 or 16 bit), in one pass of the engine."""
    import cv2  # noqa: PLC0415

    return np.asarray(cv2.LUT(codes, table)).reshape(codes.shape)


def light_of(profile: MatrixProfile, bit_depth: int) -> Light:
    """The way from this profile's codes into its linear light."""
    steps = 256 if bit_depth == 8 else 65536  # noqa: PLR2004
    at = np.linspace(0, len(icc.GRID) - 1, steps)
    tables = [
        np.round(PEDESTAL + SPAN * np.interp(at, np.arange(len(icc.GRID)), one)).astype(np.uint16)
        for one in profile.curves
    ]
    alike = all(np.array_equal(tables[0], other) for other in tables[1:])
    return Light(tables=(tables[0],) if alike else tuple(tables), matrix=profile.matrix)


SRGB: Final = MatrixProfile(
    curves=np.array([SPACES["srgb"].curve] * 3), matrix=SPACES["srgb"].matrix
)


def crossing(source: Floats, target: Space) -> npt.NDArray[np.float32]:
    """(3 or 1, 4) matrix from one linear light on its pedestal to another's on the same.

    For a grey target the single row is the luminance Y of the connection space.
    """
    matrix = _back(target) @ source
    if target.channels == 1:
        matrix = source[1:2, :] / source[1].sum()
    offset = PEDESTAL * (1 - matrix.sum(axis=1, keepdims=True))
    return np.hstack([matrix, offset]).astype(np.float32)


@cache
def _back(space: Space) -> Floats:
    """XYZ (D50) -> RGB of a space, once: for nine numbers linear algebra wakes all its threads."""
    return np.asarray(np.linalg.inv(space.matrix), np.float64)


def encoding_table(curve: Floats, scale: float) -> Floats:
    """For every uint16 of linear light on the pedestal: the code x ``scale`` (0..scale for 0..1).

    Beyond 0 and 1 the curve goes on straight, so that ringing is only cut at the very end.
    """
    linear = (np.arange(65536) - PEDESTAL) / SPAN
    rising = curve + np.arange(len(curve)) * 1e-15  # a flat start would make the inverse jump
    codes = np.interp(linear, rising, icc.GRID)
    foot, top = _slopes(curve)
    codes = np.where(linear < curve[0], (linear - curve[0]) * foot, codes)
    codes = np.where(linear > curve[-1], 1 + (linear - curve[-1]) * top, codes)
    return codes * scale


def _slopes(curve: Floats) -> tuple[float, float]:
    """Code per linear light at the curve's two ends, the foot at most sRGB's 12.92."""
    step = 64
    width = step / (len(curve) - 1)
    foot = width / max(float(curve[step] - curve[0]), 1e-9)
    top = width / max(float(curve[-1] - curve[-1 - step]), 1e-9)
    return min(foot, 12.92), top
