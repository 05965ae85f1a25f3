"""A person placed by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.geometry import Point, Size
from cropper.subject.by_hand import by_hand, placed
from cropper.subject.subject import Finding, Origin

SIZE = Size(4000, 4000)


def test_a_head_is_built_from_two_eyes_by_proportions() -> None:
    one = by_hand(SIZE, Point(1900, 2000), Point(2100, 2000))
    head = 200 / 0.281
    assert one.eyes_from is Origin.HAND
    assert one.chin.origin is Origin.ESTIMATED
    assert one.head_height_px == pytest.approx(head)
    assert one.chin.at.y == pytest.approx(2000 + 0.505 * head)
    assert one.hair_top.at.y < one.skull_top.at.y < one.hairline.at.y < one.brows.at.y < 2000
    assert one.chin.sigma_px == pytest.approx(0.075 * head)


@given(st.floats(-80, 80), st.floats(60, 400))
def test_the_head_leans_with_the_eyes(tilt: float, between: float) -> None:
    turn = math.radians(tilt)
    dx, dy = math.cos(turn) * between / 2, math.sin(turn) * between / 2
    one = by_hand(SIZE, Point(2000 - dx, 2000 - dy), Point(2000 + dx, 2000 + dy))
    along = (dx * (one.chin.at.x - 2000) + dy * (one.chin.at.y - 2000)) / between
    assert abs(along) < 1e-6 * between + 1e-6
    assert one.chin.at.y > 2000 > one.skull_top.at.y
    assert one.tilt_deg == pytest.approx(tilt, abs=1e-6)


def test_the_eyes_may_be_given_in_either_order() -> None:
    assert by_hand(SIZE, Point(2100, 2000), Point(1900, 2010)) == by_hand(
        SIZE, Point(1900, 2010), Point(2100, 2000)
    )


def test_a_chin_above_the_eyes_turns_the_head_over() -> None:
    one = by_hand(SIZE, Point(1900, 2000), Point(2100, 2000), chin=Point(2000, 1640))
    assert one.skull_top.at.y > 2000
    assert one.chin.at == Point(2000, 1640)
    assert one.chin.origin is Origin.HAND


def test_a_given_crown_is_kept_and_ends_the_head_box() -> None:
    one = by_hand(SIZE, Point(1900, 2000), Point(2100, 2000), crown=Point(2010, 1500))
    assert one.hair_top.at == Point(2010, 1500)
    assert one.head_box.y0 == 1500
    assert one.crown_in_frame


def test_a_crown_below_the_estimated_skull_lowers_the_skull() -> None:
    one = by_hand(SIZE, Point(1900, 2000), Point(2100, 2000), crown=Point(2000, 1720))
    assert one.skull_top.at.y == 1720


def test_a_head_at_the_upper_edge_has_its_crown_outside() -> None:
    assert not by_hand(SIZE, Point(1900, 100), Point(2100, 100)).crown_in_frame


def test_what_was_found_near_the_eyes_is_kept() -> None:
    found = by_hand(SIZE, Point(1890, 2010), Point(2110, 2000), chin=Point(1995, 2430))
    one = by_hand(SIZE, Point(1900, 2000), Point(2100, 2000), found=found)
    assert one.chin == found.chin
    assert one.left_eye == Point(1900, 2000)


def test_somebody_found_elsewhere_is_not_meant() -> None:
    found = by_hand(SIZE, Point(400, 400), Point(600, 400))
    one = by_hand(SIZE, Point(1900, 2000), Point(2100, 2000), found=found)
    assert one.chin.at.y > 2000


def test_placing_replaces_the_person_and_makes_bystanders_of_the_others() -> None:
    near = by_hand(SIZE, Point(1890, 2010), Point(2110, 2000))
    far = by_hand(SIZE, Point(400, 400), Point(600, 400))
    finding = Finding(size=SIZE, subjects=(far, near), problem="look")
    after = placed(finding, Point(1900, 2000), Point(2100, 2000))
    assert [one.principal for one in after.subjects] == [False, True]
    assert after.problem is None


@pytest.mark.parametrize(
    ("left", "right", "said"),
    [
        (Point(10, 10), Point(10, 10), "one place"),
        (Point(-5, 10), Point(100, 10), "outside"),
    ],
)
def test_eyes_that_cannot_be_are_refused(left: Point, right: Point, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        by_hand(SIZE, left, right)
