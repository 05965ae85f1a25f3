"""Rounding to 8 bits without bands: each pixel rounds up from a threshold of its own.

A smooth backdrop has fewer codes than pixels, and one threshold for all draws every step between
codes as a line. Here the thresholds are noise, evenly spread over a code; what is added is half a
code at most, and a value that is a whole code stays that code.

The noise is as coarse as a lossy format can carry. Finer noise is what quantisation drops first: of
a gradient of 30 px a code, a JPEG of quality 90 showed 69 % of its lines with blue noise, which is
best where every pixel is kept, and 34 % with this band (tests/reference/test_dithering.py).
From a fixed seed: the same picture gives the same bytes.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.deliverable.light import FRACTION

SIDE: Final = 128
"""Pixels of the tile's side (house: its repetition is not seen)."""
SEED: Final = 20_260_301
ROUNDS: Final = 24
"""Times that other frequencies are taken out and the values ranked anew (house: it is settled)."""
BAND: Final = (0.1, 0.2)
"""Frequencies of the noise in cycles per pixel: grains of 5 to 10 px, half a code strong."""
USUAL_TILES: Final = 48
"""Tiles that stand side by side ready made: 6144 px, 1.6 MB; wider pictures make their own."""
SURE: Final = 4
"""In 1/64 of a code: what lies nearer to a code than this is that code (what linear light of 16
bit leaves of a whole code is within 2)."""


@cache
def thresholds(levels: int) -> npt.NDArray[np.int16]:
    """(SIDE, SIDE) whole numbers, 0 to ``levels`` - 1, each as often as any other.

    >>> sorted(set(thresholds(4).ravel().tolist())), int(thresholds(64).max())
    ([0, 1, 2, 3], 63)
    """
    rng = np.random.default_rng(SEED)
    frequency = np.fft.fftfreq(SIDE)
    away = np.hypot(frequency[:, np.newaxis], frequency[np.newaxis, :])
    band = (away >= BAND[0]) & (away <= BAND[1])
    values = rng.random((SIDE, SIDE))
    for _ in range(ROUNDS):
        filtered = np.fft.ifft2(np.fft.fft2(values) * band).real
        values = filtered.ravel().argsort().argsort().reshape(SIDE, SIDE) / SIDE**2
    return np.asarray(np.floor(values * levels), np.int16)


@lru_cache(maxsize=1)
def _wide(tiles: int) -> npt.NDArray[np.int16]:
    spread = thresholds(FRACTION - 2 * SURE) + np.int16(SURE)
    return np.tile(spread, (1, tiles))


def rows_of(top: int, rows: int, columns: int) -> npt.NDArray[Any]:
    """(rows, columns) from row ``top`` on: 1/64 of a code to be added before rounding down."""
    wide = _wide(max(USUAL_TILES, -(-columns // SIDE)))
    return wide[np.arange(top, top + rows) % SIDE, :columns]
