"""The timeline on paper: one page, as large as it must be; the same timeline, the same bytes.

What does not fit on A4 with names is tried with letters, then on the next larger sheets.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.pagesizes import A0, A1, A2, A3, A4, landscape
from reportlab.pdfgen.canvas import Canvas

from cropper._paper import ACCENT, BOLD, INK, PAPER, PLAIN, RULE, SOFT, fonts, sayable
from cropper.account.intervals import tone_of
from cropper.account.report_ink import stamp
from cropper.account.timeline import Timeline
from cropper.account.timeline_fitting import folded
from cropper.account.timeline_key import legend, signs
from cropper.account.timeline_laying import lay
from cropper.account.timeline_marks import Box, Drawing, Hatch, Line, Stamp, Words
from cropper.account.timeline_saying import INVENTED, dated, heading, where_and_when

MARGIN: Final = 28.0
TITLE: Final = 17.0
NOTE: Final = 7.0
LEADING: Final = 9.6
TOP: Final = 34.0
GAP: Final = 8.0
HATCH_GAP: Final = 3.2
"""House values, in points."""
MOST_NOTES: Final = 40
"""More clashes than this are counted, not told, on paper (house)."""
SHEETS: Final = (
    (landscape(A4), False),
    (landscape(A4), True),
    (A3, False),
    (A3, True),
    (A2, False),
    (A2, True),
    (A1, False),
    (A1, True),
    (A0, False),
)
"""Sheets in the order in which they are tried, and whether letters stand for names."""
WARN: Final = HexColor("#9c2414")
INKS: Final = {
    "ink": INK,
    "soft": SOFT,
    "rule": RULE,
    "accent": ACCENT,
    "paper": PAPER,
    "warn": WARN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What goes on the page, and how large that is."""

    wide: float
    high: float
    parts: tuple[Drawing, ...]
    notes: tuple[str, ...]


def pdf(chart: Timeline) -> bytes:
    """The whole timeline as PDF bytes: one page."""
    fonts()
    sheet = _sheet(chart)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(sheet.wide, sheet.high), invariant=1, pageCompression=1)
    canvas.setTitle(heading(chart))
    canvas.setSubject(dated(chart))
    canvas.translate(0, sheet.high)
    y = _head(canvas, chart, sheet)
    for part in sheet.parts:
        _draw(canvas, part, MARGIN, y)
        y += part.high + GAP
    _notes(canvas, sheet, y)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _sheet(chart: Timeline) -> Sheet:
    """The first sheet that holds it all; else one as wide as the last and as long as needed."""
    for (wide, high), brief in SHEETS:
        parts, notes, needed = _parts(chart, wide, brief=brief)
        if needed <= high:
            return Sheet(wide=wide, high=high, parts=parts, notes=notes)
    return Sheet(wide=wide, high=needed, parts=parts, notes=notes)


def _parts(
    chart: Timeline, wide: float, *, brief: bool
) -> tuple[tuple[Drawing, ...], tuple[str, ...], float]:
    room = wide - 2 * MARGIN
    drawn = (legend(chart, room), lay(chart, room, brief=brief), signs(chart, room))
    parts = tuple(part for part in drawn if part.high)
    notes = tuple(_folded_notes(chart, room))
    high = TOP + 2 * MARGIN + sum(part.high + GAP for part in parts) + LEADING * len(notes)
    return parts, notes, high + (LEADING if chart.invented else 0)


def _folded_notes(chart: Timeline, room: float) -> Iterator[str]:
    for note in chart.notes[:MOST_NOTES]:
        lines = folded(f"✕ {note.number}  {where_and_when(note)}", room - 14, NOTE)
        yield lines[0]
        yield from (f"      {line}" for line in lines[1:])
    if len(chart.notes) > MOST_NOTES:
        yield f"and {len(chart.notes) - MOST_NOTES} clashes more: the page (HTML) lists them all."


def _head(canvas: Canvas, chart: Timeline, sheet: Sheet) -> float:
    """Title and dates; where the next thing may begin."""
    canvas.setFillColor(INK)
    canvas.setFont(PLAIN, TITLE)
    canvas.drawString(MARGIN, -MARGIN - 13, heading(chart))
    canvas.setFillColor(SOFT)
    canvas.setFont(PLAIN, NOTE)
    canvas.drawRightString(sheet.wide - MARGIN, -MARGIN - 13, sayable(dated(chart)))
    if not chart.invented:
        return MARGIN + TOP
    canvas.setFillColor(WARN)
    canvas.setFont(BOLD, NOTE)
    canvas.drawString(MARGIN, -MARGIN - 25, INVENTED)
    return MARGIN + TOP + LEADING


