"""A plain backdrop carried on: its tone, its fall-off and its grain, made anew.

Works on a strip whose last row is the picture's edge. The tone along the edge is a smooth curve;
what strays from it, and the slope towards the edge, fade out with the distance, so that neither
streaks nor a kink show where the photograph ends. The grain is new noise with the strip's own
spectrum and colour, since a repeated strip shows as a weave. The same strip gives the same one.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

DEGREE: Final = 3
"""Of the curve of tone along the edge (house)."""
FADE_DEPTHS: Final = 1.5
"""Depths of the strip over which what strays from the curve fades to a third (house)."""
SLOPE_DEPTHS: Final = 5.0
"""The same of the slope towards the edge (house)."""
BLOCK: Final = 16
"""Side of the blocks whose spectrum the grain is measured in, px (house)."""
SEED: Final = 1


def carried_on(strip: Floats, smooth: Floats, by_px: int) -> Floats:
    """``by_px`` new rows after the strip (rows, columns, channels), in codes; not yet rounded.

    ``smooth`` is the strip without its grain.
    """
    return _tone(smooth, by_px) + _grain(strip - smooth, by_px)


def _tone(smooth: Floats, by_px: int) -> Floats:
    """The curve along the edge, going on as it came."""
    depth, columns, channels = smooth.shape
    at = np.linspace(-1, 1, columns)
    down = np.arange(depth) - (depth - 1)
    basis = np.stack([at**power for power in range(DEGREE + 1)], axis=1)
    rows = smooth.mean(axis=1) - smooth.mean(axis=(0, 1))
    middle = down - down.mean()
    slope = (middle[:, np.newaxis] * rows).sum(axis=0) / (middle**2).sum()
    edge = smooth.mean(axis=0) - slope * down.mean()
    curve = basis @ np.linalg.lstsq(basis, edge.reshape(columns, channels), rcond=None)[0]
    out = np.arange(1, by_px + 1)[:, np.newaxis, np.newaxis]
    straying = (smooth[-1] - curve) * np.exp(-out / (FADE_DEPTHS * depth))
    reach = SLOPE_DEPTHS * depth
    return np.asarray(curve + straying + slope * reach * (1 - np.exp(-out / reach)))


def _grain(grain: Floats, by_px: int) -> Floats:
    """Noise with the strip's spectrum and the covariance of its channels."""
    import cv2  # noqa: PLC0415

    columns, channels = grain.shape[1:]
    rng = np.random.default_rng(SEED)
    white = rng.standard_normal((by_px, columns, channels))
    kernel = _kernel(grain)
    shaped: Any = cv2.filter2D(white, -1, kernel, borderType=cv2.BORDER_REFLECT)
    covariance = np.cov(grain.reshape(-1, channels), rowvar=False).reshape(channels, channels)
    values, vectors = np.linalg.eigh(covariance)
    mix = vectors * np.sqrt(np.maximum(values, 0))
    return np.asarray(np.asarray(shaped).reshape(by_px, columns, channels) @ mix.T)


def _kernel(grain: Floats) -> Floats:
    """The filter that gives white noise the grain's mean spectrum, of energy 1."""
    luma = grain.mean(axis=2)
    side = min(BLOCK, *luma.shape)
    lines = range(0, luma.shape[0] - side + 1, side)
    blocks = [
        luma[y : y + side, x : x + side]
        for y in lines
        for x in range(0, luma.shape[1] - side + 1, side)
    ]
    power = np.mean([np.abs(np.fft.fft2(block)) ** 2 for block in blocks], axis=0)
    kernel = np.fft.fftshift(np.fft.ifft2(np.sqrt(power)).real)
    energy = float(np.sqrt((kernel**2).sum()))
    return np.asarray(kernel / energy if energy else kernel)
