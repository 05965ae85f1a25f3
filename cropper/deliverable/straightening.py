"""A turned crop, resampled once: turn and reduction in one Lanczos-3 kernel.

The kernel stands square in the *delivered* picture and is as wide as the reduction asks, so it is
its own filter against aliasing. For every kernel tap the level's pixels are gathered and weighed;
that is slower than the upright way by far, and only paid when somebody straightens.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.deliverable.levels import LOBES, Levels, Lit
from cropper.errors import DeliveryError
from cropper.geometry import Crop, Extent, Size

OUTSIDE_SLACK_PX: Final = 0.01
KERNEL_STEPS: Final = 64
"""Kernel samples per destination pixel; straight lines between are within 1e-4 of the weight."""
Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Turned:
    """Where delivered pixels come from: centre, half axes' steps in level pixels."""

    level: int
    x: float
    y: float
    right: tuple[float, float]
    down: tuple[float, float]
    reduction: float


def corners(crop: Crop) -> tuple[tuple[float, float], ...]:
    """The turned box's corners in the master, from its top left on, clockwise."""
    centre, turn = crop.box.centre, math.radians(crop.straighten_deg)
    half = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    cos, sin = math.cos(turn), math.sin(turn)
    placed = []
    for across, along in half:
        dx, dy = across * crop.box.width / 2, along * crop.box.height / 2
        placed.append((centre.x + dx * cos - dy * sin, centre.y + dx * sin + dy * cos))
    return tuple(placed)


def refuse_outside(crop: Crop, master: Size) -> None:
    """Every corner must lie in the master: nothing is invented there."""
    off = max(max(-x, -y, x - master.width, y - master.height) for x, y in corners(crop))
    if off > OUTSIDE_SLACK_PX:
        how = f", turned by {crop.straighten_deg:g} degrees," if crop.straighten_deg else ""
        raise DeliveryError(
            f"the crop{how} reaches {off:.1f} px outside the master",
            way_out="Make the crop smaller, move it inwards, or straighten less",
        )


def turned(crop: Crop, size: Size) -> Turned:
    """The way from delivered pixels to a level's, the level leaving a reduction of 1 to 2."""
    across, along = crop.box.width / size.width, crop.box.height / size.height
    level, scale = 0, 1.0
    while min(across, along) * scale >= 2:  # noqa: PLR2004 - one more halving leaves at least 1
        level, scale = level + 1, scale / 2
    turn, centre = math.radians(crop.straighten_deg), crop.box.centre
    cos, sin = math.cos(turn), math.sin(turn)
    return Turned(
        level,
        centre.x * scale,
        centre.y * scale,
        (across * scale * cos, across * scale * sin),
        (-along * scale * sin, along * scale * cos),
        max(across, along) * scale,
    )


def strip(how: Turned, size: Size, first: int, last: int, levels: Levels) -> Lit:
    """Delivered rows first..last-1 on the pedestal."""
    u = np.arange(size.width, dtype=np.float64) + 0.5 - size.width / 2
    v = np.arange(first, last, dtype=np.float64)[:, np.newaxis] + 0.5 - size.height / 2
    x = how.x + u * how.right[0] + v * how.down[0]
    y = how.y + u * how.right[1] + v * how.down[1]
    reach = math.ceil(LOBES * max(how.reduction, 1.0) * math.sqrt(2))
    span = Extent(float(x.min()), float(y.min()), float(x.max()) + 1, float(y.max()) + 1)
    slab, x0, y0 = levels.slab(how.level, span, reach + 2)
    return _gathered(slab, x - x0, y - y0, how)


def _gathered(slab: Lit, x: npt.NDArray[Any], y: npt.NDArray[Any], how: Turned) -> Lit:
    """Sum of taps times weights over sum of weights. x, y are pixel edges in the slab."""
    import cv2  # noqa: PLC0415

    stretch = max(how.reduction, 1.0)
    reach = math.ceil(LOBES * stretch * math.sqrt(2))
    padded: Any = cv2.copyMakeBorder(
        slab.astype(np.float32), reach, reach, reach, reach, cv2.BORDER_REPLICATE
    )
    column, row = np.floor(x - 0.5), np.floor(y - 0.5)
    whole, _ = cv2.convertMaps(
        (column + reach).astype(np.float32),
        (row + reach).astype(np.float32),
        cv2.CV_16SC2,
        nninterpolation=True,
    )
    turn = math.atan2(how.right[1], how.right[0])
    axes = math.cos(turn) / stretch, math.sin(turn) / stretch
    along, down = _in_kernel(column + 0.5 - x, row + 0.5 - y, axes)
    total = np.zeros((*x.shape, 3), np.float32)
    weights = np.zeros(x.shape, np.float32)
    for i in range(1 - reach, reach + 1):
        for j in range(1 - reach, reach + 1):
            weight = _weight(along, down, _step(i, j, axes))
            if weight is None:
                continue
            moved: Any = whole + np.array([i, j], np.int16)
            tap = cv2.remap(padded, moved, None, cv2.INTER_NEAREST)  # type: ignore[call-overload]
            cv2.accumulateProduct(tap, cv2.merge((weight, weight, weight)), total)
            weights += weight
    return np.asarray(np.clip(np.rint(total / weights[:, :, np.newaxis]), 0, 65535), np.uint16)


def _in_kernel(
    dx: npt.NDArray[Any], dy: npt.NDArray[Any], axes: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Where the tap at (0, 0) stands in the kernel table, for every delivered pixel."""
    cos, sin = axes
    along = (dx * cos + dy * sin + LOBES) * KERNEL_STEPS
    down = (dy * cos - dx * sin + LOBES) * KERNEL_STEPS
    return along.astype(np.float32), down.astype(np.float32)


def _step(i: int, j: int, axes: tuple[float, float]) -> tuple[float, float]:
    """How far the tap at (i, j) stands from that at (0, 0), in the kernel table."""
    cos, sin = axes
    return (i * cos + j * sin) * KERNEL_STEPS, (j * cos - i * sin) * KERNEL_STEPS


def _weight(along: Floats, down: Floats, step: tuple[float, float]) -> Floats | None:
    """Lanczos-3 along the delivered picture's own axes; None where it is 0 all over."""
    import cv2  # noqa: PLC0415

    most = LOBES * KERNEL_STEPS + KERNEL_STEPS
    if max(abs(step[0]), abs(step[1])) > most:
        return None
    found: Any = cv2.remap(
        _kernel_table(),
        along + np.float32(step[0]),
        down + np.float32(step[1]),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(0.0,),
    )
    return np.asarray(found, np.float32)


@cache
def _kernel_table() -> Floats:
    """Lanczos-3 x Lanczos-3 from -3 to 3 destination pixels each way."""
    t = np.arange(2 * LOBES * KERNEL_STEPS + 1) / KERNEL_STEPS - LOBES
    one = np.sinc(t) * np.sinc(t / LOBES)
    one[[0, -1]] = 0.0
    return np.outer(one, one).astype(np.float32)
