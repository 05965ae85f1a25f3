"""A frame that the master does not fill: proposed only on leave, and only where nothing fits."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.destination import Finish, Surround
from cropper.geometry import PixelBox, Size
from cropper.proposal.filling import LEAST_PHOTOGRAPHED, photographed
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
    best = propose(low, tall).best
    assert best is None or best.crop.box.y1 <= 1000


@given(st.integers(-500, 90), st.integers(1, 500), st.integers(-500, 90), st.integers(1, 500))
def test_the_photographed_share_is_that_of_the_worse_axis(x: int, w: int, y: int, h: int) -> None:
    size = Size(100, 100)
    box = PixelBox(x, y, max(x + w, 1), max(y + h, 1))
    share = photographed(box, size)
    assert share <= 1
    inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= 100 and box.y1 <= 100
    assert (share == 1) == inside
