"""The contact sheet: every proposal of a job on A4 pages, for the wall and the client's table.

Three across and two down, landscape. Pages are the same for the same sheet: no clock runs here.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from typing import Final, TypeVar

from reportlab.lib.pagesizes import A4, landscape
from reportlab.pdfgen.canvas import Canvas

from cropper._paper import ACCENT, SOFT, fonts, sayable
from cropper.geometry import Extent, Point
from cropper.proof import arranging, views
from cropper.proof.entry import ProofMaster, Sheet
from cropper.proof.ink import Pen
from cropper.proof.overlays import Layer, Mark
from cropper.proof.previews import Album

WIDE, HIGH = landscape(A4)
MARGIN: Final = 28.0
GAP: Final = 16.0
ACROSS, DOWN = 3, 2
CELLS: Final = ACROSS * DOWN
"""Destinations on one page (house: pictures stay large enough to judge)."""
MATRIX_ROWS: Final = 8
"""Destinations of a set on one page."""
MATRIX_COLUMNS: Final = 4
"""Versions of a set side by side on one page."""
HEAD: Final = 30.0
CELL_WIDE = (WIDE - 2 * MARGIN - (ACROSS - 1) * GAP) / ACROSS
CELL_HIGH = (HIGH - 2 * MARGIN - HEAD - (DOWN - 1) * GAP) / DOWN
PICTURE_HIGH: Final = 164.0
SIDE_WIDE: Final = 78.0

Item = TypeVar("Item")


def pdf(sheet: Sheet, albums: tuple[Album, ...]) -> bytes:
    """The contact sheet as PDF bytes; the same sheet gives the same bytes."""
    fonts()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(WIDE, HIGH), invariant=1, pageCompression=1)
    canvas.setTitle(sayable(f"{sheet.title}: proofs"))
    canvas.setSubject("Proposed crops with their reasons")
    sections = tuple(
        arranging.section(master, album, f"v{number}")
        for number, (master, album) in enumerate(zip(sheet.masters, albums, strict=True))
    )
    pictures = {preview.key: preview for album in albums for preview in album.all}
    pen = Pen(canvas, HIGH, pictures)
    titles = {card.name: card.title for one in sections for card in one.cards}
    pages = 0
    for rivals in sheet.matrices:
        view = arranging.matrix(rivals, sections, titles)
        pages += _matrix(pen, sheet, view)
    for master, section in zip(sheet.masters, sections, strict=True):
        pages += _master(pen, sheet, master, section)
    if pages == 0:
        _head(pen, sheet, "No master was planned")
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def page_count(sheet: Sheet) -> int:
    """How many pages the contact sheet has."""
    masters = sum(max(1, -(-len(one.entries) // CELLS)) for one in sheet.masters)
    matrices = sum(
        -(-len(one.destinations) // MATRIX_ROWS) * -(-len(one.versions) // MATRIX_COLUMNS)
        for one in sheet.matrices
    )
    return max(1, masters + matrices)


def _pieces(items: Sequence[Item], most: int) -> Iterator[Sequence[Item]]:
    for start in range(0, len(items), most):
        yield items[start : start + most]


def _head(pen: Pen, sheet: Sheet, title: str, beside: str = "") -> None:
    end = pen.words(title, MARGIN, MARGIN + 10, size=13, bold=True)
    pen.words(beside, end + 10, MARGIN + 10, size=8, ink=SOFT)
    foot = sheet.title + (f", {sheet.dated}" if sheet.dated else "")
    pen.words(foot, MARGIN, HIGH - 14, size=6.5, ink=SOFT)
    pen.words(f"{pen.canvas.getPageNumber()}", WIDE - MARGIN - 8, HIGH - 14, size=6.5, ink=SOFT)


def _master(pen: Pen, sheet: Sheet, master: ProofMaster, section: views.Section) -> int:
    pages = list(_pieces(section.cards, CELLS)) or [()]
    for number, cards in enumerate(pages):
        beside = f"{section.file}, {section.size}"
        if section.set_name:
            beside += f", set {section.set_name}"
        _head(pen, sheet, section.version, beside)
        if number == 0:
            pen.canvas.bookmarkPage(section.anchor)
            pen.canvas.addOutlineEntry(sayable(section.version), section.anchor)
            if master.finding.problem:
                width = WIDE - 2 * MARGIN
                pen.paragraph(master.finding.problem, MARGIN, MARGIN + 22, width, lines=1)
        for place, card in enumerate(cards):
            x = MARGIN + (place % ACROSS) * (CELL_WIDE + GAP)
            y = MARGIN + HEAD + (place // ACROSS) * (CELL_HIGH + GAP)
            _card(pen, card, x, y)
        pen.canvas.showPage()
    return len(pages)


def _card(pen: Pen, card: views.Card, x: float, y: float) -> None:
    pen.rule(x, x + CELL_WIDE, y)
    end = pen.words(card.title, x, y + 11, size=8.5, bold=True)
    pen.badge(card.verdict, end + 7, y + 11, 7.5)
    pen.words(f"{card.shape}, {card.size}" if card.size else card.shape, x, y + 20, ink=SOFT)
    if card.by_hand:
        said = f"by hand ({card.chosen_by})"
        pen.words(said, x + CELL_WIDE - 70, y + 20, bold=True, ink=ACCENT)
    top = y + 26
    if card.shown is not None:
        _crop(pen, card, card.shown, x, top)
    elif card.refusal is not None:
        _refusal(pen, card.refusal, x, top)


def _placed(view: Extent, x: float, y: float, wide: float, high: float) -> Extent:
    """The largest frame of the view's shape in the room whose top left corner is (x, y)."""
    scale = min(wide / view.width, high / view.height)
    return Extent(x, y, x + view.width * scale, y + view.height * scale)


