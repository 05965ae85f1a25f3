"""The PDF: opens, has the pages it should, and says what the page says."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

import pytest
from pypdf import PdfReader

from cropper.proof import words as words_of_sheets
from cropper.proof.contact import page_count, pdf
from cropper.proof.entry import Sheet
from cropper.proof.making import developed
from cropper.proposal.proposal import Verdict


def read(sheet: Sheet) -> PdfReader:
    return PdfReader(io.BytesIO(pdf(*developed(sheet))))


def test_two_masters_of_six_and_a_small_matrix_take_three_pages(sheet: Sheet) -> None:
    assert len(read(sheet).pages) == 3
    assert page_count(sheet) == 3


@pytest.mark.parametrize(("entries", "pages"), [(1, 1), (6, 1), (7, 2), (13, 3)])
def test_six_destinations_share_a_page(sheet: Sheet, entries: int, pages: int) -> None:
    first = sheet.masters[0]
    many = (first.entries * 3)[:entries]
    longer = replace(sheet, masters=(replace(first, entries=many),), matrices=())
    assert len(read(longer).pages) == pages == page_count(longer)


def test_a_sheet_of_nothing_still_has_a_page_that_says_so(sheet: Sheet) -> None:
    empty = read(replace(sheet, masters=(), matrices=()))
    assert len(empty.pages) == 1
    assert "No master was planned" in empty.pages[0].extract_text()


def test_titles_verdicts_and_reasons_can_be_read(sheet: Sheet) -> None:
    said = " ".join(page.extract_text() for page in read(sheet).pages)
    for words in ("Tall post", "Round avatar", "No 3:1 crop keeps eyes and chin", "goes here"):
        assert words in said
    for verdict in Verdict:
        assert words_of_sheets.said(verdict) in said
    assert "The eyes stand on the upper third." in said


def test_names_in_other_scripts_are_drawn_or_marked(named: Callable[[str], Sheet]) -> None:
    said = read(named("Łucja Ωмега 写真")).pages[0].extract_text()
    assert "Which version goes where" in said
    assert "ucja" in said


def test_the_same_sheet_gives_the_same_bytes_and_no_clock(sheet: Sheet) -> None:
    first, second = pdf(*developed(sheet)), pdf(*developed(sheet))
    assert first == second


def test_pictures_in_the_pdf_carry_no_metadata(sheet: Sheet) -> None:
    assert b"secret" not in pdf(*developed(sheet))
    streams = [image.data for page in read(sheet).pages for image in page.images]
    assert streams
    assert not any(b"secret" in stream for stream in streams)


def test_a_picture_shown_often_is_stored_once(sheet: Sheet) -> None:
    shown = [image.indirect_reference for page in read(sheet).pages for image in page.images]
    assert len({str(one) for one in shown}) <= 8
