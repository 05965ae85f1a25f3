"""The report on paper: one A4 page, upright; the same report gives the same bytes.

What does not fit is set smaller, as far as it can still be read; a report of very many questions
takes more pages rather than smaller letters.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from cropper._paper import ACCENT, BOLD, INK, PLAIN, RULE, SOFT, fonts, sayable
from cropper.account.report import INVENTED, Asked, Portrait, Report
from cropper.account.report_ink import ChartInk, Mark, Tags, Warned
from cropper.account.report_page import ends, shortened, value
from cropper.publication.saying import chance
from cropper.publication.seen import Seen

MARGIN: Final = 34.0
WIDE: Final = A4[0] - 2 * MARGIN
HIGH: Final = A4[1] - 2 * MARGIN
PICTURE_HIGH: Final = 132.0
"""House value: faces are still told apart at 46 mm."""
SCALES: Final = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7, 0.64)
"""House value: letters of 8 points become 5 at the least, which is as small as is read on paper."""
GAP: Final = 12.0
MOST_RUNS: Final = 24
"""House value: the latest runs that the sheet lists; the page lists all."""
MOST_PAIRS: Final = 20
"""House value: of many pairs, the sheet lists the clearest; the page lists all."""


def _style(name: str, size: float, *, bold: bool = False, ink: Any = INK) -> ParagraphStyle:
    return ParagraphStyle(
        name, fontName=BOLD if bold else PLAIN, fontSize=size, leading=size * 1.32, textColor=ink
    )


TITLE: Final = _style("title", 17)
HEADING: Final = _style("heading", 11.5)
CALL: Final = _style("call", 10, bold=True)
PLAIN_WORDS: Final = _style("plain", 8)
FINE: Final = _style("fine", 7.2, ink=SOFT)
SMALL_BOLD: Final = _style("small bold", 7.2, bold=True, ink=SOFT)
NAME: Final = _style("name", 8.4, bold=True)
CELL: Final = _style("cell", 7.6)


def words(text: str, style: ParagraphStyle = PLAIN_WORDS) -> Paragraph:
    """A paragraph that says exactly ``text``, whatever signs are in it."""
    return Paragraph(escape(sayable(text)).replace(" %", "\u00a0%"), style)


def pdf(report: Report) -> bytes:
    """The whole report as PDF bytes."""
    fonts()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=1, pageCompression=1)
    canvas.setTitle(sayable(f"{report.set}: what came back"))
    canvas.setSubject("What ran where, what came back, and what may be concluded")
    story, scale = _fitted(report)
    for number, page in enumerate(_pages(story, scale), start=1):
        _put(canvas, page, scale)
        _foot(canvas, report, number)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


Block = list[Flowable]
"""What stays together on a page."""


def _story(report: Report, wide: float) -> list[Block]:
    head: Block = [words(f"{report.set}: what came back", TITLE), words(report.dated, FINE)]
    if report.invented:
        head.append(Warned(words(INVENTED, NAME)))
    ran = [words("What ran where", HEADING), Spacer(1, 2), _runs(report, wide), *_earlier(report)]
    story = [head, [Spacer(1, 6), _pictures(report, wide), Spacer(1, 6)], ran]
    for one in report.asked:
        story += _asked(one, wide)
    if not report.asked:
        said = "No question was declared for this set, so nothing is concluded."
        story.append([Spacer(1, GAP), words(said)])
    story.append([Spacer(1, GAP), *(words(said, FINE) for said in report.caveats)])
    return story


def _pictures(report: Report, wide: float) -> Table:
    """All versions side by side, as high as the page's width allows."""
    shapes = [one.width / one.height for one in report.portraits] or [1.0]
    room = wide - 10 * len(shapes)
    high = min(PICTURE_HIGH, room / sum(shapes))
    row = [
        [_Framed(one, high), Spacer(1, 3), Mark(one.mark, words(one.version, NAME))]
        for one in report.portraits
    ]
    table = Table([row], colWidths=[high * shape + 10 for shape in shapes], hAlign="LEFT")
    table.setStyle([("LEFTPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "BOTTOM")])
    return table


def _runs(report: Report, wide: float) -> Flowable:
    if not report.runs:
        return words("Nothing of this set is recorded as running anywhere.", FINE)
    head = ("outlet", "version", "destination", "from", "until", "state")
    rows = [
        [
            words(f"{one.outlet} {one.where}".strip(), CELL),
            Mark(one.mark, words(one.version, CELL)),
            *(words(cell, CELL) for cell in (one.destination, one.since, one.until, one.state)),
        ]
        for one in report.runs[-MOST_RUNS:]
    ]
    return _table(head, rows, [share * wide for share in (0.26, 0.27, 0.17, 0.11, 0.11, 0.08)])


def _earlier(report: Report) -> Block:
    """A line for the runs that the sheet has no room for."""
    earlier = len(report.runs) - MOST_RUNS
    if earlier <= 0:
        return []
    return [words(f"{earlier} earlier runs stand on the page (HTML) and on the timeline.", FINE)]


def _table(
    head: Sequence[str], rows: Iterable[list[Flowable]], widths: Sequence[float]
) -> Flowable:
    table = Table(
        [[words(cell, FINE) for cell in head], *rows],
        colWidths=widths,
        hAlign="LEFT",
    )
    table.setStyle(
        [
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ]
    )
    return table


def _asked(one: Asked, wide: float) -> list[Block]:
    question = one.reading.question
    call: Block = [
        Spacer(1, GAP),
        words(question.wording or question.name, HEADING),
        words(f"{one.design}; {question.name}" if question.wording else one.design, FINE),
        Spacer(1, 2),
        words(one.reading.sentence, CALL),
    ]
    if one.chart:
        call += [Spacer(1, 4), ChartInk(one.chart, wide)]
    several = len(one.reading.comparisons) > 1
    pairs: list[Block] = [[Spacer(1, 3), _pairs(one, wide)]] if several else []
    told: Block = [Warned(words(said, CELL)) for said in one.reading.warnings]
    return [
        call,
        *pairs,
        [*told, _halves(one, wide)],
        *(_meant(version, wide) for version in one.seen),
    ]


def _pairs(one: Asked, wide: float) -> Flowable:
    pairs = sorted(one.reading.comparisons, key=lambda pair: pair.chance)[:MOST_PAIRS]
    rows: list[list[Flowable]] = [
        [
            words(cell, CELL)
            for cell in (
                f"{shortened(pair.first)} over {shortened(pair.second)}",
                value(pair),
                ends(pair),
                chance(pair.chance),
            )
        ]
        for pair in pairs
    ]
    head = ("pair", pairs[0].unit, "interval", "chance alone does as much")
    return _table(head, rows, [share * wide for share in (0.4, 0.24, 0.14, 0.22)])


def _halves(one: Asked, wide: float) -> Flowable:
    """What may be concluded beside what may not."""
    none = "What stands above, here too." if one.reading.may_not else "Anything."
    left = [words("MAY BE CONCLUDED", SMALL_BOLD)]
    left += [words(f"✓ {said}", CELL) for said in one.reading.may or ("Nothing yet.",)]
    right = [words("MAY NOT BE CONCLUDED", SMALL_BOLD)]
    right += [words(f"✕ {said}", CELL) for said in one.may_not or (none,)]
    table = Table([[left, right]], colWidths=[wide / 2, wide / 2], hAlign="LEFT")
    table.setStyle([("LEFTPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "TOP")])
    return table


def _meant(told: Seen, wide: float) -> Block:
    return [
        words(f"Meant and seen: {told.version}", SMALL_BOLD),
        words(told.sentence, CELL),
        Tags(told, wide),
    ]


class _Framed(Flowable):  # type: ignore[misc]
    """A picture at a given height, or the empty frame of one that is gone."""

    def __init__(self, one: Portrait, high: float) -> None:
        super().__init__()
        self.one, self.height = one, high
        self.width = high * one.width / one.height

    def draw(self) -> None:
        """Into the flowable's own corner, y up."""
        if self.one.jpeg is not None:
            reader = ImageReader(io.BytesIO(self.one.jpeg))
            self.canv.drawImage(reader, 0, 0, self.width, self.height)
            return
        self.canv.setStrokeColor(SOFT)
        self.canv.setDash(2, 2)
        self.canv.rect(0.5, 0.5, self.width - 1, self.height - 1)
        text = words(f"no picture: {self.one.why_not}", FINE)
        _, high = text.wrap(self.width - 12, self.height)
        text.drawOn(self.canv, 6, (self.height - high) / 2)


def _high(block: Iterable[Flowable], wide: float) -> float:
    return float(sum(flowable.wrap(wide, HIGH)[1] for flowable in block))


def _fitted(report: Report) -> tuple[list[Block], float]:
    """The story and how much smaller it is set: as little as brings it on one page, else not."""
    for scale in SCALES:
        wide = WIDE / scale
        story = _story(report, wide)
        if sum(_high(block, wide) for block in story) * scale <= HIGH:
            return story, scale
    return _story(report, WIDE), 1.0


def _pages(story: Iterable[Block], scale: float) -> list[Block]:
    """The blocks on pages; a new page begins where the next block would not fit."""
    pages: list[Block] = [[]]
    used = 0.0
    for block in story:
        high = _high(block, WIDE / scale) * scale
        if pages[-1] and used + high > HIGH:
            pages.append([])
            used = 0.0
        pages[-1] += block
        used += high
    return pages


def _put(canvas: Canvas, page: Iterable[Flowable], scale: float) -> None:
    canvas.saveState()
    canvas.translate(MARGIN, A4[1] - MARGIN)
    canvas.scale(scale, scale)
    y = 0.0
    for flowable in page:
        _, high = flowable.wrap(WIDE / scale, HIGH)
        y -= high
        flowable.drawOn(canvas, 0, y)
    canvas.restoreState()


def _foot(canvas: Canvas, report: Report, number: int) -> None:
    canvas.setFont(PLAIN, 6.5)
    canvas.setFillColor(ACCENT if report.invented else SOFT)
    said = f"{report.set}, {report.dated}" + (f". {INVENTED}" if report.invented else "")
    canvas.drawString(MARGIN, 16, sayable(said))
    canvas.drawRightString(A4[0] - MARGIN, 16, str(number))
