"""Ink on paper: pictures with their marks, verdict shapes and words, drawn on a PDF page.

Paper speaks points with y **up** from the bottom; everything here takes rectangles whose y runs
down from the page's top, as everywhere else in the program, and turns it round in one place.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.utils import ImageReader, simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from cropper._paper import BOLD, INK, PAPER, PLAIN, RULE, sayable
from cropper.geometry import Extent, Point
from cropper.proof.overlays import Area, Fill, Label, Layer, Line, Mark, Veil
from cropper.proof.previews import Preview
from cropper.proof.words import said
from cropper.proposal.proposal import Verdict

HALO: Final = Color(0.1, 0.1, 0.1, alpha=0.55)
DIM: Final = Color(0.35, 0.33, 0.31, alpha=0.72)
PLATE: Final = Color(0.1, 0.1, 0.1, alpha=0.75)
SHADE: Final = Color(0.1, 0.1, 0.1, alpha=0.45)

VERDICT_INK: Final = {
    Verdict.HOLDS: HexColor("#33603c"),
    Verdict.BENDS: HexColor("#7a5200"),
    Verdict.BREAKS: HexColor("#9b2318"),
    Verdict.UNCERTAIN: HexColor("#2f5a85"),
    Verdict.NO_CROP: HexColor("#3d3a36"),
}

LINES: Final = {
    Layer.EYE_LINE: HexColor("#ffb35c"),
    Layer.BLEED: HexColor("#ff8b7a"),
    Layer.GUTTER: HexColor("#f5a8ff"),
    Layer.COVERED: HexColor("#ffffff"),
    Layer.SAFE: HexColor("#b9f5a8"),
    Layer.LIVE: HexColor("#a9b8ff"),
    Layer.FILLED: HexColor("#ffffff"),
}
"""Layers that the paper sheet draws, and their colours. Thirds, pupils and headroom stay off:
small pictures on paper cannot be toggled, and are looked at first."""


@dataclass(frozen=True, slots=True)
class Pen:
    """A canvas spoken to with y running down from the top of the page, in points."""

    canvas: Canvas
    page_height: float
    pictures: Mapping[str, Preview]

    def words(
        self, text: str, x: float, y: float, *, size: float = 7, bold: bool = False, ink: Any = INK
    ) -> float:
        """One line with its baseline at ``y``; returns the x where it ends."""
        said = sayable(text)
        font = BOLD if bold else PLAIN
        self.canvas.setFillColor(ink)
        self.canvas.setFont(font, size)
        self.canvas.drawString(x, self.page_height - y, said)
        return x + float(pdfmetrics.stringWidth(said, font, size))

    def paragraph(
        self, text: str, x: float, y: float, width: float, *, lines: int, size: float = 7
    ) -> float:
        """Wrapped lines, the first baseline at ``y``; cut with an ellipsis. The next baseline."""
        wrapped = simpleSplit(sayable(text), PLAIN, size, width)
        if len(wrapped) > lines:
            wrapped = [*wrapped[: lines - 1], wrapped[lines - 1] + " …"]
        for number, line in enumerate(wrapped):
            self.words(line, x, y + number * size * 1.28, size=size)
        return y + len(wrapped) * size * 1.28

    def rule(self, x0: float, x1: float, y: float) -> None:
        """A thin line across."""
        self.canvas.setStrokeColor(RULE)
        self.canvas.setLineWidth(0.5)
        self.canvas.line(x0, self.page_height - y, x1, self.page_height - y)

    def badge(self, verdict: Verdict, x: float, y: float, size: float = 7) -> float:
        """The verdict's shape and word; returns the x where it ends."""
        self.glyph(verdict, x, y - size * 0.85, size)
        ink = VERDICT_INK[verdict]
        return self.words(said(verdict), x + size * 1.35, y, size=size, bold=True, ink=ink)

    def glyph(self, verdict: Verdict, x: float, y: float, size: float) -> None:
        """The verdict's shape in a square of ``size`` whose top left corner is given."""
        pen = self.canvas
        pen.saveState()
        pen.translate(x, self.page_height - y)
        pen.scale(size / 16, -size / 16)
        pen.setFillColor(VERDICT_INK[verdict])
        pen.setStrokeColor(VERDICT_INK[verdict])
        pen.setLineCap(1)
        _GLYPHS[verdict](pen)
        pen.restoreState()

    def picture(self, key: str, view: Extent, frame: Extent, marks: tuple[Mark, ...] = ()) -> None:
        """The part ``view`` of the master (px) in ``frame`` of the page (pt), with its marks."""
        pen, preview = self.canvas, self.pictures[key]
        pen.saveState()
        page = _Page(pen, self.page_height, view, frame)
        page.clip(marks)
        whole = page.extent(Extent(preview.box.x0, preview.box.y0, preview.box.x1, preview.box.y1))
        reader = _reader(preview.jpeg)
        pen.drawImage(reader, whole.x0, whole.y0, whole.width, whole.height)
        for mark in marks:
            page.draw(mark)
        pen.restoreState()

    def outline(
        self, view: Extent, frame: Extent, corners: tuple[Point, ...], *, dim: bool = True
    ) -> None:
        """A polygon on the master shown in ``frame``; everything outside it dimmed if asked.

        What of it lies past the master, to be filled there, is not drawn.
        """
        pen = self.canvas
        pen.saveState()
        shown = pen.beginPath()
        shown.rect(
            frame.x0 - EDGE, self.page_height - frame.y1 - EDGE, frame.width + 2 * EDGE,
            frame.height + 2 * EDGE,
        )  # fmt: skip
        pen.clipPath(shown, stroke=0, fill=0)
        page = _Page(pen, self.page_height, view, frame)
        if dim:
            path = pen.beginPath()
            path.rect(frame.x0, self.page_height - frame.y1, frame.width, frame.height)
            page.trace(path, corners)
            pen.setFillColor(DIM)
            pen.drawPath(path, stroke=0, fill=1, fillMode=0)
        path = pen.beginPath()
        page.trace(path, corners)
        for ink, width in ((HALO, 2.0), (PAPER, 0.9)):
            pen.setStrokeColor(ink)
            pen.setLineWidth(width)
            pen.drawPath(path, stroke=1, fill=0)
        pen.restoreState()


