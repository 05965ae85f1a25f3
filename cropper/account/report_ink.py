"""What the paper report draws by itself: marks, intervals on their axis, bars of tags.

Paper speaks points with y **up**; each drawing turns its lines round within its own height.
"""

from __future__ import annotations

from typing import Any, Final

from reportlab.lib.colors import Color, HexColor
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from cropper._paper import ACCENT, BOLD, INK, PAPER, PLAIN, RULE, SOFT, sayable
from cropper.account.intervals import Chart, Group, Row, Shape, shape_of, tone_of
from cropper.account.report_page import rank, shortened, within
from cropper.publication.seen import Seen

LINE: Final = 11.5
SIZE: Final = 7.4
LEFT: Final = 0.30
RIGHT: Final = 0.66
NUMBERS: Final = 0.685
"""Where the axis begins and ends, and where numbers stand, as shares of a chart's width."""
LABEL: Final = 32
"""Characters that fit before the axis."""
WARN: Final = HexColor("#7a5200")
NUMBER_WIDE: Final = 120.0


def stamp(canvas: Canvas, mark: int, x: float, y: float, r: float) -> None:
    """A version's mark, centred on (x, y)."""
    tone = HexColor(tone_of(mark))
    canvas.setFillColor(tone)
    canvas.setStrokeColor(tone)
    match shape_of(mark):
        case Shape.DISC:
            canvas.circle(x, y, r, stroke=0, fill=1)
        case Shape.SQUARE:
            canvas.rect(x - 0.9 * r, y - 0.9 * r, 1.8 * r, 1.8 * r, stroke=0, fill=1)
        case Shape.WEDGE:
            _closed(
                canvas, ((x, y + 1.1 * r), (x + 1.1 * r, y - 0.9 * r), (x - 1.1 * r, y - 0.9 * r))
            )
        case Shape.LOZENGE:
            a = 1.25 * r
            _closed(canvas, ((x, y + a), (x + a, y), (x, y - a), (x - a, y)))
        case Shape.RING:
            canvas.setLineWidth(1.3)
            canvas.setFillColor(PAPER)
            canvas.circle(x, y, 0.8 * r, stroke=1, fill=1)
        case Shape.BOX:
            canvas.setLineWidth(1.3)
            canvas.setFillColor(PAPER)
            canvas.rect(x - 0.75 * r, y - 0.75 * r, 1.5 * r, 1.5 * r, stroke=1, fill=1)


def _closed(canvas: Canvas, corners: tuple[tuple[float, float], ...]) -> None:
    path = canvas.beginPath()
    path.moveTo(*corners[0])
    for corner in corners[1:]:
        path.lineTo(*corner)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


class Mark(Flowable):  # type: ignore[misc]
    """A version's mark with its name after it."""

    def __init__(self, mark: int, name: Paragraph) -> None:
        super().__init__()
        self.mark, self.name = mark, name

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        """As high as the name needs beside the mark."""
        _, needed = self.name.wrap(wide - 10, high)
        self.width, self.height = wide, needed
        return wide, needed

    def draw(self) -> None:
        """The mark stands at the first line."""
        stamp(self.canv, self.mark, 3.4, self.height - self.name.style.leading / 2 - 0.6, 2.8)
        self.name.drawOn(self.canv, 10, 0)


class Warned(Flowable):  # type: ignore[misc]
    """A paragraph with a bar at its left."""

    def __init__(self, said: Paragraph) -> None:
        super().__init__()
        self.said = said

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        """A little air below."""
        _, needed = self.said.wrap(wide - 9, high)
        self.width, self.height = wide, needed + 4
        return wide, self.height

    def draw(self) -> None:
        """The bar, then the words."""
        self.canv.setFillColor(WARN)
        self.canv.rect(0, 2, 2, self.height - 3, stroke=0, fill=1)
        self.said.drawOn(self.canv, 9, 2)


