"""No bands: a noiseless gradient in 16 bits, as files of 8 bits show it."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter

from cropper.deliverable.dithering import SIDE, thresholds
from cropper.deliverable.finishing import finished, finisher_for
from cropper.deliverable.light import PEDESTAL, SPAN, SRGB
from cropper.geometry import Size
from cropper.master.spaces import SPACES
from tests.reference import floats

WIDE, HIGH = 1200, 256


def made(codes: npt.NDArray[Any], *, dither: bool) -> npt.NDArray[Any]:
    """The finished sRGB picture of code values (with fractions)."""
    light = floats.srgb_decoded(codes / 255)
    lit = np.rint(PEDESTAL + SPAN * light).astype(np.uint16)[:, :, np.newaxis].repeat(3, axis=2)
    how = finisher_for(SRGB.matrix, SPACES["srgb"], None, deep=False, dither=dither)
    strips = (lit[top : top + 50] for top in range(0, len(lit), 50))
    return finished(strips, Size(lit.shape[1], lit.shape[0]), how)


def gradient() -> npt.NDArray[Any]:
    """A backdrop that falls off by 40 codes over 1200 px: 30 px a code."""
    return np.broadcast_to(np.linspace(120, 160, WIDE), (HIGH, WIDE))


def test_without_dither_a_smooth_backdrop_has_bands() -> None:
    plain = made(gradient(), dither=False)[:, :, 0]
    steps = np.flatnonzero(np.diff(plain[0].astype(int)))
    assert np.diff(steps).min() >= 25  # bands of so many pixels, straight from top to bottom
    assert (plain == plain[0]).all()


def lines(picture: npt.NDArray[Any]) -> float:
    """How strongly upright lines stand out to an eye that blurs by 1.5 px: codes, rms."""
    seen = gaussian_filter(picture.astype(float), 1.5).mean(axis=0)
    return float(np.diff(seen).std())


def as_jpeg(picture: npt.NDArray[Any], quality: int) -> npt.NDArray[Any]:
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "JPEG", quality=quality, subsampling=0)
    return np.asarray(Image.open(file))[:, :, 1]


def test_with_dither_the_lines_are_gone() -> None:
    before, after = made(gradient(), dither=False), made(gradient(), dither=True)
    assert lines(after[:, :, 0]) <= 0.35 * lines(before[:, :, 0])


@pytest.mark.parametrize("quality", [90, 95])
def test_a_jpeg_carries_the_dither(quality: int) -> None:
    before = as_jpeg(made(gradient(), dither=False), quality)
    after = as_jpeg(made(gradient(), dither=True), quality)
    assert lines(after) <= 0.45 * lines(before)
    # and lies nearer to the gradient than the bands did
    off = [gaussian_filter(one.astype(float), 1.5) - gradient() for one in (before, after)]
    assert off[1].std() <= off[0].std()


def test_no_pixel_moves_by_more_than_the_codes_on_both_sides() -> None:
    after = made(gradient(), dither=True)[:, :, 0].astype(float)
    assert np.abs(after - gradient()).max() < 1.02  # 16 bits of light between


def test_whole_codes_stay_as_they_are_and_grey_stays_grey() -> None:
    codes = np.repeat(np.arange(20, 256.0), 4)[np.newaxis].repeat(HIGH, axis=0)
    after = made(codes, dither=True)
    assert np.array_equal(after[:, :, 0], codes)
    free = made(gradient(), dither=True)
    assert np.array_equal(free[:, :, 0], free[:, :, 1])
    assert np.array_equal(free[:, :, 0], free[:, :, 2])


def test_the_same_picture_gives_the_same_bytes_whatever_its_strips() -> None:
    light = floats.srgb_decoded(gradient() / 255)
    lit = np.rint(PEDESTAL + SPAN * light).astype(np.uint16)[:, :, np.newaxis].repeat(3, axis=2)
    how = finisher_for(SRGB.matrix, SPACES["srgb"], None, deep=False, dither=True)
    one = finished(iter([lit]), Size(WIDE, HIGH), how)
    many = finished((lit[top : top + 37] for top in range(0, HIGH, 37)), Size(WIDE, HIGH), how)
    assert np.array_equal(one, many)


def test_the_noise_has_no_grain_coarser_than_ten_pixels() -> None:
    tile = thresholds(64).astype(float)
    power = np.abs(np.fft.fft2(tile - tile.mean())) ** 2
    away = np.minimum(np.arange(SIDE), SIDE - np.arange(SIDE)) / SIDE
    coarse = np.hypot(away[:, np.newaxis], away[np.newaxis, :]) < 0.08
    assert power[coarse].sum() <= 0.05 * power.sum()
