"""How much of a picture a destination's colours cannot hold.

A pixel counts as outside when the nearest colour that the destination holds differs from it by
more than VISIBLE in CIEDE2000. For the plain spaces the nearest is the clipped one; for a printer's
profile it is what a way there and back through littleCMS leaves (relative colorimetric, black point
as asked).
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.deliverable.conversion import Target, converted_back, converted_out
from cropper.deliverable.levels import Lit
from cropper.deliverable.light import PEDESTAL, SPAN, crossing
from cropper.master.icc import D50, GRID, Floats

VISIBLE: Final = 2.0
"""CIEDE2000 from which a colour counts as outside (house: twice what is just noticeable; a table
profile's own way there and back errs by up to 1)."""
HALF_TURN_SLACK: Final = 1e-9
"""Rounding of two hues that are half a turn apart."""
RINGS: Final = 0.005
"""Linear light beyond 0..1 in the master's own space: Lanczos ringing, not colour (house)."""


def share_outside(lit: Lit, source: npt.NDArray[Any], target: Target) -> float | None:
    """Share 0..1 of the pixels whose colour ``target`` cannot hold; None for a grey one.

    ``lit`` is linear light on the pedestal, ``source`` its RGB -> XYZ (D50).
    """
    if target.space.channels == 1 or target.device_channels == 1:
        return None
    own = (lit.astype(np.float32) - PEDESTAL) / SPAN
    rings = ((own < -RINGS) | (own > 1 + RINGS)).any(axis=2)
    linear = own @ crossing(source, target.space)[:, :3].T
    held = np.clip(linear, 0, 1)
    back = held if target.device is None else _there_and_back(held, target)
    moved = (back != linear).any(axis=2) & ~rings  # what did not move cannot differ
    to_xyz = target.space.matrix.T
    beyond = delta_e(lab(linear[moved] @ to_xyz), lab(back[moved] @ to_xyz)) > VISIBLE
    return float(beyond.sum() / moved.size)


def _there_and_back(held: npt.NDArray[Any], target: Target) -> Floats:
    """Linear light after the printer's colours, in the wide space again."""
    encoded = np.rint(np.interp(held, target.space.curve, GRID) * 65535).astype(np.uint16)
    device = converted_out(encoded, target.colorimetric, 16)
    returned = converted_back(device, target.colorimetric)
    return np.interp(returned / 65535, GRID, target.space.curve)


def lab(xyz: npt.NDArray[Any]) -> Floats:
    """CIE L*a*b* for the white D50 (CIE 15:2004, 8.2.1); values below black go on in a line."""
    ratio = np.asarray(xyz, np.float64) / D50
    line = ratio * (841 / 108) + 4 / 29
    root = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), line)
    x, y, z = root[..., 0], root[..., 1], root[..., 2]
    return np.stack((116 * y - 16, 500 * (x - y), 200 * (y - z)), axis=-1)


def delta_e(one: Floats, other: Floats) -> Floats:
    """CIEDE2000 of two L*a*b* arrays (CIE 142-2001; Sharma, Wu and Dalal 2005)."""
    (l1, a1, b1), (l2, a2, b2) = np.moveaxis(one, -1, 0), np.moveaxis(other, -1, 0)
    green = 1 + 0.5 * (1 - _seventh((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2))
    c1, c2 = np.hypot(green * a1, b1), np.hypot(green * a2, b2)
    h1, h2 = np.arctan2(b1, green * a1), np.arctan2(b2, green * a2)
    grey = c1 * c2 == 0
    turn = np.where(grey, 0.0, (h2 - h1 + np.pi) % (2 * np.pi) - np.pi)
    light, chroma = l2 - l1, c2 - c1
    hue = 2 * np.sqrt(c1 * c2) * np.sin(turn / 2)
    mean_l, mean_c, mean_h = (l1 + l2) / 2, (c1 + c2) / 2, _mean_hue(h1, h2, grey)
    off = (mean_l - 50) ** 2
    s_l = 1 + 0.015 * off / np.sqrt(20 + off)
    s_c, s_h = 1 + 0.045 * mean_c, 1 + 0.015 * mean_c * _hue_weight(mean_h)
    bend = np.deg2rad(30 * np.exp(-(((np.rad2deg(mean_h) - 275) / 25) ** 2)))
    turned = -np.sin(2 * bend) * 2 * _seventh(mean_c)
    parts = (light / s_l) ** 2 + (chroma / s_c) ** 2 + (hue / s_h) ** 2
    return np.asarray(np.sqrt(np.maximum(parts + turned * (chroma / s_c) * (hue / s_h), 0)))


def _seventh(chroma: Floats) -> Floats:
    """sqrt(C^7 / (C^7 + 25^7))."""
    return np.asarray(np.sqrt(chroma**7 / (chroma**7 + 25.0**7)))


def _mean_hue(h1: Floats, h2: Floats, grey: npt.NDArray[np.bool_]) -> Floats:
    """The middle of two hues, 0..2 pi; their sum when one of the colours has none."""
    h1, h2 = h1 % (2 * np.pi), h2 % (2 * np.pi)
    middle, far = (h1 + h2) / 2, np.abs(h1 - h2) > np.pi + HALF_TURN_SLACK
    turned = np.where(h1 + h2 < 2 * np.pi, middle + np.pi, middle - np.pi)
    return np.where(grey, h1 + h2, np.where(far, turned, middle))


def _hue_weight(hue: Floats) -> Floats:
    """T of CIE 142-2001."""
    terms = ((-0.17, 1, -30), (0.24, 2, 0), (0.32, 3, 6), (-0.20, 4, -63))
    return 1 + sum(
        (part * np.cos(times * hue + np.deg2rad(shift)) for part, times, shift in terms),
        start=np.zeros_like(hue),
    )
