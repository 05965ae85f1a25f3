"""Plane maps: algebra by Hypothesis, the solver against OpenCV's own, which shares no code."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.likeness.features import Features, Grey, features, matched
from cropper.likeness.registration import Lie, laid, registered

numbers = st.floats(-50, 50)
scales = st.floats(0.2, 5)
turns = st.floats(-0.5, 0.5)


@st.composite
def lies(draw: st.DrawFn) -> Lie:
    scale, turn = draw(scales), draw(turns)
    cos, sin = scale * np.cos(turn), scale * np.sin(turn)
    return Lie(across=(cos, -sin, draw(numbers)), down=(sin, cos, draw(numbers)))


@given(lies())
def test_the_way_there_and_back_leads_home(lie: Lie) -> None:
    points = np.array([[0.0, 0.0], [10.0, 3.0], [-4.0, 7.0]])
    assert np.allclose(lie.back()(lie(points)), points, atol=1e-6)


@given(lies(), lies())
def test_one_map_after_another_is_their_product(one: Lie, other: Lie) -> None:
    points = np.array([[1.0, 2.0], [5.0, -3.0]])
    assert np.allclose(one.then(other)(points), other(one(points)), atol=1e-6)


@given(lies())
def test_a_similarity_is_plausible_and_tells_its_scale(lie: Lie) -> None:
    assert lie.plausible
    assert lie.squeeze == pytest.approx(1)
    assert lie.scale == pytest.approx(np.hypot(lie.across[0], lie.down[0]))


def test_what_is_mirrored_or_squashed_is_no_lie() -> None:
    assert not Lie.scaled(-1, 1).plausible
    assert not Lie.scaled(2, 1).plausible


def test_a_map_onto_a_line_is_refused() -> None:
    with pytest.raises(ValueError, match="no plane map"):
        Lie(across=(1, 0, 0), down=(2, 0, 0))


def test_half_a_pixel_stays_where_it_is_when_drawn() -> None:
    """Edges meet edges: doubling keeps each pixel as a block of four [half-open convention]."""
    picture = np.asarray(np.kron(np.eye(8), np.ones((4, 4))) * 200, np.uint8)
    doubled, covered = laid(picture, Lie.scaled(2, 2), (64, 64))
    centres = doubled[3::8, 3::8]
    assert covered.all()
    assert np.abs(centres - picture[1::4, 1::4]).max() < 1


def wool(seed: int = 3, size: int = 300) -> Grey:
    noise = np.random.default_rng(seed).normal(0, 1, (size, size))
    soft = cv2.GaussianBlur(noise, (0, 0), 2.5)
    return np.asarray(np.clip(128 + 60 * soft / soft.std(), 0, 255), np.uint8)


def test_a_known_map_is_found_back_as_opencv_draws_it() -> None:
    """``cv2.warpAffine`` with a matrix written out here makes the picture; centres are its way."""
    picture = wool()
    turn = np.deg2rad(4)
    matrix = np.array(
        [
            [0.8 * np.cos(turn), 0.8 * np.sin(turn), 12],
            [-0.8 * np.sin(turn), 0.8 * np.cos(turn), 40],
        ]
    )
    drawn = np.asarray(cv2.warpAffine(picture, matrix, (280, 280)), np.uint8)
    found = registered(features(drawn, 800), features(picture, 800))
    assert found is not None
    centre = np.array([[150.0, 150.0]])  # a pixel centre of OpenCV's is half a pixel more of ours
    expected = centre @ matrix[:, :2].T + matrix[:, 2] + 0.5
    assert np.abs(found.lie.back()(centre + 0.5) - expected).max() < 0.2
    assert found.residual_px < 1


def test_unrelated_noise_lies_on_nothing() -> None:
    assert registered(features(wool(1), 800), features(wool(2), 800)) is None


@pytest.mark.parametrize("grey", [np.full((200, 200), 128, np.uint8), np.zeros((1, 1), np.uint8)])
def test_a_blank_or_tiny_picture_has_no_features(grey: Grey) -> None:
    none = features(grey, 100)
    assert len(none) == 0
    assert registered(none, features(wool(), 100)) is None


def test_matching_agrees_with_opencvs_matcher() -> None:
    """Brute force by ``cv2.BFMatcher`` on the same rooted descriptors, ratio .8."""
    one, other = features(wool(), 300), features(np.ascontiguousarray(wool()[20:, 30:]), 300)
    here, _ = matched(one, other)
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(one.rooted(), other.rooted(), k=2)
    kept = [first for first, second in pairs if first.distance < 0.8 * second.distance]
    theirs = {tuple(one.points[match.queryIdx]) for match in kept}
    assert {tuple(point) for point in here} == theirs


def test_features_refuse_counts_that_differ() -> None:
    with pytest.raises(ValueError, match="differ"):
        Features(points=np.zeros((2, 2), np.float32), descriptors=np.zeros((1, 128), np.uint8))
