"""The colour spaces a finished file may be in, each from its published primaries and curve.

| name | primaries, white D65 | curve | source |
|---|---|---|---|
| srgb | .64 .33, .30 .60, .15 .06 | sRGB | IEC 61966-2-1:1999 |
| p3-d65 | .68 .32, .265 .69, .15 .06 | sRGB | SMPTE EG 432-1:2010, primaries and white |
| oprgb | .64 .33, .21 .71, .15 .06 | gamma 563/256 | IEC 61966-2-5:2007 |
| rec2020 | .708 .292, .170 .797, .131 .046 | gamma 2.4 | ITU-R BT.2020; BT.1886 |
| grey | - | sRGB | IEC 61966-2-1, its curve |

ITU and SMPTE values from memory of the standards; sRGB's are re-derived in the tests from outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from cropper.master import icc
from cropper.master.icc import Floats

D65: Final = (0.3127, 0.3290)
BRADFORD: Final = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
"""Cone responses of the adaptation that profiles use (ICC.1:2022, annex E)."""

CURVE_SAMPLES: Final = 1024
"""As in the customary sRGB profile; straight lines between stay within .02 of an 8-bit code."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Space:
    """One destination space: tone curve at ``icc.GRID``, RGB -> XYZ (D50), and its profile."""

    name: str
    title: str
    channels: int
    curve: Floats
    matrix: Floats
    profile: bytes


def srgb_linear(code: Floats) -> Floats:
    """Linear light of a code value 0..1 (IEC 61966-2-1:1999).

    >>> round(float(srgb_linear(np.array(128 / 255))), 7)
    0.2158605
    """
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)  # noqa: PLR2004


def to_xyz_d50(primaries: tuple[tuple[float, float], ...]) -> Floats:
    """RGB -> XYZ for primaries given as (x, y), white D65, adapted to D50 by Bradford."""
    columns = np.array([_xyz(x, y) for x, y in primaries]).T
    white = _xyz(*D65)
    own = columns * np.linalg.solve(columns, white)
    gain = (BRADFORD @ icc.D50) / (BRADFORD @ white)
    adapt = np.linalg.inv(BRADFORD) @ np.diag(gain) @ BRADFORD
    return np.asarray(adapt @ own)


def _xyz(x: float, y: float) -> Floats:
    """Chromaticity to XYZ at Y = 1."""
    return np.array([x / y, 1.0, (1 - x - y) / y])


def _space(
    name: str, title: str, primaries: tuple[tuple[float, float], ...], curve: Floats, channels: int
) -> Space:
    """One space with the profile that says so."""
    matrix = to_xyz_d50(primaries)
    at = np.linspace(0, len(icc.GRID) - 1, CURVE_SAMPLES)
    samples = np.interp(at, np.arange(len(icc.GRID)), curve)
    return Space(
        name=name,
        title=title,
        channels=channels,
        curve=curve,
        matrix=matrix,
        profile=icc.written(title, channels, samples, matrix),
    )


_SRGB: Final = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
_P3: Final = ((0.68, 0.32), (0.265, 0.69), (0.15, 0.06))
_OP: Final = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
_2020: Final = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))

SPACES: Final = {
    space.name: space
    for space in (
        _space("srgb", "sRGB IEC 61966-2-1", _SRGB, srgb_linear(icc.GRID), 3),
        _space("p3-d65", "P3 primaries, D65, sRGB curve", _P3, srgb_linear(icc.GRID), 3),
        _space("oprgb", "opRGB IEC 61966-2-5", _OP, icc.GRID ** (563 / 256), 3),
        _space("rec2020", "BT.2020 primaries, gamma 2.4", _2020, icc.GRID**2.4, 3),
        _space("grey", "Grey, sRGB curve", _SRGB, srgb_linear(icc.GRID), 1),
    )
}
"""By the name a destination's ``profile`` uses."""
