"""A closer look at the known picture's faces: frames of one sitting often differ there alone.

At the size of a view lowered lids are a pixel or two, and a tile that holds them agrees. So each
face of the known picture is kept nearer by, and the file's own pixels are compared with it at the
coarser one's resolution, correlated [zncc] in small windows at every pixel. Two pictures of one
frame correlate everywhere, whatever was done to them; the worst of the windows tells. Below some
size no file shows what lids do: that is said, and not guessed.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.geometry import PixelBox, Point, Size
from cropper.likeness.features import Floats
from cropper.likeness.fingerprint import Thumb, View, reduced_grey
from cropper.likeness.overlay import Overlay, overlaid
from cropper.likeness.registration import Lie

LEFT_RIGHT: Final = 0.4
ABOVE: Final = 0.3
BELOW: Final = 0.5
"""A face's box reaches so many head heights from between the eyes: lids, cheeks, mouth (house)."""
LEAST_SIDE_PX: Final = 48
"""Of a face's box in the compared pictures: a head of 60 px; below it lids are not to be seen
(design/likeness)."""
SMOOTHED_PX: Final = 1.5
"""Both are blurred by this sigma: block edges count less (design/likeness)."""
WINDOW: Final = 0.075
"""Side of a window as a share of the box's side: about an open eye (design/likeness)."""
LEAST_WINDOW_PX: Final = 5
PLAIN: Final = 3.0
"""A window of the known face with less spread than this, in 8-bit codes, says nothing (house)."""
WORST: Final = 0.01
"""This quantile of the windows' correlations is looked at: one of them may be a scratch (house)."""
SAME: Final = 0.9
"""From here on it is the same face (design/likeness: own files .91 or more, others .88 or less)."""
LEAST_SEEN: Final = 0.5
"""Share of a face's box that must stand in the file (house)."""
FEW: Final = 16
"""Fewer telling windows than this settle nothing (house)."""
MOST_SHIFT: Final = 0.08
"""The map is settled anew on the face itself, by no more than this share of its side (house)."""
SETTLED: Final = (3, 30, 1e-4)
"""When that is done: by count and precision, 30 steps at most, or gains below this [ecc]."""


class Faces(StrEnum):
    """What a closer look at the faces told."""

    NONE = "none in it"
    SAME = "same"
    DIFFER = "differ"
    TOO_SMALL = "too small to tell"


def face_box(eyes: Point, head_px: float, size: Size) -> PixelBox | None:
    """The box of a face in a picture of ``size``; None when it lies outside.

    ``eyes`` is the point between the pupils, ``head_px`` the height of the head.
    """
    x0, x1 = eyes.x - LEFT_RIGHT * head_px, eyes.x + LEFT_RIGHT * head_px
    y0, y1 = eyes.y - ABOVE * head_px, eyes.y + BELOW * head_px
    left, top = max(0, round(x0)), max(0, round(y0))
    right, bottom = min(size.width, round(x1)), min(size.height, round(y1))
    return PixelBox(left, top, right, bottom) if right > left and bottom > top else None


def faces_seen(pixels: Thumb, to_master: Lie, closeups: Iterable[View]) -> Faces:
    """What the faces tell; ``to_master`` leads from ``pixels`` to the known picture."""
    told = {_told(pixels, to_master, one) for one in closeups}
    heaviest = (Faces.DIFFER, Faces.TOO_SMALL, Faces.SAME)
    return next((one for one in heaviest if one in told), Faces.NONE)


def _told(pixels: Thumb, to_master: Lie, closeup: View) -> Faces:
    overlay = _overlaid(pixels, to_master, closeup)
    if overlay is None:
        return Faces.NONE
    # The overlay is as fine as the coarser of the two.
    share = min(1 / to_master.scale, 1 / closeup.to_master.scale)
    side = share * min(closeup.box.width, closeup.box.height)
    if overlay.covered.sum() < LEAST_SEEN * side**2:
        return Faces.NONE
    if side < LEAST_SIDE_PX:
        return Faces.TOO_SMALL
    window = max(LEAST_WINDOW_PX, 2 * int(WINDOW * side / 2) + 1)
    worst = _worst(_settled(overlay, side), overlay, window)
    if worst is None:
        return Faces.NONE
    return Faces.SAME if worst >= SAME else Faces.DIFFER


def _overlaid(pixels: Thumb, to_master: Lie, closeup: View) -> Overlay | None:
    """The file's part with the face in it, and the face on it; None when it is not in the file."""
    box, (high, wide) = closeup.box, pixels.shape[:2]
    corners = [[x, y] for x in (box.x0, box.x1) for y in (box.y0, box.y1)]
    there = to_master.back()(np.array(corners, np.float64))
    (x0, y0), (x1, y1) = np.floor(there.min(axis=0)), np.ceil(there.max(axis=0))
    left, top = max(0, int(x0)), max(0, int(y0))
    part = pixels[top : min(high, int(y1)), left : min(wide, int(x1))]
    if not part.size or min(part.shape[:2]) <= LEAST_WINDOW_PX:
        return None
    grey = reduced_grey(np.ascontiguousarray(part), max(part.shape[:2]))
    to_closeup = Lie.scaled(1, 1, left, top).then(to_master).then(closeup.to_master.back())
    return overlaid(grey, closeup.grey, to_closeup)


def _settled(overlay: Overlay, side: float) -> Floats:
    """The found face laid on the known one once more, by its own pixels [ecc]."""
    import cv2  # noqa: PLC0415 - heavy, only when pictures are looked at

    still = np.eye(2, 3, dtype=np.float32)
    mask = overlay.covered.astype(np.uint8)
    try:
        _, moved = cv2.findTransformECC(
            overlay.known, overlay.found, still.copy(), cv2.MOTION_AFFINE, SETTLED, mask, 5
        )
    except cv2.error:  # it found no better map
        return overlay.found
    if float(np.abs(moved - still).max()) > MOST_SHIFT * side:
        return overlay.found
    drawn = cv2.warpAffine(
        overlay.found,
        moved,
        overlay.size,
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(drawn, np.float32)


def _worst(found: Floats, overlay: Overlay, window: int) -> float | None:
    """Correlation of the worst windows of ``window`` px; None where too few of them tell."""
    import cv2  # noqa: PLC0415

    def mean(values: npt.NDArray[Any]) -> npt.NDArray[np.float64]:
        around = cv2.boxFilter(values, cv2.CV_64F, (window, window), borderType=cv2.BORDER_CONSTANT)
        return np.asarray(around, np.float64)

    one, other = (
        cv2.GaussianBlur(values.astype(np.float64), (0, 0), SMOOTHED_PX)
        for values in (found, overlay.known)
    )
    middle, middle_other = mean(one), mean(other)
    spread = mean(one * one) - middle * middle
    spread_other = mean(other * other) - middle_other * middle_other
    both = mean(one * other) - middle * middle_other
    whole = mean(overlay.covered.astype(np.float64)) > 0.999  # noqa: PLR2004 - all of its pixels
    telling = whole & (spread_other > PLAIN**2)
    if telling.sum() < FEW:
        return None
    correlation = both / np.sqrt(np.maximum(spread * spread_other, 1e-6))
    return float(np.quantile(correlation[telling], WORST))