EDGE: Final = 1.0
"""Points by which an outline on the very edge of a picture may stand out."""


class _Jpeg(ImageReader):  # type: ignore[misc] # the library has no types
    """A picture that the canvas knows by its file's digest, and embeds as it is, once.

    Left alone, the canvas decodes the picture and digests all its pixels each time it is drawn.
    """

    def __init__(self, jpeg: bytes) -> None:
        super().__init__(io.BytesIO(jpeg))
        self._dataA = None  # no transparency in a JPEG
        self._known_by = hashlib.sha256(jpeg).digest()

    def getRGBData(self) -> bytes:  # noqa: N802 - the library's name
        """What the canvas makes the picture's name from; a JPEG's pixels it never takes here."""
        return self._known_by


@cache
def _reader(jpeg: bytes) -> Any:
    """One reader per picture."""
    return _Jpeg(jpeg)


@dataclass(frozen=True, slots=True)
class _Page:
    """Master pixels to page points for one picture."""

    pen: Canvas
    page_height: float
    view: Extent
    frame: Extent

    def at(self, point: Point) -> Point:
        across = self.frame.width / self.view.width
        down = self.frame.height / self.view.height
        return Point(
            self.frame.x0 + (point.x - self.view.x0) * across,
            self.page_height - self.frame.y0 - (point.y - self.view.y0) * down,
        )

    def extent(self, box: Extent) -> Extent:
        """The box in points, y up."""
        low, high = self.at(Point(box.x0, box.y1)), self.at(Point(box.x1, box.y0))
        return Extent(low.x, low.y, high.x, high.y)

    def clip(self, marks: tuple[Mark, ...]) -> None:
        """Ink only inside the frame, or inside the circle that a round veil leaves open."""
        path = self.pen.beginPath()
        hole = next((one.hole for one in marks if isinstance(one, Veil) and one.round_hole), None)
        if hole is None:
            y = self.page_height - self.frame.y1
            path.rect(self.frame.x0, y, self.frame.width, self.frame.height)
        else:
            ring = self.extent(hole)
            path.circle(ring.centre.x, ring.centre.y, ring.width / 2)
        self.pen.clipPath(path, stroke=0, fill=0)

    def trace(self, path: Any, corners: tuple[Point, ...]) -> None:
        first, *rest = (self.at(corner) for corner in corners)
        path.moveTo(first.x, first.y)
        for corner in rest:
            path.lineTo(corner.x, corner.y)
        path.close()

    def draw(self, mark: Mark) -> None:
        if isinstance(mark, Veil):
            self._veil(mark)
        elif isinstance(mark, Fill):
            self._fill(mark)
        elif mark.layer not in LINES:
            return
        elif isinstance(mark, Area):
            self._area(mark)
        elif isinstance(mark, Line):
            self._line(mark)
        elif isinstance(mark, Label):
            self._label(mark)

    def _veil(self, mark: Veil) -> None:
        if mark.round_hole:
            return
        path = self.pen.beginPath()
        outer, hole = self.extent(mark.outer), self.extent(mark.hole)
        path.rect(outer.x0 - 4, outer.y0 - 4, outer.width + 8, outer.height + 8)
        path.rect(hole.x0, hole.y0, hole.width, hole.height)
        self.pen.setFillColor(PAPER, alpha=0.8)
        self.pen.drawPath(path, stroke=0, fill=1, fillMode=0)

    def _fill(self, mark: Fill) -> None:
        box = self.extent(mark.box)
        self.pen.setFillColor(HexColor(mark.colour))
        self.pen.rect(box.x0, box.y0, box.width, box.height, stroke=0, fill=1)
        self.pen.setStrokeColor(PAPER, alpha=0.5)
        self.pen.setLineWidth(0.4)
        self.pen.setDash()
        for first, last in mark.hatch:
            a, b = self.at(first), self.at(last)
            self.pen.line(a.x, a.y, b.x, b.y)
        self.pen.setStrokeColor(PAPER, alpha=1)

    def _area(self, mark: Area) -> None:
        if mark.layer is Layer.EYE_LINE:
            return
        box = self.extent(mark.box)
        self.pen.setFillColor(SHADE)
        self.pen.setStrokeColor(LINES[mark.layer])
        self.pen.setLineWidth(0.6)
        self.pen.setDash(*((2, 1.5) if mark.filled or mark.layer is not Layer.BLEED else ()))
        fill = int(mark.filled and mark.layer is Layer.COVERED)
        self.pen.rect(box.x0, box.y0, box.width, box.height, stroke=1, fill=fill)

    def _line(self, mark: Line) -> None:
        a, b = self.at(mark.a), self.at(mark.b)
        self.pen.setDash()
        for ink, width in ((HALO, 1.5), (LINES[mark.layer], 0.6)):
            self.pen.setStrokeColor(ink)
            self.pen.setLineWidth(width)
            self.pen.line(a.x, a.y, b.x, b.y)

    def _label(self, mark: Label) -> None:
        if mark.layer not in {Layer.COVERED, Layer.FILLED}:
            return
        at = self.at(mark.at)
        self.pen.saveState()
        self.pen.translate(at.x, at.y)
        if mark.upwards:
            self.pen.rotate(90)
        said = sayable(mark.text)
        if mark.layer is Layer.FILLED:  # a border may be as light as the letters
            wide = float(pdfmetrics.stringWidth(said, PLAIN, 5)) + 4
            self.pen.setFillColor(PLATE)
            self.pen.rect(-wide / 2, -3.5, wide, 7, stroke=0, fill=1)
        self.pen.setFillColor(PAPER, alpha=1)
        self.pen.setFont(PLAIN, 5)
        self.pen.drawCentredString(0, -2, said)
        self.pen.restoreState()


