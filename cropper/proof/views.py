"""What a sheet's page shows, as values: every word said, every mark placed, nothing looked up.

:mod:`cropper.proof.arranging` fills them; the template and the PDF only write what stands here.
"""

from __future__ import annotations

from dataclasses import dataclass

from cropper.geometry import Extent, Point
from cropper.proof.entry import MatrixCell
from cropper.proof.overlays import Mark
from cropper.proof.previews import Preview
from cropper.proposal.proposal import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A picture on the page: which part of which preview, at how many css pixels, with marks."""

    box: Extent
    width: int
    height: int
    preview: str
    marks: tuple[Mark, ...]
    alt: str

    @property
    def view_box(self) -> str:
        """The svg view box, in master pixels."""
        box = self.box
        return f"{box.x0:.2f} {box.y0:.2f} {box.width:.2f} {box.height:.2f}"

    @property
    def text_px(self) -> float:
        """Size of labels in master pixels: 12 css px when shown at full size."""
        return 12 * self.box.width / self.width


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """The whole master with one crop's outline on it."""

    window: Window
    corners: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One row of the folded table of numbers."""

    title: str
    value: str
    doubt: str
    unit: str
    target: str
    limit: str
    verdict: Verdict
    sentence: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CropView:
    """One crop as shown: what is seen, the live areas, the words and the numbers."""

    kind: str
    verdict: Verdict
    seen: Window
    narrower: tuple[tuple[str, Window], ...]
    whole: Whole
    reasons: tuple[str, ...]
    pixels: str
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One destination of one master.

    ``decide`` is the sentence that somebody should read before deciding; empty where all is well.
    """

    anchor: str
    name: str
    title: str
    size: str
    shape: str
    caution: str
    verdict: Verdict
    wide: bool
    by_hand: bool
    chosen_by: str
    note: str
    decide: str
    shown: CropView | None
    others: tuple[CropView, ...]
    refusal: Refusal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """No crop: what conflicts, the ways out, and the master with what must stay in."""

    sentence: str
    conflicts: tuple[str, ...]
    ways_out: tuple[str, ...]
    window: Window
    must_stay: Extent | None
    largest: Extent | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Thumb:
    """A small picture that leads to its card; the whole master where there is no crop."""

    anchor: str
    title: str
    verdict: Verdict
    window: Window


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One master with its cards, and the prints among them to one scale."""

    anchor: str
    version: str
    file: str
    set_name: str
    size: str
    people: tuple[str, ...]
    problem: str
    remarks: tuple[str, ...]
    window: Window
    strip: tuple[Thumb, ...]
    cards: tuple[Card, ...]
    prints: tuple[Print, ...]
    previews: tuple[Preview, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Print:
    """A print at its size relative to the others of the strip."""

    title: str
    size: str
    window: Window


@dataclass(frozen=True, slots=True, kw_only=True)
class MatrixCellView:
    """A field of the matrix: a small picture and a few words."""

    cell: MatrixCell
    anchor: str
    window: Window | None
    numbers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MatrixRow:
    """One destination of a set: why the version that goes there does, and a field per version."""

    title: str
    why: str
    fields: tuple[MatrixCellView | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MatrixView:
    """The matrix of a set; ``sentences`` are about the set as a whole."""

    name: str
    versions: tuple[str, ...]
    rows: tuple[MatrixRow, ...]
    sentences: tuple[str, ...]
