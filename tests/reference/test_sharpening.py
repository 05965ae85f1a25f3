"""Output sharpening on targets with a known answer: slanted edge (ISO 12233), flats, colours."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from scipy.ndimage import gaussian_filter1d
from scipy.special import erf

from cropper.deliverable.finishing import finished, finisher_for
from cropper.deliverable.light import SRGB, light_of
from cropper.deliverable.sharpening import halo_px, sharpening_for
from cropper.destination.destination import Finish, Medium
from cropper.geometry import Size
from cropper.master.spaces import SPACES
from tests.reference import floats

Pixels = npt.NDArray[Any]
LIGHT = light_of(SRGB, 8)
MEDIA = [
    (Medium.SCREEN, None),
    (Medium.CONTINUOUS_TONE, 300),
    (Medium.HALFTONE, 300),
    (Medium.CANVAS, 150),
]


def sharpened(codes: Pixels, medium: Medium, ppi: float | None) -> Pixels:
    how = sharpening_for(Finish(medium=medium), ppi)
    assert how is not None
    finisher = finisher_for(SRGB.matrix, SPACES["srgb"], how, deep=False)
    rows = [LIGHT.lit(codes[top : top + 64]) for top in range(0, len(codes), 64)]
    return finished(iter(rows), Size(codes.shape[1], codes.shape[0]), finisher)


def slanted() -> tuple[Pixels, Pixels]:
    """A 5 degree edge, its profile a Gaussian's integral, in code values."""
    low, high, blur, size = 70.0, 180.0, 0.8, 256
    y, x = np.mgrid[0:size, 0:size] + 0.5
    across = (x - size / 2) * np.cos(np.radians(5)) + (y - size / 2) * np.sin(np.radians(5))
    step = 0.5 * (1 + erf(across / (blur * np.sqrt(2))))
    return np.rint(low + (high - low) * step).astype(np.uint8)[:, :, np.newaxis].repeat(
        3, axis=2
    ), across


def edge_spread(picture: Pixels, across: Pixels) -> Pixels:
    """The edge profile at a quarter pixel (ISO 12233: bins of the projected distance)."""
    bins = np.arange(-12, 12.01, 0.25)
    where = np.digitize(across.ravel(), bins)
    values = picture[:, :, 0].astype(float).ravel()
    return np.array([values[where == i].mean() for i in range(1, len(bins))])


def mtf50(spread: Pixels) -> float:
    """Frequency in cycles per pixel at which the modulation falls to a half."""
    line = np.diff(spread) * np.hanning(len(spread) - 1)
    mtf = np.abs(np.fft.rfft(line, 4096))
    mtf /= mtf[0]
    frequency = np.fft.rfftfreq(4096, 0.25)
    return float(frequency[np.argmax(mtf < 0.5)])


@pytest.mark.parametrize(
    ("medium", "ppi", "least_gain", "most_overshoot"),
    [
        (Medium.SCREEN, None, 1.08, 0.02),
        (Medium.CONTINUOUS_TONE, 300, 1.25, 0.06),
        (Medium.HALFTONE, 300, 1.28, 0.11),
        (Medium.CANVAS, 150, 1.28, 0.11),
    ],
)
def test_the_edge_gets_crisper_and_overshoots_little(
    medium: Medium, ppi: float | None, least_gain: float, most_overshoot: float
) -> None:
    picture, across = slanted()
    before, after = (
        edge_spread(picture, across),
        edge_spread(sharpened(picture, medium, ppi), across),
    )
    assert mtf50(after) / mtf50(before) >= least_gain
    assert (after.max() - 180) / 110 <= most_overshoot
    assert (70 - after.min()) / 110 <= most_overshoot


@pytest.mark.parametrize(("medium", "ppi"), MEDIA)
def test_the_halo_ends_within_the_blurs_reach(medium: Medium, ppi: float | None) -> None:
    picture, across = slanted()
    how = sharpening_for(Finish(medium=medium), ppi)
    assert how is not None
    changed = np.abs(sharpened(picture, medium, ppi).astype(int) - picture).max(axis=2) > 1
    assert np.abs(across[changed]).max() <= how.reach + 3 * 0.8


@pytest.mark.parametrize(("medium", "ppi"), MEDIA)
def test_flat_grain_does_not_get_louder(medium: Medium, ppi: float | None) -> None:
    grain = np.random.default_rng(11).normal(160, 1.5, (256, 256, 1))
    codes = np.rint(grain).astype(np.uint8).repeat(3, axis=2)
    assert sharpened(codes, medium, ppi).std() / codes.std() <= 1.05


@pytest.mark.parametrize(("medium", "ppi"), MEDIA)
def test_the_picture_becomes_neither_lighter_nor_darker(medium: Medium, ppi: float | None) -> None:
    codes = floats.scene(512, 512)
    moved = sharpened(codes, medium, ppi).astype(float).mean() - codes.astype(float).mean()
    assert abs(moved) <= 0.1


@pytest.mark.parametrize(("medium", "ppi"), MEDIA)
def test_edges_between_colours_get_no_fringe(medium: Medium, ppi: float | None) -> None:
    line = np.zeros((1, 200, 3))
    line[:, :100], line[:, 100:] = (190, 140, 120), (70, 80, 95)
    codes = np.rint(gaussian_filter1d(line, 0.8, axis=1)).astype(np.uint8).repeat(64, axis=0)
    after = sharpened(codes, medium, ppi)
    labs = [
        floats.colour.XYZ_to_Lab(
            floats.srgb_decoded(p / 255.0)
            @ np.asarray(floats.colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ).T,
            np.array([0.3127, 0.3290]),
        )
        for p in (codes, after)
    ]
    chroma = [np.hypot(lab[..., 1], lab[..., 2]) for lab in labs]
    assert np.percentile(np.abs(chroma[1] - chroma[0]), 95) <= 1


def test_a_press_hand_off_is_not_sharpened() -> None:
    assert sharpening_for(Finish(medium=Medium.PRESS_HAND_OFF), 300) is None
    assert sharpening_for(Finish(sharpen=False), 300) is None


@pytest.mark.parametrize(
    ("medium", "ppi", "distance_mm", "expected"),
    [
        (Medium.CONTINUOUS_TONE, 300, None, 3.0),  # handbook: about 3 px at 300 ppi
        (Medium.HALFTONE, 266, None, 4.0),  # handbook: at least 4 px at 266 ppi, 133 lpi
        (Medium.CONTINUOUS_TONE, 100, 1219.2, 4.0),  # 48 in away: four times 1/100 in
        (Medium.CONTINUOUS_TONE, 100, 6096, 4.0),  # and never more
        (Medium.CONTINUOUS_TONE, 300, 100, 1.5),  # never less than half
    ],
)
def test_the_halo_follows_the_handbook_rule(
    medium: Medium, ppi: float, distance_mm: float | None, expected: float
) -> None:
    distance = None if distance_mm is None else Fraction(str(distance_mm))
    finish = Finish(medium=medium, viewing_distance_mm=distance)
    assert halo_px(finish, ppi) == pytest.approx(expected)
