"""Frames that reach past the master: a border in a stated colour, or the backdrop carried on."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.destination import Finish, Frame, Surround
from cropper.geometry import Crop, PixelBox, Size
from cropper.proposal.filling import (
    LEAST_PHOTOGRAPHED,
    WHITE,
    bordered,
    carried_on,
    filled_as,
    measured,
    past_edges,
    photographed,
)
from cropper.proposal.proposal import Verdict
from tests.unit.proposal.people import destination, found, person

UPRIGHT = found(2000, 2500, person(1000, 1000, 700))
FILLS = {
    Surround.BORDER: Finish(fill=Surround.BORDER, border_colour="#e8e2d9"),
    Surround.BACKDROP: Finish(fill=Surround.BACKDROP),
}


@pytest.mark.parametrize(
    ("shape", "box"), [("1", (-250, 0)), ("2", (-1500, 0)), ("1/2", (0, -750))]
)
def test_the_whole_master_with_a_border_has_it_in_its_middle(
    shape: str, box: tuple[int, int]
) -> None:
    made = bordered(UPRIGHT, destination(shape))
    assert made is not None
    assert (made.crop.box.x0, made.crop.box.y0) == box
    assert made.fill is Surround.BORDER
    assert made.fill_colour == WHITE
    assert made.verdict is not Verdict.BREAKS


def test_a_border_takes_the_destinations_colour() -> None:
    finish = replace(FILLS[Surround.BORDER], fill=Surround.NOTHING)
    made = bordered(UPRIGHT, destination("1", finish=finish))
    assert made is not None
    assert made.fill_colour == "#e8e2d9"
    assert "#e8e2d9" in made.reasons[0]


@pytest.mark.parametrize(
    "asked",
    [
        destination("1", frame=Frame.CIRCLE),
        destination("4/5"),
        destination("3"),
        destination("1/5"),
    ],
    ids=["round", "the master's own shape", "too wide", "too tall"],
)
def test_no_border_where_it_would_cut_corners_or_be_most_of_the_frame(asked: object) -> None:
    assert bordered(UPRIGHT, asked) is None  # type: ignore[arg-type]


def test_a_backdrop_is_carried_on_at_both_sides_and_looked_at() -> None:
    made = carried_on(UPRIGHT, destination("3/2"))
    assert made is not None
    past = past_edges(made.crop.box, UPRIGHT.size)
    assert past.left > 0
    assert past.right > 0
    assert past.top == past.bottom == 0
    assert made.fill is Surround.BACKDROP
    assert made.verdict is Verdict.UNCERTAIN
    assert past.said in made.reasons[0]


@pytest.mark.parametrize("shape", ["4/5", "1/2"])
def test_no_backdrop_is_carried_on_where_the_master_is_wide_enough(shape: str) -> None:
    assert carried_on(UPRIGHT, destination(shape)) is None


def test_a_chosen_fill_goes_with_the_crop_whatever_the_destination_says() -> None:
    made = bordered(UPRIGHT, destination("1"))
    assert made is not None
    finish = filled_as(destination("1"), made).finish
    assert (finish.fill, finish.border_colour) == (Surround.BORDER, WHITE)
    crop_alone = replace(made, fill=Surround.NOTHING)
    assert filled_as(destination("1"), crop_alone) == destination("1")


@pytest.mark.parametrize("fill", FILLS)
def test_a_filled_crop_measured_again_says_the_same(fill: Surround) -> None:
    asked = destination("3/2", finish=FILLS[fill])
    make = bordered if fill is Surround.BORDER else carried_on
    made = make(UPRIGHT, asked)
    assert made is not None
    again = measured(UPRIGHT, asked, made.crop)
    assert again.verdict is made.verdict
    inside = next(one for one in again.measures if one.rule == "inside")
    assert inside.value == float(photographed(made.crop.box, UPRIGHT.size))
    assert again.cost == pytest.approx(made.cost)


@pytest.mark.parametrize(
    ("fill", "box"),
    [
        (Surround.NOTHING, PixelBox(-300, 0, 2700, 2000)),
        (Surround.BORDER, PixelBox(-3000, 0, 3750, 2500)),  # 2000 of 6750 px are photographed
        (Surround.BACKDROP, PixelBox(-200, 1100, 2200, 2700)),  # below a person
    ],
)
def test_a_crop_past_the_master_that_nothing_may_fill_is_a_problem(
    fill: Surround, box: PixelBox
) -> None:
    asked = destination("3/2", finish=FILLS.get(fill, Finish()))
    told = measured(UPRIGHT, asked, Crop(box))
    inside = next(one for one in told.measures if one.rule == "inside")
    assert inside.verdict is Verdict.BREAKS
    assert told.verdict is Verdict.BREAKS


def test_least_a_third_is_photographed() -> None:
    for shape in ("1", "3/2", "2", "5/2", "3", "4"):
        for made in (
            bordered(UPRIGHT, destination(shape)),
            carried_on(UPRIGHT, destination(shape)),
        ):
            if made is not None:
                assert photographed(made.crop.box, UPRIGHT.size) >= LEAST_PHOTOGRAPHED
                assert made.cost >= 0


@given(st.integers(-500, 90), st.integers(1, 500), st.integers(-500, 90), st.integers(1, 500))
def test_the_photographed_share_is_that_of_the_worse_axis(x: int, w: int, y: int, h: int) -> None:
    size = Size(100, 100)
    box = PixelBox(x, y, max(x + w, 1), max(y + h, 1))
    share = photographed(box, size)
    assert share <= Fraction(1)
    assert (share == 1) == box.inside(size)
