"""A master as the eye and the finder see it: 8-bit sRGB, reduced on the way.

Reduced first, in the master's own colours, then converted: for looking and finding that is right
to a code or two and ten times cheaper. Finished files go another way (``deliverable``).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt

from cropper.geometry import Size, size_for
from cropper.master.decoding import Pixels
from cropper.master.resampling import resized

_INTERPRETATION = {
    (1, 8): "b-w",
    (3, 8): "srgb",
    (4, 8): "cmyk",
    (1, 16): "grey16",
    (3, 16): "rgb16",
    (4, 16): "cmyk",
}


def seen_in_srgb(
    pixels: Pixels, icc: bytes | None, longest: int | None = None
) -> npt.NDArray[np.uint8]:
    """(rows, columns, 3) sRGB, long side at most ``longest``; ``icc`` None: colours assumed."""
    rows, columns, channels = pixels.shape
    if pixels.dtype == np.uint16 and longest is not None:
        pixels = _eight_bit(pixels)
    if longest is not None and max(rows, columns) > longest:
        pixels = resized(pixels, reduced_size(Size(columns, rows), longest))
    if icc is None and channels != 4:  # noqa: PLR2004 - CMYK always needs converting
        return _as_they_are(pixels)
    return _converted(pixels, icc)


def reduced_size(size: Size, longest: int) -> Size:
    """``size`` scaled so that its long side is ``longest`` px.

    >>> reduced_size(Size(6000, 4000), 2048)
    Size(width=2048, height=1365)
    """
    return size_for(longest, Fraction(size.width, size.height))


def _as_they_are(pixels: Pixels) -> npt.NDArray[np.uint8]:
    """Assumed sRGB: only depth and channels change."""
    if pixels.dtype == np.uint16:
        pixels = _eight_bit(pixels)
    three = np.repeat(pixels, 3, axis=2) if pixels.shape[2] == 1 else pixels
    return np.ascontiguousarray(three, dtype=np.uint8)


def _eight_bit(pixels: Pixels) -> npt.NDArray[np.uint8]:
    """16-bit samples rounded to 8: 65535 / 255 = 257."""
    levels = ((np.arange(65536, dtype=np.uint32) + 128) // 257).astype(np.uint8)
    eight: npt.NDArray[np.uint8] = levels[pixels]
    return eight


def _converted(pixels: Pixels, icc: bytes | None) -> npt.NDArray[np.uint8]:
    """Through littleCMS, relative colorimetric with black point compensation."""
    import pyvips  # noqa: PLC0415

    depth = 16 if pixels.dtype == np.uint16 else 8
    image: Any = pyvips.Image.new_from_array(
        np.ascontiguousarray(pixels), interpretation=_INTERPRETATION[pixels.shape[2], depth]
    ).copy()
    if icc is not None:
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", icc)
    shown = image.icc_transform(
        "srgb",
        embedded=icc is not None,
        input_profile="cmyk",
        intent="relative",
        black_point_compensation=True,
        depth=8,
    )
    array: npt.NDArray[np.uint8] = shown.numpy()
    return np.repeat(array[:, :, np.newaxis], 3, axis=2) if array.ndim == 2 else array  # noqa: PLR2004
