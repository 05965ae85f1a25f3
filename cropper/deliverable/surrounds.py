"""When the crop does not fill the frame: a plain border, or the backdrop carried on if plain.

Both are only done when asked, and both say so in the picture's notes, for the manifest. The
backdrop is carried on only from an edge that is *measurably* plain along its whole length, so
never over a shoulder or hair that touches it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from cropper.deliverable.backdrop import carried_on
from cropper.deliverable.conversion import converted_out, target_of
from cropper.deliverable.rendering import Rendered
from cropper.destination.destination import Finish
from cropper.errors import DeliveryError
from cropper.geometry import Size
from cropper.master import icc
from cropper.master.spaces import SPACES, Space, srgb_linear


class Edge(StrEnum):
    """The edges of a finished picture."""

    TOP = "top"
    RIGHT = "right"
    BOTTOM = "bottom"
    LEFT = "left"


STRIP_SHARE: Final = 0.03
"""Depth of the strip that is measured, as a share of the picture's shorter side (house)."""
LEAST_STRIP_PX: Final = 8
MOST_GRAIN: Final = 3.0
"""Greatest deviation of single pixels from their surroundings, in codes, one sigma (house)."""
MOST_CHANGE: Final = 8.0
"""Greatest spread of the smoothed strip about an even slope, in codes (house)."""
MOST_FALL_OFF: Final = 40.0
"""Greatest even slope from end to end, in codes (house: the soft fall-off of a lit backdrop)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plainness:
    """What was measured of an edge strip, in 8-bit codes."""

    grain: float
    change: float
    fall_off: float

    @property
    def plain(self) -> bool:
        """Whether the backdrop may be carried on from here."""
        even = self.change <= MOST_CHANGE and self.fall_off <= MOST_FALL_OFF
        return even and self.grain <= MOST_GRAIN


class Sides(NamedTuple):
    """Widths in px at each edge."""

    left: int
    top: int
    right: int
    bottom: int


def bordered(rendered: Rendered, canvas: Size, colour: str, profile: str = "srgb") -> Rendered:
    """The picture in the middle of ``canvas``, the rest in ``colour`` ('#rrggbb', sRGB).

    ``profile`` is the one the picture was rendered to.
    """
    wide, high = canvas.width - rendered.size.width, canvas.height - rendered.size.height
    if wide < 0 or high < 0:
        raise DeliveryError(
            f"a picture of {rendered.size.width} x {rendered.size.height} px does not fit in "
            f"{canvas.width} x {canvas.height} px",
            way_out="Make the picture smaller or the canvas larger",
        )
    x, y = wide // 2, high // 2
    return framed(rendered, Sides(x, y, wide - x, high - y), colour, Finish(profile=profile))


def framed(rendered: Rendered, sides: Sides, colour: str, finish: Finish) -> Rendered:
    """The picture with a border of ``sides`` px in ``colour``, as ``finish`` has its colours."""
    code = _colour_code(colour, finish, deep=rendered.pixels.dtype == np.uint16)
    wide, high = rendered.size.width, rendered.size.height
    canvas = Size(wide + sides.left + sides.right, high + sides.top + sides.bottom)
    pixels = np.empty((canvas.height, canvas.width, len(code)), rendered.pixels.dtype)
    pixels[:] = code
    pixels[sides.top : sides.top + high, sides.left : sides.left + wide] = rendered.pixels
    widths = f"left {sides.left}, top {sides.top}, right {sides.right}, bottom {sides.bottom} px"
    note = f"a border in {colour.lower()} was added, {widths}: {canvas.width} x {canvas.height} px"
    return replace(rendered, pixels=pixels, size=canvas, notes=(*rendered.notes, note))


def wrapped(rendered: Rendered, by_px: int) -> Rendered:
    """The picture with ``by_px`` of it mirrored outward on every side, as a canvas is folded.

    The edge between the picture and its mirror image is where the fold comes: the first mirrored
    pixel is the picture's last.
    """
    pixels = np.pad(rendered.pixels, ((by_px, by_px), (by_px, by_px), (0, 0)), mode="symmetric")
    size = Size(pixels.shape[1], pixels.shape[0])
    note = f"a wrap of {by_px} px was mirrored on every side: {size.width} x {size.height} px"
    return replace(rendered, pixels=pixels, size=size, notes=(*rendered.notes, note))


def _colour_code(colour: str, finish: Finish, *, deep: bool) -> npt.NDArray[Any]:
    """The border's colour in the destination's codes."""
    digits = colour.removeprefix("#")
    if len(digits) != 6 or any(c not in "0123456789abcdefABCDEF" for c in digits):  # noqa: PLR2004
        raise DeliveryError(
            f"'{colour}' is not a colour such as '#f4f1ec'", way_out="Write it as #rrggbb, in sRGB"
        )
    codes = np.array([int(digits[at : at + 2], 16) for at in (0, 2, 4)])
    target = target_of(finish.profile, intent=finish.intent, black_point=finish.black_point)
    moved = _encoded(srgb_linear(codes / 255), target.space)
    if target.device is not None:
        one = np.rint(moved * 65535).astype(np.uint16).reshape(1, 1, -1)
        return np.asarray(converted_out(one, target, 16 if deep else 8)[0, 0])
    return np.asarray(np.rint(moved * (65535 if deep else 255)), np.uint16 if deep else np.uint8)


def _encoded(linear: npt.NDArray[Any], space: Space) -> npt.NDArray[Any]:
    """Linear sRGB as codes 0..1 of ``space``."""
    xyz = SPACES["srgb"].matrix @ linear
    own = xyz[1:2] if space.channels == 1 else np.linalg.solve(space.matrix, xyz)
    return np.asarray(np.interp(np.clip(own, 0, 1), space.curve, icc.GRID))


def plainness(rendered: Rendered, edge: Edge) -> Plainness:
    """How plain the strip along ``edge`` is."""
    strip = _outward(rendered.pixels, edge)[-_depth(rendered.size) :].astype(np.float64)
    if rendered.pixels.dtype == np.uint16:
        strip /= 257
    smooth = _smoothed(strip)
    slope = _even_slope(smooth)
    return Plainness(
        grain=float((strip - smooth).std(axis=(0, 1)).max()),
        change=float(np.ptp(smooth - slope, axis=(0, 1)).max()),
        fall_off=float(np.ptp(slope, axis=(0, 1)).max()),
    )


def _even_slope(smooth: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """The plane nearest to the strip in least squares, per channel."""
    rows, columns, channels = smooth.shape
    down, across = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j]
    plane = np.stack((np.ones(rows * columns), down.ravel(), across.ravel()), axis=1)
    # The three are at right angles on a grid, so that each is a mean of its own.
    part = (plane.T @ smooth.reshape(-1, channels)) / (plane**2).sum(axis=0)[:, np.newaxis]
    return np.asarray((plane @ part).reshape(smooth.shape))


def extended(rendered: Rendered, edge: Edge, by_px: int) -> Rendered:
    """The picture with its backdrop carried on past ``edge``; refused unless it is plain there."""
    found = plainness(rendered, edge)
    if not found.plain:
        raise DeliveryError(
            f"the backdrop at the {edge} edge is not plain: its grain is {found.grain:.1f} codes "
            f"(at most {MOST_GRAIN:g}), it strays {found.change:.1f} codes from an even slope "
            f"(at most {MOST_CHANGE:g}), and that slope is {found.fall_off:.0f} "
            f"(at most {MOST_FALL_OFF:g})",
            way_out="Use a border in a stated colour, another crop, or another version",
        )
    turned = _outward(rendered.pixels, edge)
    strip = turned[-_depth(rendered.size) :].astype(np.float64)
    made = np.rint(carried_on(strip, _smoothed(strip), by_px))
    new = np.clip(made, 0, np.iinfo(turned.dtype).max).astype(turned.dtype)
    grown = np.concatenate((turned, new))
    pixels = np.ascontiguousarray(_inward(grown, edge))
    note = (
        f"the backdrop was carried on by {by_px} px past the {edge} edge (made, not photographed)"
    )
    size = Size(pixels.shape[1], pixels.shape[0])
    return replace(rendered, pixels=pixels, size=size, notes=(*rendered.notes, note))


def _depth(size: Size) -> int:
    """Rows of the measured strip."""
    return max(LEAST_STRIP_PX, round(min(size.width, size.height) * STRIP_SHARE))


def _outward(pixels: npt.NDArray[Any], edge: Edge) -> npt.NDArray[Any]:
    """The picture turned so that ``edge`` is its last row."""
    if edge is Edge.BOTTOM:
        return pixels
    if edge is Edge.TOP:
        return pixels[::-1]
    across = pixels.swapaxes(0, 1)
    return across if edge is Edge.RIGHT else across[::-1]


def _inward(pixels: npt.NDArray[Any], edge: Edge) -> npt.NDArray[Any]:
    """Turned back."""
    if edge in {Edge.BOTTOM, Edge.TOP}:
        return _outward(pixels, edge)
    return (pixels if edge is Edge.RIGHT else pixels[::-1]).swapaxes(0, 1)


def _smoothed(strip: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """The strip without its grain: a box of a few pixels, edges repeated."""
    import cv2  # noqa: PLC0415

    side = min(LEAST_STRIP_PX * 2 + 1, 2 * (min(strip.shape[:2]) // 2) - 1)
    blurred: Any = cv2.blur(strip, (side, side), borderType=cv2.BORDER_REPLICATE)
    return np.asarray(blurred).reshape(strip.shape)
