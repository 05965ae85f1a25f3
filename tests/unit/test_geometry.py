"""Boxes, shapes and lengths: the conventions of the whole program, by example."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from cropper.geometry import (
    WHOLE,
    Extent,
    NormalBox,
    PixelBox,
    Point,
    Size,
    half_up,
    mm_to_px,
    shorter_side,
    size_for,
)

HALF = Fraction(1, 2)


def test_halves_go_up_where_python_would_send_them_to_the_even_neighbour() -> None:
    assert round(2512.5) == 2512
    assert half_up(Fraction(5025, 2)) == half_up(2512.5) == 2513
    assert half_up(-0.5) == half_up(Fraction(-1, 2)) == 0


def test_a_float_just_below_a_half_stays_down() -> None:
    assert half_up(0.49999999999999994) == 0


def test_boxes_are_half_open() -> None:
    box = PixelBox(0, 0, 10, 5)
    assert (box.width, box.height, box.size) == (10, 5, Size(10, 5))
    assert box.centre == Point(5.0, 2.5)
    assert box.inside(Size(10, 5))
    assert not box.inside(Size(9, 5))


@pytest.mark.parametrize("edges", [(0, 0, 0, 5), (3, 0, 2, 5), (0, 5, 10, 5)])
def test_a_box_that_exists_is_not_empty(edges: tuple[int, int, int, int]) -> None:
    with pytest.raises(ValueError, match="empty"):
        PixelBox(*edges)
    with pytest.raises(ValueError, match="empty"):
        Extent(*edges)


def test_an_extent_may_reach_past_the_master_and_knows_its_middle() -> None:
    head = Extent(-4.0, -2.0, 6.0, 8.0)
    assert (head.width, head.height, head.centre) == (10.0, 10.0, Point(1.0, 3.0))


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_a_point_has_finite_coordinates(bad: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        Point(bad, 0.0)


def test_a_size_has_at_least_one_pixel_each_way() -> None:
    assert Size(3, 2).turned == Size(2, 3)
    with pytest.raises(ValueError, match="at least one pixel"):
        Size(0, 2)


def test_distance_and_middle_of_two_points() -> None:
    assert Point(0, 0).to(Point(3, 4)) == 5
    assert Point(0, 0).midway(Point(3, 4)) == Point(1.5, 2)


def test_overlap_is_one_with_itself_and_nothing_with_a_neighbour_that_only_touches() -> None:
    box = PixelBox(0, 0, 4, 4)
    assert box.overlap(box) == 1
    assert box.overlap(PixelBox(4, 0, 8, 4)) == 0
    assert box.overlap(PixelBox(2, 0, 6, 4)) == pytest.approx(1 / 3)


def test_a_normal_box_lies_in_its_frame() -> None:
    with pytest.raises(ValueError, match="normal box"):
        NormalBox(Fraction(0), Fraction(0), Fraction(3, 2), Fraction(1))
    with pytest.raises(ValueError, match="normal box"):
        NormalBox(HALF, Fraction(0), HALF, Fraction(1))


def test_the_top_seventh_of_the_right_half_in_pixels() -> None:
    right = NormalBox(HALF, Fraction(0), Fraction(1), Fraction(1))
    top = NormalBox(Fraction(0), Fraction(0), Fraction(1), Fraction(1, 7))
    both = top.within(right)
    assert both == NormalBox(HALF, Fraction(0), Fraction(1), Fraction(1, 7))
    assert both.of(PixelBox(100, 70, 300, 140)) == Extent(200, 70, 300, 80)
    assert WHOLE.within(right) == right


def test_size_comes_from_the_longer_side() -> None:
    assert size_for(1350, Fraction(4, 5)) == Size(1080, 1350)
    assert size_for(1920, Fraction(16, 9)) == Size(1920, 1080)
    assert size_for(7, Fraction(1)) == Size(7, 7)
    assert shorter_side(1, Fraction(1, 100)) == 1


def test_a_length_becomes_pixels_once_at_the_end() -> None:
    assert mm_to_px(Fraction(216), Fraction(300)) == 2551
    # Rounding trim and bleed apart and adding would give 2480 + 2 x 35 = 2550.
    assert mm_to_px(Fraction(210), Fraction(300)) + 2 * mm_to_px(Fraction(3), Fraction(300)) == 2550
