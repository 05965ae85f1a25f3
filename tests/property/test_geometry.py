"""What holds for every box and shape, up to masters of 20 000 px a side."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from cropper.geometry import (
    MM_PER_INCH,
    WHOLE,
    NormalBox,
    PixelBox,
    Size,
    half_up,
    mm_to_px,
    size_for,
)

SIDE = 20_000
sides = st.integers(1, SIDE)
exact = st.fractions(min_value=0, max_value=SIDE, max_denominator=10_000)
shapes = st.fractions(min_value=Fraction(1, 20), max_value=20, max_denominator=2_000)


@st.composite
def pixel_boxes(draw: st.DrawFn) -> PixelBox:
    x0, y0 = draw(st.integers(0, SIDE - 1)), draw(st.integers(0, SIDE - 1))
    return PixelBox(x0, y0, draw(st.integers(x0 + 1, SIDE)), draw(st.integers(y0 + 1, SIDE)))


@st.composite
def normal_boxes(draw: st.DrawFn) -> NormalBox:
    parts = st.integers(0, 10_000)
    x = sorted(draw(st.lists(parts, min_size=2, max_size=2, unique=True)))
    y = sorted(draw(st.lists(parts, min_size=2, max_size=2, unique=True)))
    return NormalBox(*(Fraction(edge, 10_000) for edge in (x[0], y[0], x[1], y[1])))


class TestHalvesGoUp:
    """Nearest whole number, halves upward."""

    @given(exact)
    def test_never_further_than_half_and_never_half_below(self, value: Fraction) -> None:
        off = half_up(value) - value
        assert Fraction(-1, 2) < off <= Fraction(1, 2)

    @given(st.integers(0, SIDE))
    def test_a_half_goes_up_for_fractions_and_floats_alike(self, whole: int) -> None:
        assert half_up(Fraction(2 * whole + 1, 2)) == whole + 1
        assert half_up(whole + 0.5) == whole + 1

    @given(exact, st.sampled_from([72, 150, 240, 300, 360, 600]))
    def test_a_length_is_off_by_half_a_pixel_at_most(self, mm: Fraction, ppi: int) -> None:
        off = mm_to_px(mm, Fraction(ppi)) - mm * ppi / MM_PER_INCH
        assert Fraction(-1, 2) < off <= Fraction(1, 2)


class TestShapeIsKeptWithinOnePixel:
    """Size first: the longer side is what was asked, the shorter the nearest whole pixel."""

    @given(sides, shapes)
    def test_the_shorter_side_is_the_nearest(self, longer: int, shape: Fraction) -> None:
        size = size_for(longer, shape)
        assert max(size.width, size.height) == longer
        wanted = longer * min(shape, 1 / shape)
        assert abs(min(size.width, size.height) - max(wanted, Fraction(1))) <= Fraction(1, 2)

    @given(sides, shapes)
    def test_turning_the_shape_turns_the_size(self, longer: int, shape: Fraction) -> None:
        assert size_for(longer, 1 / shape) == size_for(longer, shape).turned

    @given(sides, sides)
    def test_the_size_of_its_own_shape_is_itself(self, width: int, height: int) -> None:
        own = size_for(max(width, height), Fraction(width, height))
        assert own == Size(width, height)


class TestNormalAndPixelAgree:
    """Pixel -> normal -> pixel is the identity."""

    @given(pixel_boxes())
    def test_there_and_back(self, box: PixelBox) -> None:
        frame = PixelBox(0, 0, SIDE, SIDE)
        edges = (box.x0, box.y0, box.x1, box.y1)
        back = NormalBox(*(Fraction(edge, SIDE) for edge in edges)).of(frame)
        assert (back.x0, back.y0, back.x1, back.y1) == edges

    @given(normal_boxes(), pixel_boxes())
    def test_a_part_lies_inside_its_whole(self, part: NormalBox, box: PixelBox) -> None:
        seen = part.of(box)
        assert box.x0 <= seen.x0 < seen.x1 <= box.x1
        assert box.y0 <= seen.y0 < seen.y1 <= box.y1

    @given(normal_boxes(), normal_boxes(), normal_boxes())
    def test_frames_within_frames_may_be_resolved_in_any_order(
        self, one: NormalBox, two: NormalBox, three: NormalBox
    ) -> None:
        assert one.within(two).within(three) == one.within(two.within(three))
        assert WHOLE.within(one) == one == one.within(WHOLE)


class TestOverlap:
    """Intersection over union: symmetrical, 0 to 1, and 1 only with itself."""

    @given(pixel_boxes(), pixel_boxes())
    def test_symmetrical_and_bounded(self, one: PixelBox, other: PixelBox) -> None:
        assert one.overlap(other) == other.overlap(one)
        assert 0 <= one.overlap(other) <= 1
        assert (one.overlap(other) == 1) == (one == other)
