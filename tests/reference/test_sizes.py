"""Sizes on paper against published values.

Sources, with how each value was come by:

- ISO 216 A and B series: the standard's table in mm (read in stored copies that quote it); A is
  the halving rule, B the geometric mean of neighbouring A sizes, both recomputed here.
- US letter: ANSI/ASME Y14.1, size A, 8.5 x 11 in (from memory).
- Print sizes: ISO 1008 lists many in mm; the inch names are customary.
- 1 in = 25.4 mm exactly (international inch, 1959; ISO 31).
- Bleed 3 mm or 1/8 in: common practice, many printers' guides; no standard.
- PDF boxes: 1 pt = 1/72 in (ISO 32000); A4 with 3 mm bleed worked out by hand.
- Acuity: 1 arc-minute; ppi = 1 / (2 d tan(0.5')) (formula in several stored pages).
- Screen ruling: 1.5 to 2 ppi per line, floor sqrt 2 (stored prepress pages).
"""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from cropper.destination.building import build
from cropper.destination.destination import Destination, Medium
from cropper.destination.presets import load_presets
from cropper.destination.schema import DestinationTable
from cropper.geometry import MM_PER_INCH, WHOLE, Size, half_up, mm_to_px

ISO_216_A = [
    *((841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210)),
    *((105, 148), (74, 105), (52, 74), (37, 52), (26, 37)),
]
ISO_216_B = [
    *((1000, 1414), (707, 1000), (500, 707), (353, 500), (250, 353), (176, 250)),
    *((125, 176), (88, 125), (62, 88), (44, 62), (31, 44)),
]
AT_300_PPI = {210: 2480, 297: 3508, 216: 2551, 303: 3579, 3: 35, 35: 413, 45: 531}
HALF_PIXELS = {"8.375": 2513, "10.875": 3263, "8.625": 2588}
PRINTS = {
    "print-4x6": (1200, 1800),
    "print-5x7": (1500, 2100),
    "print-8x10": (2400, 3000),
    "print-11x14": (3300, 4200),
    "print-10x15cm": (1181, 1772),
    "print-13x18cm": (1535, 2126),
    "print-a4": (2480, 3508),
}
PRINT_RATIOS = {
    "print-4x6": 1.5,
    "print-5x7": 1.4,
    "print-8x10": 1.25,
    "print-11x14": 1.2727,
    "print-10x15cm": 1.5,
    "print-13x18cm": 1.3846,
}


def shipped(name: str) -> Destination:
    (found,) = load_presets().choose([name])
    return found


def paper(destination: Destination) -> list[Fraction]:
    """Width and height of the trim in mm; a screen has none."""
    return list(destination.page_mm or ())


def made(**keys: Any) -> Destination:
    table = DestinationTable.model_validate({"title": "A page", **keys})
    return build("a-page", table, preset_file="pages.toml")


