"""Which exported crop a found one comes from."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.geometry import Crop, PixelBox, Point
from cropper.likeness.cuts import corners, cut_from, nearest
from cropper.likeness.likeness import FoundCrop


def found(box: PixelBox, turn: float = 0.0) -> FoundCrop:
    return FoundCrop(
        centre=box.centre, width=box.width, height=box.height, turn_deg=turn, give_px=1
    )


WHOLE = ("whole", Crop(PixelBox(0, 0, 3000, 2000)))
SQUARE = ("square", Crop(PixelBox(500, 200, 2000, 1700)))
AVATAR = ("avatar", Crop(PixelBox(502, 202, 2002, 1702)))


def test_the_very_crop_is_told_whole() -> None:
    told = cut_from(found(SQUARE[1].box), [WHOLE, SQUARE])
    assert [one.of for one in nearest(told)] == ["square"]
    assert told[0].whole
    assert told[0].overlap == pytest.approx(1)


def test_destinations_that_share_a_crop_are_all_named() -> None:
    told = cut_from(found(SQUARE[1].box), [WHOLE, AVATAR, SQUARE])
    assert {one.of for one in nearest(told)} == {"square", "avatar"}


def test_a_file_that_was_cut_further_may_come_from_any_larger_crop() -> None:
    told = cut_from(found(PixelBox(700, 400, 1700, 1400)), [WHOLE, SQUARE])
    assert [one.of for one in told] == ["square", "whole"]
    assert not told[0].whole


def test_a_file_that_shows_more_than_a_crop_does_not_come_from_it() -> None:
    assert cut_from(found(PixelBox(300, 100, 2300, 1900)), [SQUARE]) == ()


@given(st.integers(0, 900), st.integers(0, 400), st.integers(200, 1000), st.integers(200, 1000))
def test_overlap_of_plain_boxes_is_that_of_geometry(x: int, y: int, wide: int, high: int) -> None:
    """PixelBox.overlap counts whole pixels; the polygons' area is OpenCV's."""
    box = PixelBox(x, y, x + wide, y + high)
    told = cut_from(found(box), [WHOLE])
    assert told[0].overlap == pytest.approx(box.overlap(WHOLE[1].box), abs=1e-3)


def test_a_straightened_crop_is_its_own_turned_box() -> None:
    turned = Crop(PixelBox(500, 200, 2000, 1700), straighten_deg=3)
    told = cut_from(found(turned.box, 3), [("turned", turned)])
    assert told[0].overlap == pytest.approx(1, abs=1e-6)


def test_corners_turn_clockwise_with_y_down() -> None:
    quarter = corners(Crop(PixelBox(0, 0, 10, 10), straighten_deg=90))
    assert quarter[0].x == pytest.approx(10)
    assert quarter[0].y == pytest.approx(0)
    assert corners(Crop(PixelBox(0, 0, 4, 2)))[2] == Point(4, 2)