def _notes(canvas: Canvas, sheet: Sheet, y: float) -> None:
    canvas.setFillColor(INK)
    canvas.setFont(PLAIN, NOTE)
    for number, line in enumerate(sheet.notes):
        canvas.drawString(MARGIN, -(y + 6 + number * LEADING), sayable(line))


def _draw(canvas: Canvas, drawing: Drawing, x: float, y: float) -> None:
    """A drawing with its top left corner at (x, y) from the page's top left, y down."""
    canvas.saveState()
    canvas.translate(x, -y)
    for mark in drawing.marks:
        _DRAWN[type(mark)](canvas, mark)
    canvas.restoreState()


def _colour(ink: str) -> Any:
    return INKS.get(ink) or HexColor(tone_of(int(ink.removeprefix("t"))))


def _tint(ink: str, share: float) -> Color:
    """So much of the ink on white: printers without transparency print it too."""
    full = _colour(ink)
    red, green, blue = (1 - share * (1 - part) for part in (full.red, full.green, full.blue))
    return Color(red, green, blue)


def _line(canvas: Canvas, mark: Line) -> None:
    canvas.setStrokeColor(_colour(mark.ink))
    canvas.setLineWidth(mark.wide)
    canvas.setDash(*((mark.dash, mark.dash) if mark.dash else ()))
    canvas.line(mark.x0, -mark.y0, mark.x1, -mark.y1)
    canvas.setDash()


def _box(canvas: Canvas, mark: Box) -> None:
    wide, high = mark.x1 - mark.x0, mark.y1 - mark.y0
    if mark.fill:
        canvas.setFillColor(_tint(mark.ink, mark.fill))
        canvas.rect(mark.x0, -mark.y1, wide, high, stroke=0, fill=1)
    if mark.hatch:
        _hatch(canvas, mark)
    if mark.edge:
        canvas.setStrokeColor(_colour(mark.ink))
        canvas.setLineWidth(mark.edge)
        canvas.setDash(*((mark.dash, mark.dash) if mark.dash else ()))
        canvas.rect(mark.x0, -mark.y1, wide, high, stroke=1, fill=0)
        canvas.setDash()


def _hatch(canvas: Canvas, mark: Box) -> None:
    """The box ruled, and nothing outside it."""
    high = mark.y1 - mark.y0
    canvas.saveState()
    path = canvas.beginPath()
    path.rect(mark.x0, -mark.y1, mark.x1 - mark.x0, high)
    canvas.clipPath(path, stroke=0, fill=0)
    canvas.setStrokeColor(_colour(mark.ink))
    canvas.setLineWidth(0.6)
    x = mark.x0 - high
    while x < mark.x1 + high:
        if mark.hatch in {Hatch.RISING, Hatch.CROSSED}:
            canvas.line(x, -mark.y1, x + high, -mark.y0)
        if mark.hatch in {Hatch.FALLING, Hatch.CROSSED}:
            canvas.line(x, -mark.y0, x + high, -mark.y1)
        if mark.hatch is Hatch.UPRIGHT:
            canvas.line(x, -mark.y0, x, -mark.y1)
        x += HATCH_GAP
    canvas.restoreState()


def _stamp(canvas: Canvas, mark: Stamp) -> None:
    stamp(canvas, mark.mark, mark.x, -mark.y, mark.r)


def _words(canvas: Canvas, mark: Words) -> None:
    canvas.setFont(BOLD if mark.bold else PLAIN, mark.size)
    canvas.setFillColor(_colour(mark.ink))
    draw = {"end": canvas.drawRightString, "middle": canvas.drawCentredString}.get(
        mark.align, canvas.drawString
    )
    draw(mark.x, -mark.y - 0.36 * mark.size, sayable(mark.text))


_DRAWN: Final[dict[type, Callable[[Canvas, Any], None]]] = {
    Line: _line,
    Box: _box,
    Stamp: _stamp,
    Words: _words,
}
