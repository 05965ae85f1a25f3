"""A press PDF: one picture placed in its bleed, boxes exact, the output intent embedded.

BleedBox is the picture with its bleed, TrimBox the page, and MediaBox the BleedBox, or more where
crop marks are asked for. The output intent is the printer's profile; a screen's is never one. A
spread becomes one page, or two with the fold between, each with its own bleed (at the fold it shows
what the other page has). The picture is stored without loss. No PDF/X level is claimed: nothing
independent has confirmed one. Boxes per ISO 32000-2, 14.11.2; points = mm / 25.4 x 72.
"""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

import numpy as np

from cropper import __version__
from cropper.deliverable.encoding import Encoded
from cropper.deliverable.packets import Document, xmp
from cropper.deliverable.rendering import Rendered
from cropper.deliverable.words import NO_WORDS, Words, cleaned
from cropper.destination.destination import Destination
from cropper.errors import DeliveryError
from cropper.master.icc import tag_contents
from cropper.proposal.delivering import lying_as

POINTS_PER_MM: Final = Fraction(720, 254)
PLACES: Final = Decimal("0.0001")
"""Box corners are written to a ten-thousandth of a point."""
SHAPE_SLACK: Final = Fraction(1, 100)
"""How far the picture's shape may be from the page's with bleed: pixel rounding, no more."""
COLOUR_SPACES: Final = {1: "/DeviceGray", 3: "/DeviceRGB", 4: "/DeviceCMYK"}


MARK_MM: Final = Fraction(5)
"""Length of a crop mark (house)."""
MARK_GAP_MM: Final = Fraction(1)
"""Between the bleed and a mark (house)."""
MARK_POINTS: Final = "0.25"
"""Line width of a mark (house: a hairline)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How pages are laid out. ``page_mm`` is the whole trim, of both pages of a spread.

    ``fold`` is its place across the trim, 0..1. ``strip_mm`` is what both pages show of each other
    at the fold, together; the bleed when that is more. ``marks``: crop marks in a margin of their
    own, outside the bleed.
    """

    page_mm: tuple[Fraction, Fraction]
    bleed_mm: Fraction
    pages: int = 1
    fold: Fraction = Fraction(1, 2)
    strip_mm: Fraction = Fraction(0)
    marks: bool = False

    def __post_init__(self) -> None:
        if self.pages not in {1, 2} or not 0 < self.fold < 1:
            raise ValueError("a press PDF has one page, or two with a fold between")

    @property
    def whole_mm(self) -> tuple[Fraction, Fraction]:
        """Of the picture, bleed included."""
        return self.page_mm[0] + 2 * self.bleed_mm, self.page_mm[1] + 2 * self.bleed_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One page in points, corners (x0, y0, x1, y1); ``picture`` is its lower left corner."""

    media: tuple[Decimal, ...]
    bleed: tuple[Decimal, ...]
    trim: tuple[Decimal, ...]
    picture: tuple[Decimal, Decimal]


def points(mm: Fraction) -> Decimal:
    """Millimetres in points.

    >>> points(Fraction(210)), points(Fraction(3))
    (Decimal('595.2756'), Decimal('8.5039'))
    """
    exact = mm * POINTS_PER_MM
    return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(PLACES)


def sheets(layout: Layout) -> tuple[Sheet, ...]:
    """The pages of the trim, side by side in one or two."""
    wide, high = layout.page_mm
    if layout.pages == 1:
        return (_sheet(layout, (Fraction(0), wide), high, (layout.bleed_mm, layout.bleed_mm)),)
    fold, inner = wide * layout.fold, max(layout.bleed_mm, layout.strip_mm / 2)
    return (
        _sheet(layout, (Fraction(0), fold), high, (layout.bleed_mm, inner)),
        _sheet(layout, (fold, wide), high, (inner, layout.bleed_mm)),
    )


def _sheet(
    layout: Layout,
    part: tuple[Fraction, Fraction],
    high: Fraction,
    bleeds: tuple[Fraction, Fraction],
) -> Sheet:
    """The page that shows ``part`` of the trim's width, with a left and a right bleed."""
    margin = MARK_GAP_MM + MARK_MM if layout.marks else Fraction(0)
    left, right = bleeds
    x, y, wide = margin + left, margin + layout.bleed_mm, part[1] - part[0]
    ends = (x + wide + right, y + high + layout.bleed_mm)
    return Sheet(
        media=_box(Fraction(0), Fraction(0), ends[0] + margin, ends[1] + margin),
        bleed=_box(margin, margin, *ends),
        trim=_box(x, y, x + wide, y + high),
        picture=(points(x - part[0] - layout.bleed_mm), points(margin)),
    )


def _box(*corners: Fraction) -> tuple[Decimal, ...]:
    return tuple(points(corner) for corner in corners)


