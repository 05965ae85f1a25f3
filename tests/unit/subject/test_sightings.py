"""Sightings: merging, tiles, and square pieces cut from the picture."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from cropper.subject.detecting import OVERLAP, Sighting, _starts, merged, overlap
from cropper.subject.pyramid import Pyramid, normalised_grey

sightings = st.builds(
    Sighting,
    st.floats(0, 1000),
    st.floats(0, 1000),
    st.floats(10, 300),
    st.just(0.0),
    st.floats(0.5, 1.0),
)


@given(sightings, sightings)
def test_overlap_is_a_share_and_mutual(one: Sighting, other: Sighting) -> None:
    assert 0 <= overlap(one, other) <= 1
    assert overlap(one, other) == overlap(other, one)
    assert overlap(one, one) > 0.999


@given(st.lists(sightings, max_size=12))
def test_merging_keeps_the_best_and_no_two_of_one_face(seen: list[Sighting]) -> None:
    kept = merged(seen)
    assert set(kept) <= set(seen)
    assert merged(list(reversed(seen))) == kept
    assert all(
        overlap(one, other) < 0.3 for index, one in enumerate(kept) for other in kept[:index]
    )
    if seen:
        assert kept[0].score == max(one.score for one in seen)


@given(st.floats(50, 9000), st.floats(100, 1000))
def test_tiles_cover_the_picture_with_their_overlap(length: float, tile: float) -> None:
    starts = _starts(length, tile)
    assert starts[0] <= 1e-6
    assert starts[-1] + tile >= length - 1e-6
    steps = np.diff(starts)
    assert np.all(steps <= tile * (1 - OVERLAP) + 1e-6)


@given(st.floats(-180, 180), st.floats(30, 400), st.floats(0, 300), st.floats(0, 200))
def test_points_go_to_a_piece_and_back(angle: float, side: float, x: float, y: float) -> None:
    pyramid = Pyramid(np.zeros((200, 300, 3), np.uint8))
    piece = pyramid.piece((150, 100), side, angle_deg=angle, out=64)
    there = piece.from_master(np.array([[x, y]]))
    assert np.allclose(piece.to_master(there), [[x, y]], atol=1e-6)


def test_a_piece_shows_the_pixels_it_says() -> None:
    pixels = np.zeros((200, 300, 3), np.uint8)
    pixels[120:124, 210:214] = 255
    piece = Pyramid(pixels).piece((212, 122), 32, angle_deg=30, out=32)
    rows, columns = np.nonzero(piece.pixels[:, :, 0] > 127)
    assert abs(float(columns.mean()) + 0.5 - 16) < 0.3
    assert abs(float(rows.mean()) + 0.5 - 16) < 0.3


def test_light_of_one_colour_becomes_a_full_grey() -> None:
    pixels = np.zeros((50, 50, 3), np.uint8)
    pixels[:, :, 2] = np.linspace(40, 90, 50).astype(np.uint8)
    grey = normalised_grey(pixels)
    assert grey.max() == 255
    assert grey.min() == 0
    assert (grey[:, :, 0] == grey[:, :, 2]).all()
