"""Output sharpening: luminance only, cored, clamped the same both ways.

The width follows the handbook rule: a halo of 1/100 inch at reading distance, wider in proportion
to the distance the picture is looked at from (``sharpening`` in docs/reference/finishing.md). The
difference of the luminance to its blurred self is added alike to R, G and B, so no colour fringes
appear; small differences (skin, grain) are left alone; the clamp is symmetric, so that the picture
becomes neither lighter nor darker.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.destination.destination import Finish, Medium

READING_DISTANCE_MM: Final = Fraction(3048, 10)
"""12 inches: the distance the handbook's halo is stated for."""
HALO_PER_SIGMA: Final = 2.6
"""Halo px to sigma: 3 px at 300 ppi is then 1.15, inside the measured 1.0-1.25 (house)."""
LEAST_SIGMA: Final = 0.55
MOST_SIGMA: Final = 1.6
"""Beyond about 1.6 only the halo grows, not MTF50 (measured: sigma 2 adds overshoot only)."""
HALFTONE_HALO_PX: Final = 4.0
"""At least 4 px where a screen ruling eats the finest detail (handbook, 266 ppi at 133 lpi)."""
CANVAS_DISTANCE_MM: Final = Fraction(1000)
"""What a canvas on a wall is looked at from when nobody says otherwise (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharpening:
    """``sigma`` in delivered px; ``core`` and ``clamp`` in 8-bit codes."""

    sigma: float
    amount: float
    core: float
    clamp: float

    @property
    def reach(self) -> int:
        """Rows and columns that the blur looks to each side."""
        return max(1, int(np.ceil(3 * self.sigma)))


AMOUNTS: Final = {
    Medium.SCREEN: (1.1, 2.0, 11.0),
    Medium.CONTINUOUS_TONE: (0.75, 3.0, 11.8),
    Medium.HALFTONE: (0.9, 3.0, 24.0),
    Medium.CANVAS: (0.85, 3.0, 24.0),
}
"""Amount, core and clamp by medium (house, chosen by the slanted edge and flat grain in
tests/reference/test_sharpening.py: MTF50 up, overshoot held, flat grain not louder)."""


def sharpening_for(finish: Finish, ppi: Fraction | float | None) -> Sharpening | None:
    """What to do for this finish; None for no sharpening (asked, or a hand-off to a press)."""
    if not finish.sharpen or finish.medium is Medium.PRESS_HAND_OFF:
        return None
    amount, core, clamp = AMOUNTS[finish.medium]
    sigma = LEAST_SIGMA if finish.medium is Medium.SCREEN or not ppi else _sigma(finish, float(ppi))
    return Sharpening(sigma=sigma, amount=amount, core=core, clamp=clamp)


def halo_px(finish: Finish, ppi: float) -> float:
    """Width of the halo in delivered px: ppi x clamp(distance / 12 in, .5, 4) / 100."""
    usual = CANVAS_DISTANCE_MM if finish.medium is Medium.CANVAS else READING_DISTANCE_MM
    distance = finish.viewing_distance_mm or usual
    halo = ppi * min(max(float(distance / READING_DISTANCE_MM), 0.5), 4.0) / 100
    return max(halo, HALFTONE_HALO_PX) if finish.medium is Medium.HALFTONE else halo


def _sigma(finish: Finish, ppi: float) -> float:
    """Standard deviation of the blur, in delivered px."""
    return min(max(halo_px(finish, ppi) / HALO_PER_SIGMA, LEAST_SIGMA), MOST_SIGMA)


def difference(encoded: npt.NDArray[Any], how: Sharpening, unit: float) -> npt.NDArray[Any]:
    """What to add to every channel: (rows, columns), int16 or float32 as ``encoded`` is.

    ``encoded`` is (rows, columns, channels), never negative, in 1/``unit`` of an 8-bit code.
    """
    import cv2  # noqa: PLC0415

    luma = _luma(encoded)
    taps = 2 * how.reach + 1
    blurred = cv2.GaussianBlur(luma, (taps, taps), how.sigma, borderType=cv2.BORDER_REFLECT)
    edge: Any = cv2.subtract(luma, blurred)
    core, clamp = edge.dtype.type(how.core * unit), edge.dtype.type(how.clamp * unit)
    edge = edge - np.clip(edge, -core, core)
    if edge.dtype == np.int16:  # whole numbers all the way: the amount in 1/256
        edge = ((edge.astype(np.int32) * round(how.amount * 256) + 128) >> 8).astype(np.int16)
    else:
        edge *= np.float32(how.amount)
    return np.asarray(np.clip(edge, -clamp, clamp))


def _luma(encoded: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Luma with the weights of ITU-R BT.601 (what the engine's fast path has)."""
    import cv2  # noqa: PLC0415

    if encoded.shape[2] == 1:
        return np.ascontiguousarray(encoded[:, :, 0])
    if encoded.dtype == np.int16:
        return np.asarray(cv2.cvtColor(encoded.view(np.uint16), cv2.COLOR_RGB2GRAY)).view(np.int16)
    return np.asarray(cv2.cvtColor(encoded, cv2.COLOR_RGB2GRAY))