def page_file(rendered: Rendered, destination: Destination, words: Words = NO_WORDS) -> Encoded:
    """The pages that ``destination`` asks for."""
    lying = lying_as(destination, rendered.size)
    finish, gutter = lying.finish, lying.gutter
    if lying.page_mm is None:
        raise DeliveryError(
            f"{destination.name}: a press PDF needs a size on paper",
            way_out="State size_mm or size_in in its preset",
        )
    layout = Layout(
        page_mm=lying.page_mm,
        bleed_mm=lying.bleed_mm,
        pages=finish.pages,
        fold=gutter.at if gutter else Fraction(1, 2),
        strip_mm=(gutter.strip_mm if gutter else None) or Fraction(0),
        marks=finish.crop_marks,
    )
    _, said = cleaned(words)
    if not is_printing_condition(rendered.profile):
        said = (*said, NOT_AN_INTENT)
    return Encoded(data=laid_out(rendered, layout, words), quality=100, notes=said)


def press_pdf(
    rendered: Rendered,
    *,
    page_mm: tuple[Fraction, Fraction],
    bleed_mm: Fraction,
    pages: int = 1,
    words: Words = NO_WORDS,
) -> bytes:
    """The PDF's bytes. ``page_mm`` is the whole trim (of both pages of a spread)."""
    return laid_out(rendered, Layout(page_mm=page_mm, bleed_mm=bleed_mm, pages=pages), words)


def laid_out(rendered: Rendered, layout: Layout, words: Words = NO_WORDS) -> bytes:
    """The PDF's bytes for a layout."""
    full = layout.whole_mm
    _refuse_other_shape(rendered, full)
    import pikepdf  # noqa: PLC0415 - heavy, only for PDFs

    pdf = pikepdf.new()
    profile = _profile(pikepdf, pdf, rendered)
    picture = _picture(pikepdf, pdf, rendered, profile)
    size = (points(full[0]), points(full[1]))
    for sheet in sheets(layout):
        drawing = _drawing(sheet, size, marks=layout.marks)
        pdf.pages.append(_page(pikepdf, pdf, sheet, picture, drawing))
    _finish(pikepdf, pdf, rendered, profile, words)
    file = io.BytesIO()
    pdf.save(file, deterministic_id=True, min_version="1.6")
    return file.getvalue()


def _drawing(sheet: Sheet, size: tuple[Decimal, Decimal], *, marks: bool) -> str:
    """The page's marking operators: the picture within the bleed, then the marks."""
    x0, y0, x1, y1 = sheet.bleed
    x, y = sheet.picture
    picture = f"q {x0} {y0} {x1 - x0} {y1 - y0} re W n {size[0]} 0 0 {size[1]} {x} {y} cm /P Do Q"
    return f"{picture}\n{_marks(sheet)}" if marks else picture


def _marks(sheet: Sheet) -> str:
    """Two hairlines at each corner of the trim, in all inks, outside the bleed."""
    (bx0, by0, bx1, by1), (tx0, ty0, tx1, ty1) = sheet.bleed, sheet.trim
    gap, long = points(MARK_GAP_MM), points(MARK_MM)
    lines = [
        *(
            (x, y, x, y + step)
            for x in (tx0, tx1)
            for y, step in ((by0 - gap, -long), (by1 + gap, long))
        ),
        *(
            (x, y, x + step, y)
            for y in (ty0, ty1)
            for x, step in ((bx0 - gap, -long), (bx1 + gap, long))
        ),
    ]
    drawn = " ".join(f"{a} {b} m {c} {d} l S" for a, b, c, d in lines)
    return f"q /All CS 1 SCN {MARK_POINTS} w {drawn} Q"


def _refuse_other_shape(rendered: Rendered, full_mm: tuple[Fraction, Fraction]) -> None:
    """The picture must be rendered with its bleed."""
    shape = Fraction(rendered.size.width, rendered.size.height)
    if abs(shape / (full_mm[0] / full_mm[1]) - 1) > SHAPE_SLACK:
        raise DeliveryError(
            f"a picture of {rendered.size.width} x {rendered.size.height} px has not the shape of "
            f"a page of {float(full_mm[0]):g} x {float(full_mm[1]):g} mm with bleed",
            way_out="Render it for a destination with this page and bleed",
        )
    if rendered.pixels.dtype != np.uint8:
        raise DeliveryError(
            "a press PDF holds 8 bits a channel", way_out="Ask for a bit depth of 8"
        )


def _profile(pikepdf: Any, pdf: Any, rendered: Rendered) -> Any:
    """The ICC profile as a stream, for the picture and the output intent alike."""
    channels = rendered.pixels.shape[2]
    return pdf.make_indirect(
        pikepdf.Stream(
            pdf, rendered.profile, N=channels, Alternate=pikepdf.Name(COLOUR_SPACES[channels])
        )
    )