def _crop(pen: Pen, card: views.Card, shown: views.CropView, x: float, y: float) -> None:
    seen, whole = shown.seen, shown.whole
    frame = _placed(seen.box, x, y, CELL_WIDE - SIDE_WIDE - 8, PICTURE_HIGH)
    pen.picture(seen.preview, seen.box, frame, _on_paper(seen))
    side = x + CELL_WIDE - SIDE_WIDE
    small = _placed(whole.window.box, side, y, SIDE_WIDE, 84)
    pen.picture(whole.window.preview, whole.window.box, small)
    pen.outline(whole.window.box, small, whole.corners)
    _others(pen, card.others, side, small.y1 + 6)
    below = y + PICTURE_HIGH + 9
    pen.words(shown.kind, x, below, bold=True)
    pen.paragraph(" ".join(shown.reasons), x, below + 9, CELL_WIDE, lines=3)


def _on_paper(window: views.Window) -> tuple[Mark, ...]:
    """Marks that paper shows: what hides the picture, and where the eyes stand."""
    return tuple(mark for mark in window.marks if mark.layer is not Layer.LIVE)


def _others(pen: Pen, others: tuple[views.CropView, ...], x: float, y: float) -> None:
    each = (SIDE_WIDE - 6) / 2
    for number, other in enumerate(others[:2]):
        left = x + number * (each + 6)
        frame = _placed(other.seen.box, left, y, each, 50)
        pen.picture(other.seen.preview, other.seen.box, frame, arranging.hiding(other.seen.marks))
        pen.badge(other.verdict, left, frame.y1 + 6.5, 5)
        pen.paragraph(other.kind, left, frame.y1 + 12, each, lines=2, size=4.8)


def _refusal(pen: Pen, no: views.Refusal, x: float, y: float) -> None:
    frame = _placed(no.window.box, x, y, CELL_WIDE * 0.5, PICTURE_HIGH - 30)
    pen.picture(no.window.preview, no.window.box, frame)
    for extent in (no.largest, no.must_stay):
        if extent is not None:
            pen.outline(no.window.box, frame, _corners(extent), dim=extent is no.largest)
    side = frame.x1 + 8
    width = x + CELL_WIDE - side
    at = pen.paragraph(no.sentence, side, y + 6, width, lines=5)
    for one in no.conflicts[:2]:
        at = pen.paragraph(f"• {one}", side, at + 3, width, lines=4)
    at = max(at, frame.y1) + 10
    for one in no.ways_out[:4]:
        at = pen.paragraph(f"Way out: {one}", x, at, CELL_WIDE, lines=2) + 2


def _corners(box: Extent) -> tuple[Point, ...]:
    return (
        Point(box.x0, box.y0),
        Point(box.x1, box.y0),
        Point(box.x1, box.y1),
        Point(box.x0, box.y1),
    )


def _matrix(pen: Pen, sheet: Sheet, view: views.MatrixView) -> int:
    pages = 0
    columns = list(_pieces(range(len(view.versions)), MATRIX_COLUMNS))
    for which in columns:
        for rows in _pieces(view.rows, MATRIX_ROWS):
            _matrix_page(pen, sheet, view, which, rows)
            pages += 1
    return pages


def _matrix_page(
    pen: Pen,
    sheet: Sheet,
    view: views.MatrixView,
    which: Sequence[int],
    rows: Sequence[views.MatrixRow],
) -> None:
    _head(pen, sheet, f"Which version goes where: {view.name}")
    says = " ".join(view.sentences)
    pen.paragraph(says, MARGIN, MARGIN + 22, WIDE - 2 * MARGIN, lines=2)
    first = 150.0
    each = (WIDE - 2 * MARGIN - first) / len(which)
    top = MARGIN + HEAD + 20
    for place, index in enumerate(which):
        pen.words(view.versions[index], MARGIN + first + place * each, top - 4, bold=True, size=8)
    high = (HIGH - MARGIN - top) / MATRIX_ROWS
    for number, row in enumerate(rows):
        y = top + number * high
        pen.rule(MARGIN, WIDE - MARGIN, y)
        below = pen.paragraph(row.title, MARGIN, y + 12, first - 8, lines=2, size=8)
        pen.paragraph(row.why, MARGIN, below + 1, first - 8, lines=4, size=6)
        for place, index in enumerate(which):
            field = row.fields[index]
            if field is not None:
                _field(pen, field, MARGIN + first + place * each, y + 4, (each, high))
    pen.canvas.showPage()


def _field(
    pen: Pen, field: views.MatrixCellView, x: float, y: float, room: tuple[float, float]
) -> None:
    wide, high = room
    thumb = 62.0
    if field.window is not None:
        window = field.window
        frame = _placed(window.box, x, y, thumb, high - 8)
        pen.picture(window.preview, window.box, frame, window.marks)
    at = x + thumb + 6
    end = pen.badge(field.cell.verdict, at, y + 7)
    said = "✓ goes here" if field.cell.place == "assigned" else field.cell.place
    pen.words(said, end + 6, y + 7, bold=True, ink=ACCENT)
    width = wide - thumb - 14
    below = pen.paragraph(field.numbers, at, y + 16, width, lines=2, size=6)
    pen.paragraph(field.cell.sentence, at, below + 1, width, lines=3, size=6)
