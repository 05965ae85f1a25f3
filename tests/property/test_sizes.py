"""Paper to pixels: what holds for every page, bleed and resolution a preset can state."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from cropper.destination import reading
from cropper.destination.building import build
from cropper.destination.destination import Destination
from cropper.destination.schema import DestinationTable
from cropper.geometry import MM_PER_INCH, PixelBox, size_for

pages = st.tuples(st.integers(20, 2_000), st.integers(20, 2_000))
tenths = st.integers(0, 100).map(lambda tenth: Decimal(tenth) / 10)
ppis = st.sampled_from([72, 100, 150, 200, 240, 300, 360])


def printed(page: tuple[int, int], bleed: Decimal, ppi: int, *, turnable: bool) -> Destination:
    keys = {"size_mm": list(page), "bleed_mm": bleed, "ppi": ppi, "turnable": turnable}
    table = DestinationTable.model_validate({"title": "A page", **keys})
    return build("a-page", table, preset_file="pages.toml")


class TestAPageInPixels:
    """Each side of trim and bleed together is rounded half up once, at the end."""

    @given(pages, tenths, ppis)
    def test_a_side_is_off_by_half_a_pixel_at_most(
        self, page: tuple[int, int], bleed: Decimal, ppi: int
    ) -> None:
        made = printed(page, bleed, ppi, turnable=False)
        assert made.delivered is not None
        for side, pixels in zip(page, (made.delivered.width, made.delivered.height), strict=True):
            off = pixels - (side + 2 * Fraction(bleed)) * ppi / MM_PER_INCH
            assert Fraction(-1, 2) < off <= Fraction(1, 2)

    @given(pages, tenths, ppis)
    def test_the_crops_shape_is_the_files_and_gives_its_size_back(
        self, page: tuple[int, int], bleed: Decimal, ppi: int
    ) -> None:
        made = printed(page, bleed, ppi, turnable=False)
        assert made.delivered is not None
        longer = max(made.delivered.width, made.delivered.height)
        assert size_for(longer, made.shape.least) == made.delivered

    @given(pages, tenths, ppis)
    def test_the_trim_is_the_paper_without_its_bleed(
        self, page: tuple[int, int], bleed: Decimal, ppi: int
    ) -> None:
        made = printed(page, bleed, ppi, turnable=False)
        whole = [side + 2 * Fraction(bleed) for side in page]
        assert (made.trim.x1 - made.trim.x0) * whole[0] == page[0]
        assert (made.trim.y1 - made.trim.y0) * whole[1] == page[1]
        assert made.trim.x0 == 1 - made.trim.x1

    @given(pages, tenths, ppis)
    def test_turning_twice_changes_nothing(
        self, page: tuple[int, int], bleed: Decimal, ppi: int
    ) -> None:
        made = printed(page, bleed, ppi, turnable=True)
        assert made.turned.turned == made
        assert len(made.orientations) == (1 if made.shape == made.shape.turned else 2)


class TestNumbersStayExact:
    """A decimal of a preset is the fraction it looks like, never its nearest float."""

    @given(st.decimals(min_value=0, max_value=9_999, places=6))
    def test_decimals(self, value: Decimal) -> None:
        assert reading.number(value) == Fraction(value)

    @given(st.integers(0, 9_999), st.integers(1, 9_999))
    def test_fractions_in_quotes(self, over: int, under: int) -> None:
        assert reading.number(f"{over}/{under}") == Fraction(over, under)

    @given(st.integers(1, 999), st.integers(1, 999))
    def test_shapes(self, wide: int, high: int) -> None:
        ratio = Fraction(wide, high)
        if Fraction(1, 100) <= ratio <= 100:
            assert reading.shape(f"{wide}:{high}").least == ratio


class TestWhateverATomlHolds:
    """A reader answers with a value or a ValueError that speaks; nothing else escapes."""

    @given(
        st.recursive(
            st.none()
            | st.booleans()
            | st.integers()
            | st.decimals(allow_nan=True, allow_infinity=True)
            | st.text(max_size=20),
            lambda inner: st.lists(inner, max_size=4),
            max_leaves=8,
        )
    )
    def test_only_value_errors(self, value: object) -> None:
        readers = (
            *(reading.number, reading.positive, reading.share, reading.shape, reading.size_px),
            *(reading.lengths, reading.box, reading.span, reading.text, reading.name),
            *(reading.names, reading.yes_no, reading.bytes_most, reading.whole(1, 9, "a digit")),
        )
        said: list[str] = []
        for read in readers:
            try:
                read(value)
            except ValueError as error:
                said.append(str(error))
        assert all(said)


class TestALiveAreaInPixels:
    """Where a lab's trimming leaves off is the same whichever way the print is turned."""

    @given(pages, ppis, st.integers(1, 9))
    def test_overlap(self, page: tuple[int, int], ppi: int, overlap: int) -> None:
        keys = {"size_mm": list(page), "ppi": ppi, "turnable": True, "overlap_mm": overlap}
        table = DestinationTable.model_validate({"title": "A print", **keys})
        made = build("a-print", table, preset_file="prints.toml")
        upright = made.live_areas[0].box.of(PixelBox(0, 0, page[0], page[1]))
        turned = made.turned.live_areas[0].box.of(PixelBox(0, 0, page[1], page[0]))
        assert (upright.width, upright.height) == (turned.height, turned.width)
        assert abs(upright.x0 - overlap) < 1e-9
