"""How many pixels, how much enlargement, what ppi: arithmetic only."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.deliverable.levels import BAND_ROWS, runs
from cropper.deliverable.sizing import sized
from cropper.destination.destination import Destination, ShapeRange
from cropper.errors import DeliveryError
from cropper.geometry import Crop, Extent, PixelBox, Size, mm_to_px, size_for


def printed(*, turnable: bool = False) -> Destination:
    return Destination(
        name="8x10",
        title="Print",
        shape=ShapeRange(Fraction(4, 5), Fraction(4, 5)),
        delivered=Size(2400, 3000),
        page_mm=(Fraction(2032, 10), Fraction(254)),
        greatest_enlargement=Fraction(3, 2),
        turnable=turnable,
    )


def test_a_print_of_8_by_10_inches_at_300_ppi_is_2400_by_3000() -> None:
    found = sized(Crop(PixelBox(0, 0, 3200, 4000)), printed())  # reference prints
    assert found.size == Size(2400, 3000)
    assert found.ppi == 300
    assert found.enlargement == Fraction(3, 4)
    assert found.notes == ()


def test_a_crop_on_its_side_gets_the_frame_on_its_side() -> None:
    found = sized(Crop(PixelBox(0, 0, 4000, 3200)), printed(turnable=True))
    assert found.size == Size(3000, 2400)
    assert found.ppi == 300


def test_enlargement_within_the_limit_is_said_and_beyond_it_refused() -> None:
    found = sized(Crop(PixelBox(0, 0, 2000, 2500)), printed())
    assert found.notes == ("enlarged to 120% of the master's own pixels",)
    with pytest.raises(DeliveryError, match=r"enlarges 2\.40 times"):
        sized(Crop(PixelBox(0, 0, 1000, 1250)), printed())


@given(longer=st.integers(200, 9000), width=st.integers(1, 40), height=st.integers(1, 40))
def test_a_crop_of_the_right_shape_is_never_called_squeezed(
    longer: int, width: int, height: int
) -> None:
    shape = Fraction(width, height)
    box = size_for(longer, shape)
    delivered = size_for(mm_to_px(Fraction(100), Fraction(254)), shape)
    destination = Destination(
        name="any",
        title="Any",
        shape=ShapeRange(shape, shape),
        delivered=delivered,
        greatest_enlargement=Fraction(100),
    )
    assert sized(Crop(PixelBox(0, 0, box.width, box.height)), destination).size == delivered


@given(
    top=st.floats(0, 5000),
    reduction=st.floats(0.3, 3.99),
    height=st.integers(1, 4000),
    rows=st.integers(1, 600),
)
def test_runs_cover_every_row_once_and_each_stays_with_its_band(
    top: float, reduction: float, height: int, rows: int
) -> None:
    box = Extent(0, top, 100, top + height * reduction)
    found = list(runs(box, Size(100, height), rows))
    assert found[0].first == 0
    assert found[-1].last == height
    assert all(one.last == other.first for one, other in pairwise(found))
    for run in found:
        assert 0 < run.last - run.first <= rows
        for row in (run.first, run.last - 1):
            centre = top + (row + 0.5) * reduction
            assert run.band * BAND_ROWS - 1 <= centre <= (run.band + 1) * BAND_ROWS + 1


def test_300_ppi_are_exactly_300_though_pixels_are_whole() -> None:
    # 210 x 297 mm with 3 mm bleed are 2551.18 x 3578.74 px at 300 ppi
    page = Destination(
        name="cover",
        title="Cover",
        shape=ShapeRange(Fraction(216, 303), Fraction(216, 303)),
        page_mm=(Fraction(210), Fraction(297)),
        bleed_mm=Fraction(3),
        ppi=Fraction(300),
        delivered=Size(2551, 3579),
    )
    assert sized(Crop(PixelBox(0, 0, 2551, 3579)), page).ppi == 300
