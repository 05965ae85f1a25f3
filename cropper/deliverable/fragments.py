"""A crop in the words of open standards: which part of the upright master a file shows.

- W3C Media Fragments URI 1.0, 4.2.2: ``xywh=pixel:x,y,w,h``, and ``xywh=percent:`` where whole
  percents say it exactly (the grammar knows no fractions).
- IIIF Image API 3.0, 4.1: the region ``x,y,w,h``, and the whole request that gives this picture.
- W3C Web Annotation, 4.2.7: an SVG selector with a polygon, which alone can say a turned crop.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from cropper.deliverable.straightening import corners
from cropper.geometry import Crop, PixelBox, Size

TURNED: Final = (
    "The crop is straightened: media fragments and image requests know only upright boxes,"
    " so the region is given as a polygon."
)
BEYOND: Final = (
    "The crop reaches past the master, where it was filled: media fragments and image requests"
    " know no pixels outside, so the region is given as a polygon."
)
SVG: Final = "http://www.w3.org/2000/svg"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fragments:
    """Every way to say one crop; None where a standard cannot, ``left_out`` says why."""

    media_fragment: str | None
    media_fragment_percent: str | None
    iiif_region: str | None
    iiif_request: str | None
    svg_selector: str
    left_out: str = ""


def fragments(crop: Crop, master: Size, delivered: Size) -> Fragments:
    """One crop of an upright master of ``master`` pixels, delivered in ``delivered`` pixels."""
    polygon = svg_selector(crop, master)
    if crop.straighten_deg or not crop.box.inside(master):
        return Fragments(
            media_fragment=None,
            media_fragment_percent=None,
            iiif_region=None,
            iiif_request=None,
            svg_selector=polygon,
            left_out=TURNED if crop.straighten_deg else BEYOND,
        )
    region = iiif_region(crop.box)
    return Fragments(
        media_fragment=f"xywh=pixel:{region}",
        media_fragment_percent=percent_fragment(crop.box, master),
        iiif_region=region,
        iiif_request=f"{region}/{_iiif_size(crop.box.size, delivered)}/0/default.jpg",
        svg_selector=polygon,
    )


def iiif_region(box: PixelBox) -> str:
    """``x,y,w,h``.

    >>> iiif_region(PixelBox(1500, 400, 3900, 3400))
    '1500,400,2400,3000'
    """
    return f"{box.x0},{box.y0},{box.width},{box.height}"


def percent_fragment(box: PixelBox, master: Size) -> str | None:
    """The box in whole percents of the master; None when they would move an edge.

    >>> percent_fragment(PixelBox(1500, 400, 3900, 3400), Size(6000, 4000))
    'xywh=percent:25,10,40,75'
    """
    shares = (
        Fraction(100 * box.x0, master.width),
        Fraction(100 * box.y0, master.height),
        Fraction(100 * box.width, master.width),
        Fraction(100 * box.height, master.height),
    )
    if any(one.denominator != 1 for one in shares):
        return None
    return "xywh=percent:" + ",".join(str(one) for one in shares)


def svg_selector(crop: Crop, master: Size) -> str:
    """An SVG with one polygon in pixels of the upright master, from the top left on, clockwise."""
    points = " ".join(f"{_number(x)},{_number(y)}" for x, y in corners(crop))
    return (
        f'<svg xmlns="{SVG}" viewBox="0 0 {master.width} {master.height}">'
        f'<polygon points="{points}"/></svg>'
    )


def _number(value: float) -> str:
    """To a millionth of a pixel, without trailing zeros."""
    return f"{value:.6f}".rstrip("0").rstrip(".")


def _iiif_size(taken: Size, delivered: Size) -> str:
    """``w,h``; a circumflex goes before an enlargement (IIIF Image API 3.0, 4.2)."""
    larger = delivered.width > taken.width or delivered.height > taken.height
    return f"{'^' if larger else ''}{delivered.width},{delivered.height}"
