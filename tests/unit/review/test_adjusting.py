"""A drawn frame becomes a crop that can be delivered: right shape, whole pixels, inside."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.destination import Destination, ShapeRange
from cropper.geometry import Crop, Extent, PixelBox, Size, size_for
from cropper.job.adjusting import STRAIGHTEN_MOST_DEG, Anchor, Drawn, fitted
from cropper.job.choices import shape_fits

SHAPES = st.sampled_from(
    [Fraction(1), Fraction(4, 5), Fraction(9, 16), Fraction(16, 9), Fraction(3), Fraction(210, 297)]
)
SIZES = st.builds(Size, st.integers(200, 6000), st.integers(200, 6000))
PLACES = st.floats(-2000, 8000)
SPANS = st.floats(0.5, 9000)


def a_destination(least: Fraction, most: Fraction | None = None) -> Destination:
    return Destination(name="a", title="A", shape=ShapeRange(least, most or least))


@st.composite
def drawings(draw: st.DrawFn) -> Drawn:
    x, y = draw(PLACES), draw(PLACES)
    box = Extent(x, y, x + draw(SPANS), y + draw(SPANS))
    anchor = draw(st.sampled_from(Anchor))
    return Drawn(box=box, anchor=anchor, straighten_deg=draw(st.floats(-40, 40)))


def corners(crop: Crop) -> list[tuple[float, float]]:
    """The turned box's corners, worked out here anew."""
    angle, middle = math.radians(crop.straighten_deg), crop.box.centre
    half = [(i * crop.box.width / 2, j * crop.box.height / 2) for i in (-1, 1) for j in (-1, 1)]
    return [
        (
            middle.x + x * math.cos(angle) - y * math.sin(angle),
            middle.y + x * math.sin(angle) + y * math.cos(angle),
        )
        for x, y in half
    ]


@given(drawn=drawings(), shape=SHAPES, size=SIZES)
def test_whatever_is_drawn_every_turned_corner_lies_in_the_master(
    drawn: Drawn, shape: Fraction, size: Size
) -> None:
    crop = fitted(drawn, a_destination(shape), size)

    assert abs(crop.straighten_deg) <= STRAIGHTEN_MOST_DEG
    for x, y in corners(crop):
        assert -1e-6 <= x <= size.width + 1e-6
        assert -1e-6 <= y <= size.height + 1e-6


@given(drawn=drawings(), shape=SHAPES, size=SIZES)
def test_the_shape_is_kept_within_a_pixel(drawn: Drawn, shape: Fraction, size: Size) -> None:
    crop = fitted(drawn, a_destination(shape), size)

    longer = max(crop.box.width, crop.box.height)
    assert crop.box.size == size_for(longer, shape)


@given(drawn=drawings(), shape=SHAPES, size=SIZES)
def test_fitting_what_was_fitted_changes_nothing(drawn: Drawn, shape: Fraction, size: Size) -> None:
    destination = a_destination(shape)
    once = fitted(drawn, destination, size)
    box = Extent(once.box.x0, once.box.y0, once.box.x1, once.box.y1)

    again = fitted(Drawn(box=box, straighten_deg=once.straighten_deg), destination, size)

    assert again == once


@given(drawn=drawings(), size=SIZES)
def test_a_range_of_shapes_keeps_the_drawn_one_where_it_may(drawn: Drawn, size: Size) -> None:
    destination = a_destination(Fraction(4, 5), Fraction(16, 9))

    assert shape_fits(fitted(drawn, destination, size).box.size, destination)


@pytest.mark.parametrize(
    ("anchor", "corner"),
    [
        (Anchor.TOP_LEFT, (100, 100)),
        (Anchor.TOP_RIGHT, (100, 100)),
        (Anchor.BOTTOM_LEFT, (100, 100)),
        (Anchor.BOTTOM_RIGHT, (100, 100)),
    ],
)
def test_the_corner_opposite_to_the_hand_stays(anchor: Anchor, corner: tuple[int, int]) -> None:
    drawn = Drawn(box=Extent(*corner, 500.4, 600.3), anchor=anchor)

    box = fitted(drawn, a_destination(Fraction(4, 5)), Size(1000, 1000)).box

    edges = {
        Anchor.TOP_LEFT: (box.x0, box.y0) == (100, 100),
        Anchor.TOP_RIGHT: (box.x1, box.y0) == (500, 100),
        Anchor.BOTTOM_LEFT: (box.x0, box.y1) == (100, 600),
        Anchor.BOTTOM_RIGHT: (box.x1, box.y1) == (500, 600),
    }
    assert edges[anchor]


def test_the_whole_frame_is_the_whole_frame_however_it_is_drawn() -> None:
    whole = Destination(
        name="a", title="A", shape=ShapeRange(Fraction(1, 4), Fraction(4)), full_frame=True
    )

    crop = fitted(Drawn(box=Extent(5, 5, 50, 50)), whole, Size(300, 200))

    assert crop.box == PixelBox(0, 0, 300, 200)
