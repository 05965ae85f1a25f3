"""Resampling in linear light against a double-precision reference and known averages.

Sources beside each check; the float reference is ``floats.py``.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import pyvips

from cropper.deliverable.finishing import finished, finisher_for
from cropper.deliverable.levels import BELOW, Levels
from cropper.deliverable.light import SRGB, Light, light_of
from cropper.deliverable.straightening import strip, turned
from cropper.geometry import Crop, Extent, PixelBox, Size
from cropper.master import icc
from cropper.master.resampling import resized
from cropper.master.spaces import SPACES
from tests.reference import floats

OP = SPACES["oprgb"]
WIDE = light_of(icc.MatrixProfile(curves=np.array([OP.curve] * 3), matrix=OP.matrix), 8)
SCENE = floats.scene(900, 700)


def rendered(
    codes: npt.NDArray[Any],
    way: tuple[Light, npt.NDArray[Any]],
    box: Extent,
    size: Size,
    *,
    rows: int = 61,
) -> npt.NDArray[Any]:
    """The unsharpened sRGB picture of ``box``; ``way`` is a light and its primaries."""
    light, source = way
    levels = Levels(codes, light)
    how = finisher_for(source, SPACES["srgb"], None, deep=False)
    return finished(levels.strips(levels.part(box, size), size, rows), size, how)


@pytest.mark.parametrize("factor", [2, 4, 8, 16])
def test_a_checkerboard_of_black_and_white_becomes_188(factor: int) -> None:
    # encode(.5) x 255 = 187.5 (IEC 61966-2-1; reference linear_avg); in gamma light it would be 128
    y, x = np.mgrid[0:256, 0:256]
    board = (((x + y) % 2) * 255).astype(np.uint8)[:, :, np.newaxis].repeat(3, axis=2)
    size = Size(256 // factor, 256 // factor)
    small = rendered(board, (light_of(SRGB, 8), SRGB.matrix), Extent(0, 0, 256, 256), size)
    inner = small[3:-3, 3:-3] if min(small.shape[:2]) > 8 else small
    assert np.abs(inner.astype(int) - 188).max() <= 1


@pytest.mark.parametrize(("codes", "mean"), [((64, 192), 146.41), ((50, 200), 149.94)])
def test_stripes_average_as_light_does(codes: tuple[int, int], mean: float) -> None:
    columns = np.array(codes * 64, np.uint8)[np.newaxis, :, np.newaxis]
    stripes = np.ascontiguousarray(np.broadcast_to(columns, (64, 128, 3)))
    small = rendered(stripes, (light_of(SRGB, 8), SRGB.matrix), Extent(0, 0, 128, 64), Size(32, 16))
    assert small[4:-4, 4:-4].mean() == pytest.approx(mean, abs=1)


@pytest.mark.parametrize("reduction", [0.8, 1.0, 1.12, 1.33, 1.85, 2.5, 3.4, 4.0, 4.9, 6.3, 9.0])
def test_pictures_lie_close_to_the_float_reference(reduction: float) -> None:
    width, height = int(840 / reduction), int(640 / reduction)
    box = Extent(31, 23, 31 + width * reduction, 23 + height * reduction)
    ours = rendered(SCENE, (WIDE, OP.matrix), box, Size(width, height))
    linear = (SCENE / 255) ** (563 / 256)
    reference = floats.resized(linear, (box.x0, box.y0, box.x1, box.y1), (width, height))
    truth = floats.srgb_encoded(floats.oprgb_to_srgb(reference)) * 255
    within = floats.not_below(reference, SCENE, (box.x0, box.y0), reduction, BELOW)
    assert within.mean() > 0.6
    difference = floats.delta_e(ours, truth)
    assert np.percentile(difference[within], 95) <= 0.55
    assert difference[within].max() <= 3


@pytest.mark.parametrize("reduction", [0.8, 1.12, 1.9, 2.4, 3.3, 5.2])
@pytest.mark.parametrize(("low", "high"), [(40, 200), (12, 230), (80, 180)])
def test_beside_a_hard_edge_nothing_gets_darker_than_the_dark_side(
    reduction: float, low: int, high: int
) -> None:
    # Lanczos-3 in linear light goes 22 to 26 % of such a step below it, in codes.
    n = 480
    y, x = np.mgrid[0:n, 0:n] + 0.5
    across = (x - n / 2) * np.cos(np.radians(5)) + (y - n / 2) * np.sin(np.radians(5))
    step = np.clip(across + 0.5, 0, 1)
    light_of_step = floats.srgb_decoded(low / 255 + 0 * step) * (1 - step)
    light_of_step += floats.srgb_decoded(high / 255 + 0 * step) * step
    codes = np.rint(floats.srgb_encoded(light_of_step) * 255).astype(np.uint8)
    picture = codes[:, :, np.newaxis].repeat(3, axis=2)
    side = int(n / reduction)
    box = Extent(0, 0, side * reduction, side * reduction)
    made = rendered(picture, (light_of(SRGB, 8), SRGB.matrix), box, Size(side, side))
    assert made.min() >= low - 1 - BELOW
    assert made.max() <= high + 0.08 * (high - low)


def test_a_lash_keeps_its_darkness() -> None:
    # A dark line of 1.5 px on skin, its depth against the float reference's.
    n, reduction = 480, 2.4
    y, x = np.mgrid[0:n, 0:n] + 0.5
    far = np.abs((x - n / 2) * np.cos(np.radians(9)) + (y - n / 2) * np.sin(np.radians(9)))
    cover = np.clip(1.25 - far, 0, 1)
    linear = floats.srgb_decoded(170 / 255 + 0 * cover) * (1 - cover) + 0.017 * cover
    codes = np.rint(floats.srgb_encoded(linear) * 255).astype(np.uint8)
    picture = codes[:, :, np.newaxis].repeat(3, axis=2)
    side, box = int(n / reduction), Extent(0, 0, n, n)
    made = rendered(picture, (light_of(SRGB, 8), SRGB.matrix), box, Size(side, side))
    truth = floats.resized(
        floats.srgb_decoded(picture / 255.0), (box.x0, box.y0, box.x1, box.y1), (side, side)
    )
    ours, theirs = made[:, :, 0].min(axis=1), floats.srgb_encoded(truth[:, :, 0]).min(axis=1) * 255
    assert np.abs(ours - theirs)[10:-10].max() <= 1


def test_no_seam_shows_between_strips() -> None:
    box, size = Extent(5, 7, 805, 667), Size(400, 330)
    whole = rendered(SCENE, (WIDE, OP.matrix), box, size, rows=10_000)
    cut = rendered(SCENE, (WIDE, OP.matrix), box, size, rows=17)
    assert np.abs(whole.astype(int) - cut.astype(int)).max() <= 1


def test_the_engine_in_use_is_nearer_the_float_reference_than_the_other() -> None:
    lit = WIDE.lit(SCENE)
    size = Size(437, 311)
    reference = floats.resized(lit.astype(float), (0, 0, 900, 700), (437, 311))
    ours = resized(lit, size).astype(float)
    image = pyvips.Image.new_from_array(np.ascontiguousarray(lit))
    other = image.resize(437 / 900, vscale=311 / 700, kernel="lanczos3").numpy()[:311, :437]
    ours_off = np.abs(ours - reference)[4:-4, 4:-4]
    other_off = np.abs(other.astype(float) - reference)[4:-4, 4:-4]
    assert ours_off.mean() < 1
    assert ours_off.mean() <= other_off.mean()
    assert ours_off.max() <= other_off.max()


def test_a_zone_plate_shows_little_aliasing() -> None:
    # Frequency rises to Nyquist at the rim; reduced by 3 everything beyond a third must be grey.
    n = 720
    y, x = np.mgrid[0:n, 0:n] - (n - 1) / 2
    wave = 0.5 + 0.5 * np.cos(np.pi * (x**2 + y**2) / n)
    codes = np.rint(floats.srgb_encoded(0.1 + 0.8 * wave) * 255).astype(np.uint8)
    plate = codes[:, :, np.newaxis].repeat(3, axis=2)
    small = rendered(plate, (light_of(SRGB, 8), SRGB.matrix), Extent(0, 0, n, n), Size(240, 240))
    radius = np.hypot(*(np.mgrid[0:240, 0:240] - 119.5)) * 3
    beyond = (radius > 0.45 * n) & (
        radius < 0.49 * n
    )  # .45 to .49 cycles/px: 1.35 x new Nyquist up
    light = floats.srgb_decoded(small[:, :, 0] / 255)[beyond]
    assert (light.max() - light.min()) / 0.8 <= 0.08


@pytest.mark.parametrize(("reduction", "degrees"), [(1.0, 3.0), (1.5, -7.0), (2.6, 12.0)])
def test_a_straightened_crop_is_resampled_once_and_rightly(
    reduction: float, degrees: float
) -> None:
    # A plane wave turned by the formula: the picture under the turned box is known exactly.
    n = 500
    y, x = np.mgrid[0:n, 0:n] + 0.5

    def wave(px: npt.NDArray[Any], py: npt.NDArray[Any]) -> npt.NDArray[Any]:
        return np.asarray(0.5 + 0.3 * np.sin(px / 9.0 + py / 14.0))

    codes = np.rint(floats.srgb_encoded(wave(x, y)) * 255).astype(np.uint8)
    picture = codes[:, :, np.newaxis].repeat(3, axis=2)
    crop = Crop(PixelBox(130, 150, 370, 390), degrees)
    side = int(240 / reduction)
    size = Size(side, side)
    lit = strip(turned(crop, size), size, 0, side, Levels(picture, light_of(SRGB, 8)))
    how = finisher_for(SRGB.matrix, SPACES["srgb"], None, deep=False)
    found = finished(iter([lit]), size, how)[:, :, 0].astype(float)
    v, u = (np.mgrid[0:side, 0:side] + 0.5) * (240 / side) - 120
    turn = np.radians(degrees)
    px, py = 250 + u * np.cos(turn) - v * np.sin(turn), 270 + u * np.sin(turn) + v * np.cos(turn)
    truth = floats.srgb_encoded(wave(px, py)) * 255
    assert np.abs(found - truth).max() <= 2.5
    assert np.abs(found - truth).mean() <= 0.6
