"""A press PDF: one picture placed in its bleed, boxes exact, the output intent embedded.

MediaBox and BleedBox are the picture with its bleed, TrimBox the page. A spread becomes one page,
or two with the fold between, each with its own bleed (at the fold it shows what the other page
has). The picture is stored without loss. No PDF/X level is claimed: nothing independent has
confirmed one. Boxes per ISO 32000-2, 14.11.2; points = mm / 25.4 x 72.
"""

from __future__ import annotations

import io
import zlib
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

import numpy as np

from cropper.deliverable.packets import xmp
from cropper.deliverable.rendering import Rendered
from cropper.deliverable.words import NO_WORDS, Words, cleaned
from cropper.errors import DeliveryError

POINTS_PER_MM: Final = Fraction(720, 254)
PLACES: Final = Decimal("0.0001")
"""Box corners are written to a ten-thousandth of a point."""
SHAPE_SLACK: Final = Fraction(1, 100)
"""How far the picture's shape may be from the page's with bleed: pixel rounding, no more."""
COLOUR_SPACES: Final = {1: "/DeviceGray", 3: "/DeviceRGB", 4: "/DeviceCMYK"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One page in points: its trim in its media box, and where the picture's left edge lies."""

    media: tuple[Decimal, Decimal]
    trim: tuple[Decimal, Decimal, Decimal, Decimal]
    picture_x: Decimal


def points(mm: Fraction) -> Decimal:
    """Millimetres in points.

    >>> points(Fraction(210)), points(Fraction(3))
    (Decimal('595.2756'), Decimal('8.5039'))
    """
    exact = mm * POINTS_PER_MM
    return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(PLACES)


def sheets(page_mm: tuple[Fraction, Fraction], bleed_mm: Fraction, pages: int) -> tuple[Sheet, ...]:
    """The pages of a trim of ``page_mm``, side by side in one or two."""
    wide, high = page_mm[0] / pages, page_mm[1]
    media = (points(wide + 2 * bleed_mm), points(high + 2 * bleed_mm))
    trim = (points(bleed_mm), points(bleed_mm), points(bleed_mm + wide), points(bleed_mm + high))
    return tuple(
        Sheet(media=media, trim=trim, picture_x=points(-wide * number)) for number in range(pages)
    )


def press_pdf(
    rendered: Rendered,
    *,
    page_mm: tuple[Fraction, Fraction],
    bleed_mm: Fraction,
    pages: int = 1,
    words: Words = NO_WORDS,
) -> bytes:
    """The PDF's bytes. ``page_mm`` is the whole trim (of both pages of a spread)."""
    if pages not in {1, 2}:
        raise ValueError("a press PDF has one page, or two for a spread")
    full = (page_mm[0] + 2 * bleed_mm, page_mm[1] + 2 * bleed_mm)
    _refuse_other_shape(rendered, full)
    import pikepdf  # noqa: PLC0415 - heavy, only for PDFs

    pdf = pikepdf.new()
    profile = _profile(pikepdf, pdf, rendered)
    picture = _picture(pikepdf, pdf, rendered, profile)
    size = (points(full[0]), points(full[1]))
    for sheet in sheets(page_mm, bleed_mm, pages):
        pdf.pages.append(_page(pikepdf, pdf, sheet, picture, size))
    _finish(pikepdf, pdf, rendered, profile, words)
    file = io.BytesIO()
    pdf.save(file, deterministic_id=True)
    return file.getvalue()


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


def _page(pikepdf: Any, pdf: Any, sheet: Sheet, picture: Any, size: tuple[Decimal, Decimal]) -> Any:
    """One page that shows its part of the picture."""
    media = pikepdf.Array([0, 0, *sheet.media])
    drawing = f"q {size[0]} 0 0 {size[1]} {sheet.picture_x} 0 cm /P Do Q"
    return pikepdf.Page(
        pdf.make_indirect(
            pikepdf.Dictionary(
                Type=pikepdf.Name.Page,
                MediaBox=media,
                BleedBox=media,
                TrimBox=pikepdf.Array(sheet.trim),
                Resources=pikepdf.Dictionary(XObject=pikepdf.Dictionary(P=picture)),
                Contents=pikepdf.Stream(pdf, drawing.encode()),
            )
        )
    )


def _finish(pikepdf: Any, pdf: Any, rendered: Rendered, profile: Any, words: Words) -> None:
    """Output intent and words."""
    pdf.Root.OutputIntents = pikepdf.Array(
        [
            pikepdf.Dictionary(
                Type=pikepdf.Name.OutputIntent,
                S=pikepdf.Name.GTS_PDFX,
                OutputConditionIdentifier=rendered.profile_name,
                Info=rendered.profile_name,
                DestOutputProfile=profile,
            )
        ]
    )
    clean, _ = cleaned(words)
    if clean.headline:
        pdf.docinfo["/Title"] = clean.headline
    if clean.creator:
        pdf.docinfo["/Author"] = clean.creator
    packet = xmp(clean)
    if packet:
        pdf.Root.Metadata = pdf.make_indirect(
            pikepdf.Stream(pdf, packet, Type=pikepdf.Name.Metadata, Subtype=pikepdf.Name.XML)
        )
