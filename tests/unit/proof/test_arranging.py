"""How a sheet is arranged: sizes on the page, one scale for prints, nothing shown twice."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.destination import LiveArea
from cropper.geometry import WHOLE, Extent, Size
from cropper.proof import words
from cropper.proof.arranging import fitted, section
from cropper.proof.entry import Sheet
from cropper.proof.previews import album
from cropper.proof.views import Card, Section
from cropper.proposal.proposal import Verdict


def arranged(sheet: Sheet) -> Section:
    master = sheet.masters[0]
    return section(master, album(master, "m"), "v")


def card(sheet: Sheet, name: str) -> Card:
    return next(one for one in arranged(sheet).cards if one.name == name)


@given(
    wide=st.integers(1, 20000),
    high=st.integers(1, 20000),
    room=st.builds(Size, st.integers(20, 900), st.integers(20, 900)),
)
def test_a_picture_fits_its_room_and_touches_it(wide: int, high: int, room: Size) -> None:
    size = fitted(Extent(0, 0, wide, high), room)
    assert size.width <= room.width
    assert size.height <= room.height
    assert size.width == room.width or size.height == room.height
    assert abs(size.width * high - size.height * wide) <= max(wide, high)


def test_prints_stand_beside_each_other_to_one_scale(sheet: Sheet) -> None:
    prints = arranged(sheet).prints
    assert [one.title for one in prints] == ["Spread", "Print 4x5"]
    spread, small = (one.window for one in prints)
    assert spread.height / small.height == pytest.approx(297 / 127, rel=0.02)
    assert spread.width / small.width == pytest.approx(420 / 102, rel=0.02)


def test_a_banner_is_left_off_the_strip_of_prints(sheet: Sheet) -> None:
    first = sheet.masters[0]
    entry = first.entries[-2]
    banner = replace(entry.destination, page_mm=(Fraction(850), Fraction(2000)), turnable=False)
    entries = (*first.entries, replace(entry, destination=banner))
    prints = arranged(replace(sheet, masters=(replace(first, entries=entries),))).prints
    assert "850 × 2000 mm" not in [one.size for one in prints]


def test_one_print_alone_has_nothing_to_be_compared_with(sheet: Sheet) -> None:
    first = sheet.masters[0]
    alone = replace(first, entries=first.entries[-2:])
    assert arranged(replace(sheet, masters=(alone,))).prints == ()


def test_every_destination_has_a_small_picture_that_leads_to_it(sheet: Sheet) -> None:
    whole = arranged(sheet)
    assert [one.anchor for one in whole.strip] == [one.anchor for one in whole.cards]
    refused = whole.strip[-1]
    assert refused.verdict is Verdict.NO_CROP
    assert refused.window.preview == "m"


def test_a_live_area_that_is_the_whole_frame_is_not_shown_twice(sheet: Sheet) -> None:
    first = sheet.masters[0]
    entry = first.entries[0]
    areas = (
        LiveArea("wide screens", WHOLE),
        LiveArea("small screens", replace(WHOLE, x0=WHOLE.x1 / 4)),
    )
    destination = replace(entry.destination, live_areas=areas)
    entries = (replace(entry, destination=destination),)
    shown = arranged(replace(sheet, masters=(replace(first, entries=entries),))).cards[0].shown
    assert shown is not None
    assert [name for name, _ in shown.narrower] == ["small screens"]
    assert shown.narrower[0][1].box.x0 == pytest.approx(60 + 1080 / 4)


def test_the_largest_frame_of_a_refused_shape_lies_inside_the_master_around_the_face(
    sheet: Sheet,
) -> None:
    no = card(sheet, "header").refusal
    assert no is not None
    assert no.largest is not None
    assert no.must_stay == Extent(500, 600, 700, 960)
    assert no.largest.width == pytest.approx(1200)
    assert no.largest.height == pytest.approx(400)
    assert no.largest.centre.y == pytest.approx(780)


def test_a_conflict_that_the_sentence_tells_already_is_not_told_twice(sheet: Sheet) -> None:
    first = sheet.masters[0]
    entry = first.entries[-1]
    no_crop = entry.answer.no_crop
    assert no_crop is not None
    told = replace(no_crop, sentence=f"No crop: {no_crop.conflicts[0].sentence}")
    entries = (replace(entry, answer=replace(entry.answer, no_crop=told)),)
    refusal = arranged(replace(sheet, masters=(replace(first, entries=entries),))).cards[0].refusal
    assert refusal is not None
    assert refusal.conflicts == ()


def test_small_pictures_carry_no_words(sheet: Sheet) -> None:
    story = card(sheet, "story")
    assert story.shown is not None
    assert any(mark.kind == "label" for mark in story.shown.seen.marks)
    for other in story.others:
        assert not any(mark.kind == "label" for mark in other.seen.marks)


@pytest.mark.parametrize("verdict", list(Verdict))
def test_every_verdict_has_its_word_and_meaning(verdict: Verdict) -> None:
    word = words.said(verdict.value)
    assert word == verdict.word
    assert (word == verdict.value) == (verdict is Verdict.NO_CROP)  # the code is for programs
    assert words.MEANINGS[verdict]


@given(value=st.floats(-1e6, 1e6), unit=st.sampled_from(["of the height", "heads", "px to spare"]))
def test_numbers_are_said_without_noise(value: float, unit: str) -> None:
    said = words.quantity(value, unit)
    assert "e" not in said.replace("heads", "")
    assert len(said) < 20