def _picture(pikepdf: Any, pdf: Any, rendered: Rendered, profile: Any) -> Any:
    """The pixels, each row as differences (TIFF predictor 2), deflated."""
    rows, columns, channels = rendered.pixels.shape
    differences = rendered.pixels.copy()
    differences[:, 1:] -= rendered.pixels[:, :-1]  # modulo 256, as the predictor wants
    stream = pikepdf.Stream(
        pdf,
        zlib.compress(differences.tobytes(), 6),
        Type=pikepdf.Name.XObject,
        Subtype=pikepdf.Name.Image,
        Width=columns,
        Height=rows,
        BitsPerComponent=8,
        ColorSpace=pikepdf.Array([pikepdf.Name.ICCBased, profile]),
        Filter=pikepdf.Name.FlateDecode,
        DecodeParms=pikepdf.Dictionary(
            Predictor=2, Colors=channels, BitsPerComponent=8, Columns=columns
        ),
    )
    return pdf.make_indirect(stream)


def _page(pikepdf: Any, pdf: Any, sheet: Sheet, picture: Any, drawing: str) -> Any:
    """One page that shows its part of the picture."""
    channels = int(picture.DecodeParms.Colors)
    resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(P=picture))
    if "/All CS" in drawing:
        resources.ColorSpace = pikepdf.Dictionary(All=_all_inks(pikepdf, channels))
    return pikepdf.Page(
        pdf.make_indirect(
            pikepdf.Dictionary(
                Type=pikepdf.Name.Page,
                MediaBox=pikepdf.Array(sheet.media),
                BleedBox=pikepdf.Array(sheet.bleed),
                TrimBox=pikepdf.Array(sheet.trim),
                Resources=resources,
                Contents=pikepdf.Stream(pdf, drawing.encode()),
            )
        )
    )


def _all_inks(pikepdf: Any, channels: int) -> Any:
    """The colour of marks: every ink there is (ISO 32000-2, 8.6.6.4), else the picture's black."""
    space, none, most = {1: ("DeviceGray", [1], [0]), 3: ("DeviceRGB", [1] * 3, [0] * 3)}.get(
        channels, ("DeviceCMYK", [0] * 4, [1] * 4)
    )
    full = pikepdf.Dictionary(FunctionType=2, Domain=[0, 1], C0=none, C1=most, N=1)
    name = pikepdf.Name
    return pikepdf.Array([name.Separation, name.All, name(f"/{space}"), full])


def _finish(pikepdf: Any, pdf: Any, rendered: Rendered, profile: Any, words: Words) -> None:
    """Output intent, document information, and words."""
    if is_printing_condition(rendered.profile):
        pdf.Root.OutputIntents = pikepdf.Array([_intent(pikepdf, rendered, profile)])
    clean, _ = cleaned(words)
    made = datetime.now(UTC).replace(microsecond=0)
    pdf.docinfo["/CreationDate"] = pdf.docinfo["/ModDate"] = f"D:{made:%Y%m%d%H%M%S}Z"
    pdf.docinfo["/Producer"] = PRODUCER
    # One picture: where two inks could part, there is no edge that would need trapping.
    pdf.docinfo["/Trapped"] = pikepdf.Name("/False")
    if clean.headline:
        pdf.docinfo["/Title"] = clean.headline
    if clean.creator:
        pdf.docinfo["/Author"] = clean.creator
    document = Document(producer=PRODUCER, made=made.isoformat(), trapped=False)
    pdf.Root.Metadata = pdf.make_indirect(
        pikepdf.Stream(
            pdf, xmp(clean, document), Type=pikepdf.Name.Metadata, Subtype=pikepdf.Name.XML
        )
    )


PRODUCER: Final = f"cropper {__version__}"
NOT_AN_INTENT: Final = (
    "no output intent: the profile is not a printing condition; ask the printer for theirs"
)
REGISTRY: Final = "http://www.color.org"
"""Where registered printing conditions are listed (ISO 15930, from memory)."""
REGISTERED: Final = b"ICCHDAT "
"""Begins a profile's ``targ`` tag where its condition is registered; the name follows (ICC.1)."""


def is_printing_condition(profile: bytes) -> bool:
    """Whether a profile is of an output device (ICC.1:2022, table 18); no screen's is."""
    return profile[12:16] == b"prtr"


def registered_name(profile: bytes) -> str:
    """The registry's name of the condition that a profile was made for; empty when it has none."""
    try:
        text = tag_contents(profile).get(b"targ", b"")[8:]
    except struct.error:
        return ""
    if not text.startswith(REGISTERED):
        return ""
    return text[len(REGISTERED) :].split(b"\0")[0].decode("ascii", "replace").strip()


def _intent(pikepdf: Any, rendered: Rendered, profile: Any) -> Any:
    """What the file is to be printed by (ISO 32000-2, 14.11.5)."""
    name = registered_name(rendered.profile)
    intent = pikepdf.Dictionary(
        Type=pikepdf.Name.OutputIntent,
        S=pikepdf.Name.GTS_PDFX,
        OutputConditionIdentifier=name or "Custom",
        OutputCondition=rendered.profile_name,
        Info=rendered.profile_name,
        DestOutputProfile=profile,
    )
    if name:
        intent.RegistryName = REGISTRY
    return intent