def _holds(pen: Canvas) -> None:
    pen.circle(8, 8, 6.2, stroke=0, fill=1)


def _bends(pen: Canvas) -> None:
    pen.setLineWidth(3)
    pen.bezier(2, 11.5, 5, 1.5, 11, 1.5, 14, 11.5)


def _breaks(pen: Canvas) -> None:
    pen.setLineWidth(3.2)
    pen.line(3, 3, 13, 13)
    pen.line(13, 3, 3, 13)


def _uncertain(pen: Canvas) -> None:
    pen.setLineWidth(2.3)
    path = pen.beginPath()
    path.moveTo(4.8, 6.2)
    path.curveTo(5, 2, 11.2, 2, 11.2, 6)
    path.curveTo(11.2, 8.4, 8, 8.6, 8, 11)
    pen.drawPath(path, stroke=1, fill=0)
    pen.circle(8, 14, 1.5, stroke=0, fill=1)


def _no_crop(pen: Canvas) -> None:
    pen.setLineWidth(1.8)
    pen.rect(2.2, 3.2, 11.6, 9.6, stroke=1, fill=0)
    pen.line(2.2, 12.8, 13.8, 3.2)


_GLYPHS: Final = {
    Verdict.HOLDS: _holds,
    Verdict.BENDS: _bends,
    Verdict.BREAKS: _breaks,
    Verdict.UNCERTAIN: _uncertain,
    Verdict.NO_CROP: _no_crop,
}