def test_the_a_series_halves_its_long_side_and_rounds_down() -> None:
    for (wide, high), smaller in pairwise(ISO_216_A):
        assert smaller == (high // 2, wide)


def test_the_b_series_is_the_geometric_mean_of_neighbouring_a_sizes() -> None:
    b1_short = math.sqrt(841 * 594)
    assert half_up(b1_short) == ISO_216_B[1][0]


@pytest.mark.parametrize("page", [*ISO_216_A[2:], *ISO_216_B[2:]])
def test_every_iso_216_page_can_be_a_destination(page: tuple[int, int]) -> None:
    destination = made(size_mm=list(page), ppi=300)
    assert paper(destination) == list(page)
    assert destination.delivered == Size(
        *(mm_to_px(Fraction(side), Fraction(300)) for side in page)
    )


@pytest.mark.parametrize(("mm", "pixels"), AT_300_PPI.items())
def test_millimetres_at_300_ppi(mm: int, pixels: int) -> None:
    assert mm_to_px(Fraction(mm), Fraction(300)) == pixels


@pytest.mark.parametrize(("inches", "pixels"), HALF_PIXELS.items())
def test_half_pixels_go_up_not_to_the_even_neighbour(inches: str, pixels: int) -> None:
    exact = Fraction(inches) * 300
    assert exact.denominator == 2
    assert mm_to_px(Fraction(inches) * MM_PER_INCH, Fraction(300)) == pixels


def test_the_half_pixel_trap_in_a_whole_preset() -> None:
    trim = made(size_in=["67/8", "87/8"], ppi=300)
    assert trim.delivered == Size(2513, 3263)
    with_bleed = made(size_in=["67/8", "87/8"], bleed_in="1/8", ppi=300)
    # 8.625 x 11.125 in: 2587.5 and 3337.5 px.
    assert with_bleed.delivered == Size(2588, 3338)


@pytest.mark.parametrize(("name", "pixels"), PRINTS.items())
def test_shipped_prints_have_the_published_pixels(name: str, pixels: tuple[int, int]) -> None:
    assert shipped(name).delivered == Size(*pixels)
    assert shipped(name).ppi == 300


@pytest.mark.parametrize(("name", "ratio"), PRINT_RATIOS.items())
def test_shipped_prints_have_the_published_ratio(name: str, ratio: float) -> None:
    page = paper(shipped(name))
    assert float(page[1] / page[0]) == pytest.approx(ratio, abs=5e-5)


def test_prints_may_be_turned_and_the_lab_may_trim_them() -> None:
    for name in PRINTS:
        destination = shipped(name)
        assert destination.turnable
        assert [area.name for area in destination.live_areas] == ["after the lab's trimming"]


def test_a_cover_on_a4_with_3_mm_of_bleed() -> None:
    cover = shipped("cover-a4")
    assert cover.delivered == Size(2551, 3579)
    assert paper(cover) == [210, 297]
    assert cover.trim.x0 == Fraction(3, 216)
    assert cover.trim.y0 == Fraction(3, 303)
    points = [float(mm / MM_PER_INCH * 72) for mm in (*paper(cover), cover.bleed_mm)]
    assert points == pytest.approx([595.276, 841.89, 8.504], abs=5e-4)


def test_a_cover_on_us_letter_with_an_eighth_of_an_inch_of_bleed() -> None:
    cover = shipped("cover-letter")
    assert paper(cover) == [Fraction("215.9"), Fraction("279.4")]
    assert cover.bleed_mm == Fraction("3.175")
    # 8.75 x 11.25 in at 300 ppi.
    assert cover.delivered == Size(2625, 3375)


def test_a_spread_of_two_a4_pages() -> None:
    spread = shipped("spread-a4")
    assert paper(spread) == [420, 297]
    assert spread.delivered == Size(5031, 3579)
    assert made(size_mm=[420, 297], ppi=300).delivered == Size(4961, 3508)
    gutter = spread.gutter
    assert gutter is not None
    from_bleed_edge_mm = spread.bleed_mm + gutter.at * paper(spread)[0]
    assert from_bleed_edge_mm == 213
    assert float(from_bleed_edge_mm / MM_PER_INCH * 300) == pytest.approx(2515.7, abs=0.05)
    # Spine margin 3/8 to 1/2 in beside the fold.
    assert Fraction(3, 8) <= gutter.margin * 420 / MM_PER_INCH <= Fraction(1, 2)


def test_press_pages_ask_for_what_a_screen_of_150_lines_needs() -> None:
    for name in ("cover-a4", "cover-letter", "spread-a4"):
        destination = shipped(name)
        assert destination.ppi == 2 * 150
        assert destination.least_ppi is not None
        assert 150 * math.sqrt(2) - 1 <= destination.least_ppi <= 2 * 150
        assert not destination.finish.sharpen
        assert destination.finish.medium is Medium.PRESS_HAND_OFF


def test_no_print_asks_for_less_than_two_thirds_of_what_an_eye_resolves() -> None:
    for destination in load_presets().choose(["print"]):
        distance = destination.finish.viewing_distance_mm
        assert distance is not None
        assert destination.least_ppi is not None
        inches = float(distance / MM_PER_INCH)
        resolved = 1 / (2 * inches * math.tan(math.radians(0.5 / 60)))
        assert float(destination.least_ppi) >= resolved * 2 / 3, destination.name


def test_acuity_at_the_distances_the_presets_quote() -> None:
    resolved = {mm: 3437.75 / (mm / 25.4) for mm in (300, 400, 500, 1000, 3000)}
    assert [round(ppi) for ppi in resolved.values()] == [291, 218, 175, 87, 29]


def test_a_canvas_shows_its_front_and_its_file_has_the_wrap_as_well() -> None:
    canvas = shipped("canvas")
    assert paper(canvas) == [400, 600]
    assert (canvas.bleed_mm, canvas.finish.mirror_mm) == (Fraction(0), Fraction(40))
    assert canvas.trim == WHOLE
    # 480 x 680 mm at 150 ppi: 2834.6 and 4015.7; 40 mm: 236.2.
    assert canvas.finish.mirror_px == 236
    assert canvas.delivered is not None
    assert canvas.finish.with_border(canvas.delivered) == Size(2835, 4016)


def test_identity_pictures_in_pixels_at_300_ppi() -> None:
    assert shipped("id-2x2in").delivered == Size(600, 600)
    assert shipped("id-35x45mm").delivered == Size(413, 531)