class _Drawn(Flowable):  # type: ignore[misc]
    """Something of a known size, drawn with words of one kind."""

    def __init__(self, wide: float, high: float) -> None:
        super().__init__()
        self.width, self.height = wide, high

    def wrap(self, _wide: float, _high: float) -> tuple[float, float]:
        """Its own size."""
        return self.width, self.height

    def say(
        self, text: str, x: float, y: float, *, ink: Any = INK, bold: bool = False, align: str = ""
    ) -> None:
        """One line whose middle lies at ``y``."""
        self.canv.setFont(BOLD if bold else PLAIN, SIZE)
        self.canv.setFillColor(ink)
        draw = {
            "right": self.canv.drawRightString,
            "middle": self.canv.drawCentredString,
        }.get(align, self.canv.drawString)
        draw(x, y - 0.36 * SIZE, sayable(text))


class ChartInk(_Drawn):
    """All intervals of a reading on their axis."""

    def __init__(self, chart: Chart, wide: float) -> None:
        super().__init__(wide, LINE * (len(chart.lines) + 2))
        self.chart = chart

    def _at(self, place: float) -> float:
        return self.width * (LEFT + place * (RIGHT - LEFT))

    def draw(self) -> None:
        """Grid first, then the line of no preference, then the rows."""
        bottom = 2 * LINE
        for at, told in self.chart.ticks:
            self._upright(at, bottom, RULE)
            self.say(told, self._at(at), bottom - 7, ink=SOFT, align="middle")
        self.say(self.chart.legend, self._at(0), bottom - 17, ink=SOFT)
        if self.chart.even is not None:
            self.canv.setDash(3, 2.4)
            self._upright(self.chart.even, bottom, SOFT)
            self.canv.setDash()
        for number, (group, row) in enumerate(self.chart.lines):
            y = self.height - (number + 0.5) * LINE
            if row is None:
                self.say(shortened(group.title, LABEL), 0, y, ink=SOFT, bold=True)
            else:
                self._row(group, row, y)

    def _upright(self, at: float, bottom: float, ink: Any) -> None:
        self.canv.setStrokeColor(ink)
        self.canv.setLineWidth(0.6)
        self.canv.line(self._at(at), bottom - 2, self._at(at), self.height)

    def _row(self, group: Group, row: Row, y: float) -> None:
        self.say(shortened(row.version, LABEL), 8 if group.title else 0, y)
        if row.low is not None and row.high is not None:
            tone = HexColor(tone_of(row.mark))
            self.canv.setStrokeColor(Color(tone.red, tone.green, tone.blue, alpha=0.55))
            self.canv.setLineWidth(1.3 if group.part else 2.6)
            self.canv.line(self._at(row.low), y, self._at(row.high), y)
        stamp(self.canv, row.mark, self._at(row.value), y, 2.3 if group.part else 3.1)
        self.say(row.number, self.width * NUMBERS, y, ink=SOFT)
        self.say(row.told, self.width, y, align="right")


class Tags(_Drawn):
    """How many remarks speak of each tag: bars, their intervals, and what was meant."""

    def __init__(self, told: Seen, wide: float) -> None:
        super().__init__(wide, LINE * len(told.shares) + 4)
        self.told = told

    def draw(self) -> None:
        """One line for each tag, most spoken of first."""
        left, room = 0.26 * self.width, self.width - 0.26 * self.width - NUMBER_WIDE
        for number, (tag, share) in enumerate(self.told.shares):
            y = self.height - (number + 0.5) * LINE
            meant = tag in self.told.meant
            note = f", meant {rank(self.told.meant, tag)}" if meant else ""
            self.say(f"{tag}{note}", 0, y, bold=meant)
            self.canv.setFillColor(ACCENT if meant else RULE)
            self.canv.rect(left, y - 2.4, room * share.value, 4.8, stroke=0, fill=1)
            self.canv.setStrokeColor(INK)
            self.canv.setLineWidth(0.8)
            self.canv.line(left + room * share.low, y, left + room * share.high, y)
            self.say(
                f"{share.votes:,} of {share.of:,} ({within(share)})",
                self.width,
                y,
                ink=SOFT,
                align="right",
            )
