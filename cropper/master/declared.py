"""Colours that a picture declares without an ICC profile, as the profile that says the same.

Code points: ITU-T H.273 (08/2021), tables 2 and 3 (primaries, transfer). PNG: third edition, 4.3
and 11.3.2 (a cICP chunk goes before a profile, a profile before sRGB, sRGB before gAMA and cHRM).
EXIF: CIPA DC-008 ColorSpace, with the interoperability index R03 of DCF 2.0 for the optional colour
space (IEC 61966-2-5). High dynamic range (PQ, HLG; ITU-R BT.2100) is refused: its codes are no
picture for paper or an ordinary screen until somebody has chosen how to bring its highlights down.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Final

import numpy as np

from cropper.master import icc
from cropper.master.icc import Floats
from cropper.master.spaces import SPACES, srgb_linear, to_xyz_d50

Chromaticities = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
"""x and y of red, green and blue."""

UNSPECIFIED: Final = 2
PRIMARIES: Final[dict[int, Chromaticities]] = {
    1: ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)),
    5: ((0.64, 0.33), (0.29, 0.60), (0.15, 0.06)),
    6: ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070)),
    7: ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070)),
    9: ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
    12: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
}
"""Of H.273 table 2, those with the white D65 (.3127, .3290)."""
PRIMARIES_NAMED: Final = {
    1: "BT.709",
    5: "BT.601 (625)",
    6: "BT.601 (525)",
    7: "BT.601 (525)",
    9: "BT.2020",
    12: "P3",
}
HIGH_RANGE: Final = {16: "PQ", 18: "HLG"}
"""Transfer characteristics of high dynamic range."""
GAMMAS: Final = {4: 2.2, 5: 2.8, 8: 1.0}
CAMERA: Final = frozenset({1, 6, 14, 15})
"""Transfer characteristics that share the curve of BT.709."""
SRGB_CODE: Final = 13
PROFILE_SAMPLES: Final = 1024
LIKELY_GAMMA: Final = (0.2, 1.1)
"""A PNG's gAMA outside of this is nonsense (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """What a file says of its colours. ``profile`` None: nothing usable; ``high_range``: PQ, HLG.

    ``grey`` is the profile for a picture of one channel with the same curve.
    """

    profile: bytes | None = None
    grey: bytes | None = None
    note: str = ""
    high_range: str = ""


NOTHING: Final = Declared()
SRGB: Final = Declared(profile=SPACES["srgb"].profile, grey=SPACES["grey"].profile)


def by_code_points(primaries: int, transfer: int) -> Declared:
    """From the code points of a cICP chunk or an nclx colour box.

    >>> by_code_points(12, 13).note, by_code_points(9, 16).high_range
    ('no profile: P3 primaries with the sRGB curve, as the file declares', 'PQ')
    """
    if transfer in HIGH_RANGE:
        return Declared(high_range=HIGH_RANGE[transfer])
    if primaries == UNSPECIFIED and transfer == UNSPECIFIED:
        return NOTHING
    points = PRIMARIES.get(1 if primaries == UNSPECIFIED else primaries)
    curve = _curve(transfer)
    if points is None or curve is None:
        said = f"it declares colours by code points {primaries} and {transfer}, not known here"
        return Declared(note=said)
    if transfer in {SRGB_CODE, UNSPECIFIED} and points == PRIMARIES[1]:
        return SRGB
    name = (
        f"{PRIMARIES_NAMED[1 if primaries == UNSPECIFIED else primaries]} primaries with {curve[0]}"
    )
    return _made(name, points, curve[1])


def by_gamma(gamma: float | None, points: Chromaticities | None) -> Declared:
    """From a PNG's gAMA (the exponent of encoding) and cHRM; sRGB for what is missing."""
    if gamma is not None and not LIKELY_GAMMA[0] <= gamma <= LIKELY_GAMMA[1]:
        gamma = None
    usable = points if points is not None and _usable(points) else None
    if gamma is None and usable is None:
        return NOTHING
    srgb = gamma is None or abs(gamma - 0.45455) < 5e-5  # noqa: PLR2004 - how sRGB is written there
    if srgb and (usable is None or np.allclose(usable, PRIMARIES[1], atol=1e-3)):
        return SRGB
    curve = srgb_linear(icc.GRID) if srgb else icc.GRID ** (1 / float(gamma or 1))
    told = "the sRGB curve" if srgb else f"gamma {1 / float(gamma or 1):.2f}"
    whose = "its own" if usable is not None else "BT.709"
    return _made(f"{whose} primaries with {told}", usable or PRIMARIES[1], curve)


def by_exif(colour_space: int, interoperability: str) -> Declared:
    """From EXIF's ColorSpace and the index of its interoperability directory."""
    optional = "the optional colour space (opRGB), as its EXIF declares"
    if interoperability.strip("\0 ") == "R03" or colour_space == 2:  # noqa: PLR2004 - practice
        return Declared(profile=SPACES["oprgb"].profile, note=f"no profile: {optional}")
    if colour_space == 65535:  # noqa: PLR2004 - uncalibrated (CIPA DC-008)
        return Declared(note="its EXIF calls the colours uncalibrated and does not say which")
    return NOTHING


def high_range_of(profile: bytes) -> str:
    """PQ or HLG, when a profile's own cicp tag says so (ICC.1:2022, 9.2.17); else empty."""
    try:
        tag = icc.tag_contents(profile).get(b"cicp", b"")
    except struct.error:  # a broken profile: set aside and said elsewhere
        return ""
    return HIGH_RANGE.get(tag[9], "") if len(tag) > 9 else ""  # noqa: PLR2004 - byte 9: transfer


def _usable(points: Chromaticities) -> bool:
    """Whether three chromaticities span a triangle that is worth the name."""
    (rx, ry), (gx, gy), (bx, by) = points
    area = abs((gx - rx) * (by - ry) - (bx - rx) * (gy - ry)) / 2
    within = all(0 <= value <= 1 for point in points for value in point)
    return within and area > 0.01 and min(ry, gy, by) > 0.01  # noqa: PLR2004 - sRGB's is .11


def _curve(transfer: int) -> tuple[str, Floats] | None:
    """Name and linear light at ``icc.GRID`` of a transfer characteristic."""
    if transfer in {SRGB_CODE, UNSPECIFIED}:
        return "the sRGB curve", srgb_linear(icc.GRID)
    if transfer in GAMMAS:
        return f"gamma {GAMMAS[transfer]:g}", icc.GRID ** GAMMAS[transfer]
    return ("the curve of BT.709", bt709_linear(icc.GRID)) if transfer in CAMERA else None


def bt709_linear(code: Floats) -> Floats:
    """Linear light of a code 0..1: the camera's curve of ITU-R BT.709, item 1.2, turned round."""
    return np.where(code < 0.081, code / 4.5, ((code + 0.099) / 1.099) ** (1 / 0.45))  # noqa: PLR2004


def _made(name: str, points: Chromaticities, curve: Floats) -> Declared:
    at = np.linspace(0, len(icc.GRID) - 1, PROFILE_SAMPLES)
    samples = np.interp(at, np.arange(len(icc.GRID)), curve)
    matrix = to_xyz_d50(points)
    return Declared(
        profile=icc.written(name, 3, samples, matrix),
        grey=icc.written(name, 1, samples, matrix),
        note=f"no profile: {name}, as the file declares",
    )
