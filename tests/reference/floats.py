"""A float reference of the finishing path, written from the formulas and sharing no code with it.

Lanczos-3 as windowed sinc (C. Duchon, J. Appl. Meteor. 18:1016-1022, 1979), one double-precision
pass per axis with the kernel widened by the reduction; sRGB per IEC 61966-2-1; matrices and
CIEDE2000 from colour-science, an independent library.
"""

from __future__ import annotations

import warnings
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.ndimage import minimum_filter

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # colour-science warns of optional packages on import
    import colour as _library

colour: Any = _library
"""The independent library."""

Floats = npt.NDArray[np.float64]


def lanczos_weights(source: int, start: float, length: float, wanted: int) -> Floats:
    """(wanted, source) weights that bring ``source[start : start + length]`` to ``wanted``."""
    scale = length / wanted
    stretch = max(scale, 1.0)
    centres = start + (np.arange(wanted) + 0.5) * scale
    distance = (np.arange(source) + 0.5 - centres[:, np.newaxis]) / stretch
    kernel = np.where(np.abs(distance) < 3, np.sinc(distance) * np.sinc(distance / 3), 0.0)
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True))


def resized(
    linear: Floats, box: tuple[float, float, float, float], size: tuple[int, int]
) -> Floats:
    """``linear`` (rows, columns, channels), box x0, y0, x1, y1, size (width, height)."""
    rows, columns = linear.shape[:2]
    across = lanczos_weights(columns, box[0], box[2] - box[0], size[0])
    down = lanczos_weights(rows, box[1], box[3] - box[1], size[1])
    wide = np.moveaxis(linear, 2, 0) @ across.T  # (channels, rows, width)
    return np.moveaxis(down @ wide, 0, 2)


def not_below(
    reference: Floats,
    codes: npt.NDArray[Any],
    corner: tuple[float, float],
    reduction: float,
    below: float,
) -> npt.NDArray[np.bool_]:
    """Where a resized picture is not darker than all of the opRGB pixels each of its own covers.

    Elsewhere Lanczos has gone below what is there, by more than ``below`` codes, which a finished
    file never does.
    """
    side = 2 * int(reduction / 2) + 1
    darkest = minimum_filter(codes.astype(float), (side, side, 1))
    height, width = reference.shape[:2]
    rows = (corner[1] + (np.arange(height) + 0.5) * reduction).astype(int)
    columns = (corner[0] + (np.arange(width) + 0.5) * reduction).astype(int)
    own = (darkest[rows][:, columns] - below).clip(0) / 255
    return np.asarray((reference >= own ** (563 / 256)).all(axis=2))


def srgb_decoded(code: Floats) -> Floats:
    """IEC 61966-2-1, code values 0..1 to linear light."""
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def srgb_encoded(linear: Floats) -> Floats:
    """IEC 61966-2-1, linear light to code values, clipped to 0..1."""
    clipped = np.clip(linear, 0, 1)
    return np.where(clipped <= 0.0031308, clipped * 12.92, 1.055 * clipped ** (1 / 2.4) - 0.055)


def oprgb_to_srgb(linear: Floats) -> Floats:
    """Linear opRGB to linear sRGB, both white D65, by the independent library's matrices."""
    wide: Any = colour.RGB_COLOURSPACES["Adobe RGB (1998)"].matrix_RGB_to_XYZ
    narrow: Any = colour.RGB_COLOURSPACES["sRGB"].matrix_XYZ_to_RGB
    return np.asarray(linear @ (narrow @ wide).T)


def delta_e(one: npt.NDArray[Any], other: npt.NDArray[Any]) -> Floats:
    """CIEDE2000 between two pictures of sRGB code values 0..255."""
    white = np.array([0.3127, 0.3290])
    labs = [
        colour.XYZ_to_Lab(
            srgb_decoded(np.asarray(picture, np.float64) / 255)
            @ np.asarray(colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ).T,
            white,
        )
        for picture in (one, other)
    ]
    return np.asarray(colour.delta_E(labs[0], labs[1], method="CIE 2000"))


def scene(width: int, height: int, seed: int = 5) -> npt.NDArray[np.uint8]:
    """A made portrait-like chart: skin ramp, hair-fine lines, hard edges, grain. 8-bit codes."""
    return _scene(width, height, seed).copy()


@cache
def _scene(width: int, height: int, seed: int) -> npt.NDArray[np.uint8]:
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width].astype(np.float64)
    skin = np.array([205.0, 160.0, 135.0]) * (0.55 + 0.45 * x / width)[:, :, np.newaxis]
    cloth = np.array([60.0, 70.0, 95.0]) + 35 * np.sin(x / 4.1 + y / 9.7)[:, :, np.newaxis]
    picture = np.where((y > height * 0.66)[:, :, np.newaxis], cloth, skin)
    for _ in range(60):
        slope, offset, wide = rng.normal(0, 0.4), rng.uniform(0, width), rng.uniform(0.6, 2.5)
        cover = np.clip(wide - np.abs(x - offset - slope * y), 0, 1)[:, :, np.newaxis]
        picture = picture * (1 - 0.85 * cover) + rng.uniform(10, 60, 3) * 0.85 * cover
    disc = (x - width * 0.3) ** 2 + (y - height * 0.3) ** 2 < (height * 0.12) ** 2
    picture[disc] = (245, 245, 240)
    picture += rng.normal(0, 1.5, (height, width, 1))
    return np.asarray(np.clip(np.rint(picture), 0, 255), np.uint8)
