"""Where marks are drawn: arithmetic in master pixels."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.destination import Destination, Finish, Surround
from cropper.geometry import Crop, Extent, PixelBox, Point
from cropper.proof.entry import ProofEntry, Sheet
from cropper.proof.overlays import (
    Area,
    Fill,
    Label,
    Layer,
    Line,
    Mark,
    Ring,
    Veil,
    headroom_edge,
    into_frame,
    marks,
    outline,
    seen_frame,
)
from cropper.proof.past_edges import hatched
from cropper.proposal.delivering import lying_as


def entry_of(sheet: Sheet, name: str) -> ProofEntry:
    return next(one for one in sheet.masters[0].entries if one.destination.name == name)


def drawn(sheet: Sheet, name: str) -> tuple[Mark, ...]:
    entry = entry_of(sheet, name)
    assert entry.shown is not None
    return marks(entry.destination, entry.shown, sheet.masters[0].finding)


def of(layer: Layer, found: tuple[Mark, ...]) -> list[Mark]:
    return [mark for mark in found if mark.layer is layer]


def test_thirds_divide_what_is_seen(sheet: Sheet) -> None:
    lines = of(Layer.THIRDS, drawn(sheet, "tall"))
    box = PixelBox(60, 90, 1140, 1440)
    heights = {line.a.y for line in lines if isinstance(line, Line) and line.a.y == line.b.y}
    assert heights == {box.y0 + box.height / 3, box.y0 + 2 * box.height / 3}


def test_the_eye_line_stands_at_the_eyes_and_its_band_only_where_it_was_measured(
    sheet: Sheet,
) -> None:
    found = of(Layer.EYE_LINE, drawn(sheet, "tall"))
    assert any(isinstance(one, Line) and one.a.y == one.b.y == 600 for one in found)
    # The invented measure says .34; the eyes stand at (600 - 90) / 1350 = .378: another thing.
    assert not any(isinstance(one, Area) for one in found)
    entry = entry_of(sheet, "tall")
    assert entry.shown is not None
    measured = tuple(replace(one, value=510 / 1350) for one in entry.shown.measures)
    true = marks(
        entry.destination, replace(entry.shown, measures=measured), sheet.masters[0].finding
    )
    band = next(one for one in of(Layer.EYE_LINE, true) if isinstance(one, Area))
    assert band.box.y0 == pytest.approx(90 + 0.303 * 1350)
    assert band.box.y1 == pytest.approx(90 + 0.363 * 1350)


def test_pupils_are_ringed_where_they_are(sheet: Sheet) -> None:
    rings = of(Layer.PUPILS, drawn(sheet, "tall"))
    assert {one.centre for one in rings if isinstance(one, Ring)} == {
        Point(500, 600),
        Point(700, 600),
    }


def test_the_circle_touches_the_shorter_sides(sheet: Sheet) -> None:
    veil = next(one for one in of(Layer.CIRCLE, drawn(sheet, "avatar")) if isinstance(one, Veil))
    assert veil.round_hole
    assert veil.hole == Extent(150, 100, 1050, 1000)


def test_zones_lie_within_the_trim(sheet: Sheet) -> None:
    found = of(Layer.COVERED, drawn(sheet, "story"))
    labels = [one.text for one in found if isinstance(one, Label)]
    assert labels == ["header", "buttons"]
    first = next(one for one in found if isinstance(one, Area))
    assert first.box.y1 == pytest.approx(50 + 0.14 * 1440)


def test_bleed_hides_what_the_knife_takes(sheet: Sheet) -> None:
    veil = next(one for one in of(Layer.BLEED, drawn(sheet, "spread")) if isinstance(one, Veil))
    assert veil.outer == Extent(0, 100, 1190, 950)
    assert veil.hole.x0 == pytest.approx(1190 / 50)


def test_the_fold_has_its_margin_on_both_sides(sheet: Sheet) -> None:
    found = of(Layer.GUTTER, drawn(sheet, "spread"))
    band = next(one for one in found if isinstance(one, Area))
    fold = next(one for one in found if isinstance(one, Line))
    assert (band.box.x0 + band.box.x1) / 2 == pytest.approx(fold.a.x)
    assert band.box.width == pytest.approx(2 * 0.03 * 1190 * 48 / 50)


def test_headroom_counts_from_the_zone_that_the_head_must_clear(sheet: Sheet) -> None:
    entry = entry_of(sheet, "story")
    assert entry.shown is not None
    frame = seen_frame(entry.destination, entry.shown.crop)
    edge = headroom_edge(entry.destination, entry.shown.crop, frame, Point(610, 180))
    assert edge == pytest.approx(50 + 0.14 * 1440)


def test_headroom_in_a_circle_counts_from_the_arc(sheet: Sheet) -> None:
    entry = entry_of(sheet, "avatar")
    assert entry.shown is not None
    frame = seen_frame(entry.destination, entry.shown.crop)
    for x in (600, 800, 2000):
        edge = headroom_edge(entry.destination, entry.shown.crop, frame, Point(x, 300))
        off = abs(x - 600)
        assert edge == pytest.approx(550 - math.sqrt(max(0, 450**2 - off**2)))


def test_a_turnable_print_is_taken_the_way_round_of_its_crop(sheet: Sheet) -> None:
    entry = entry_of(sheet, "print")
    upright, on_its_side = entry.answer.proposals
    for proposal, frame in ((upright, entry.destination), (on_its_side, entry.destination.turned)):
        assert lying_as(entry.destination, proposal.crop.box.size) == frame


@given(
    x=st.floats(-3000, 3000),
    y=st.floats(-3000, 3000),
    degrees=st.floats(-45, 45),
)
def test_straightening_there_and_back_is_where_we_were(x: float, y: float, degrees: float) -> None:
    box = PixelBox(100, 200, 900, 1200)
    there = into_frame(Point(x, y), Crop(box, degrees))
    back = into_frame(there, Crop(box, -degrees))
    assert (back.x, back.y) == pytest.approx((x, y), abs=1e-6)


def test_a_clockwise_crop_makes_a_falling_eye_line_level() -> None:
    crop = Crop(PixelBox(0, 0, 200, 200), math.degrees(math.atan2(20, 100)))
    left, right = into_frame(Point(50, 90), crop), into_frame(Point(150, 110), crop)
    assert left.y == pytest.approx(right.y)


def test_the_outline_of_an_upright_crop_is_its_box() -> None:
    corners = outline(Crop(PixelBox(10, 20, 30, 60)))
    assert corners == (Point(10, 20), Point(30, 20), Point(30, 60), Point(10, 60))


def test_nobody_found_means_no_marks_of_people(sheet: Sheet) -> None:
    entry = entry_of(sheet, "tall")
    assert entry.shown is not None
    finding = replace(sheet.masters[0].finding, subjects=())
    layers = {mark.layer for mark in marks(entry.destination, entry.shown, finding)}
    assert layers == {Layer.THIRDS}


def test_a_destination_without_zones_gets_no_marks_for_them(sheet: Sheet) -> None:
    plain: Destination = entry_of(sheet, "tall").destination
    assert plain.covered == ()
    assert not of(Layer.COVERED, drawn(sheet, "tall"))


@pytest.mark.parametrize("fill", [Surround.BORDER, Surround.BACKDROP])
@pytest.mark.parametrize("past", [(210, 0, 180, 0), (0, 90, 0, 0), (7, 5, 3, 1), (0, 0, 0, 0)])
def test_what_lies_past_the_master_is_covered_once_and_said_in_pixels(
    sheet: Sheet, fill: Surround, past: tuple[int, int, int, int]
) -> None:
    entry, finding = entry_of(sheet, "tall"), sheet.masters[0].finding
    assert entry.shown is not None
    (left, top, right, below), size = past, finding.size
    crop = Crop(PixelBox(-left, -top, size.width + right, size.height + below))
    colour = "#e8e2d9" if fill is Surround.BORDER else ""
    filling = replace(entry.destination, finish=Finish(fill=fill, border_colour=colour))
    found = of(Layer.FILLED, marks(filling, replace(entry.shown, crop=crop), finding))
    fills = [one for one in found if isinstance(one, Fill)]
    covered = sum(one.box.width * one.box.height for one in fills)
    assert covered == crop.box.width * crop.box.height - size.width * size.height
    word = "border" if fill is Surround.BORDER else "carried on"
    said = [one.text for one in found if isinstance(one, Label)]
    assert said == [f"{word}: {px} px" for px in past if px]
    assert all(not one.hatch or fill is Surround.BACKDROP for one in fills)


@given(
    st.integers(-500, 500), st.integers(1, 900), st.integers(1, 900), st.floats(5, 200)
)  # fmt: skip
def test_hatch_lines_run_from_edge_to_edge_of_their_box(
    x: int, wide: int, high: int, apart: float
) -> None:
    box = Extent(x, -x, x + wide, high - x)
    for a, b in hatched(box, apart):
        assert math.isclose(a.x + a.y, b.x + b.y, abs_tol=1e-6)
        for end in (a, b):
            on_x = min(abs(end.x - box.x0), abs(end.x - box.x1)) < 1e-6
            on_y = min(abs(end.y - box.y0), abs(end.y - box.y1)) < 1e-6
            assert on_x or on_y
            assert box.x0 - 1e-6 <= end.x <= box.x1 + 1e-6
            assert box.y0 - 1e-6 <= end.y <= box.y1 + 1e-6
