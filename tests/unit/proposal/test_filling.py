"""A frame that the master does not fill: proposed only on leave, and only where nothing fits."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.destination import Finish, Surround
from cropper.geometry import Crop, PixelBox, Size
from cropper.proposal.filling import LEAST_PHOTOGRAPHED, measured, past_edges, photographed
from cropper.proposal.planning import propose
from cropper.proposal.proposal import Proposal, Verdict
from tests.unit.proposal.people import destination, found, person

TIGHT = found(800, 1000, person(400, 480, 700))
"""A head 700 px high in a master 800 px wide: no crop three times as wide as high holds it."""
LOOSE = found(2400, 1600, person(1200, 600, 300))


def answer(fill: Surround) -> Proposal | None:
    finish = Finish(fill=fill, border_colour="#e8e2d9" if fill is Surround.BORDER else "")
    return propose(TIGHT, destination("3", finish=finish)).best


def test_without_leave_there_is_no_crop() -> None:
    assert answer(Surround.NOTHING) is None


@pytest.mark.parametrize("fill", [Surround.BACKDROP, Surround.BORDER])
def test_with_leave_the_crop_reaches_past_the_master_and_says_so(fill: Surround) -> None:
    best = answer(fill)
    assert best is not None
    box = best.crop.box
    assert box.x0 < 0
    assert box.x1 > TIGHT.size.width
    assert abs(Fraction(box.width, box.height) - 3) < Fraction(1, 100)
    assert box.y0 >= 0
    assert box.y1 <= TIGHT.size.height
    assert "The master is too small at the sides" in best.reasons[0]
    assert photographed(box, TIGHT.size) >= LEAST_PHOTOGRAPHED


def test_a_carried_on_backdrop_is_for_the_eye_to_judge() -> None:
    best = answer(Surround.BACKDROP)
    assert best is not None
    assert best.kind == "backdrop carried on"
    assert best.verdict in {Verdict.UNCERTAIN, Verdict.BREAKS}


def test_where_a_crop_fits_nothing_is_added() -> None:
    leave = destination("3/2", finish=Finish(fill=Surround.BACKDROP))
    without = propose(LOOSE, destination("3/2"))
    assert propose(LOOSE, leave).proposals == without.proposals


def test_no_backdrop_is_carried_on_below_a_person() -> None:
    low = found(800, 1000, person(400, 640, 700, hair=0.01))  # the chin stands on the lower edge
    tall = destination("2/5", finish=Finish(fill=Surround.BACKDROP))
    answer = propose(low, tall)
    assert answer.best is None or answer.best.crop.box.y1 <= 1000


def test_a_backdrop_refused_below_a_person_says_so_with_the_amount() -> None:
    tight = found(800, 600, person(400, 320, 560))
    no_crop = propose(tight, destination("2/5", finish=Finish(fill=Surround.BACKDROP))).no_crop
    assert no_crop is not None
    short = no_crop.conflicts[0].short_px
    said = next(one.sentence for one in no_crop.ways_out if one.kind == "backdrop")
    assert said.startswith(f"No backdrop is carried on below a person: {short} px are short")


@pytest.mark.parametrize("fill", [Surround.BACKDROP, Surround.BORDER])
def test_a_filled_crop_says_how_far_it_reaches_and_never_that_it_lies_inside(
    fill: Surround,
) -> None:
    best = answer(fill)
    assert best is not None
    past = past_edges(best.crop.box, TIGHT.size)
    amounts = f"{past.left} px left and {past.right} px right"
    assert amounts in best.reasons[0]
    inside = next(one for one in best.measures if one.rule == "inside")
    assert amounts in inside.sentence
    assert inside.verdict is Verdict.HOLDS
    assert inside.value == float(photographed(best.crop.box, TIGHT.size))


def test_more_is_filled_where_the_least_would_break_a_rule() -> None:
    portrait = found(2245, 2806, person(1122, 1138, 1566))
    wide = destination("3", finish=Finish(fill=Surround.BORDER, border_colour="#e8e2d9"))
    best = propose(portrait, wide).best
    assert best is not None
    assert best.verdict is not Verdict.BREAKS


@pytest.mark.parametrize("fill", [Surround.BACKDROP, Surround.BORDER])
def test_the_same_crop_measured_again_gives_the_same_measures(fill: Surround) -> None:
    finish = Finish(fill=fill, border_colour="#e8e2d9" if fill is Surround.BORDER else "")
    best = answer(fill)
    assert best is not None
    again = measured(TIGHT, destination("3", finish=finish), best.crop)
    one_by_one = zip(best.measures, again.measures, strict=True)
    for before, after in one_by_one:
        assert (before.rule, before.verdict) == (after.rule, after.verdict)
        if before.rule != "kept":  # of the largest crop, which grows with the room looked at
            assert before.value == pytest.approx(after.value)


@pytest.mark.parametrize(
    ("fill", "box"),
    [
        (Surround.NOTHING, PixelBox(-300, 0, 2700, 1000)),
        (Surround.BORDER, PixelBox(-1200, 0, 1800, 1000)),  # 800 of 3000 px are photographed
        (Surround.BACKDROP, PixelBox(-200, 200, 2500, 1100)),  # below a person
    ],
)
def test_a_crop_that_may_not_be_filled_breaks_inside(fill: Surround, box: PixelBox) -> None:
    finish = Finish(fill=fill, border_colour="#e8e2d9" if fill is Surround.BORDER else "")
    again = measured(TIGHT, destination("3", finish=finish), Crop(box))
    inside = next(one for one in again.measures if one.rule == "inside")
    assert inside.verdict is Verdict.BREAKS


@given(st.integers(-500, 90), st.integers(1, 500), st.integers(-500, 90), st.integers(1, 500))
def test_the_photographed_share_is_that_of_the_worse_axis(x: int, w: int, y: int, h: int) -> None:
    size = Size(100, 100)
    box = PixelBox(x, y, max(x + w, 1), max(y + h, 1))
    share = photographed(box, size)
    assert share <= 1
    inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= 100 and box.y1 <= 100
    assert (share == 1) == inside
