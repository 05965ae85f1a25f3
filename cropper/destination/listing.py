"""Destinations in numbers, for scripts: the JSON of `cropper destinations` is an interface."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from cropper.destination.destination import Band, Destination, Finish
from cropper.destination.explaining import sentences
from cropper.destination.formats import format_named
from cropper.destination.presets import Catalogue
from cropper.geometry import NormalBox

LIST_VERSION: Final = 1
"""Raised when a key changes its meaning or goes away; new keys may come without."""


def as_listing(catalogue: Catalogue, chosen: tuple[Destination, ...]) -> dict[str, object]:
    """The whole answer: the chosen destinations, every group, and what was replaced."""
    return {
        "version": LIST_VERSION,
        "destinations": [as_mapping(one) for one in chosen],
        "groups": {name: [one.name for one in ones] for name, ones in catalogue.groups.items()},
        "notices": list(catalogue.notices),
    }


def as_mapping(destination: Destination) -> dict[str, object]:
    """A destination for JSON: lengths in mm, boxes [left, top, right, bottom] of the trim.

    ``trim`` alone is a fraction of the whole crop; ``shape`` is exact, as "width:height".
    """
    return {
        "name": destination.name,
        "title": destination.title,
        "description": destination.description,
        "groups": list(destination.groups),
        **_size_mapping(destination),
        **_seen_mapping(destination),
        "framing": [shot.value for shot in destination.framing or ()],
        "head_height": list(destination.head_height) if destination.head_height else None,
        "eye_line": _band_mapping(destination.eye_line),
        "headroom": _band_mapping(destination.headroom),
        "head_share": _band_mapping(destination.head_share),
        "across": destination.across.value,
        "finish": _finish_mapping(destination.finish),
        "recipient": destination.recipient,
        "naming": destination.naming,
        "caution": destination.caution,
        "preset_file": destination.preset_file,
        "sentences": list(sentences(destination)),
    }


def _size_mapping(destination: Destination) -> dict[str, object]:
    delivered, page = destination.delivered, destination.page_mm
    shape = destination.shape
    return {
        "shape": [f"{end.numerator}:{end.denominator}" for end in (shape.least, shape.most)],
        "full_frame": destination.full_frame,
        "turnable": destination.turnable,
        "delivered_px": [delivered.width, delivered.height] if delivered else None,
        "long_edge_px": destination.long_edge_px,
        "may_be_smaller": destination.may_be_smaller,
        "page_mm": [float(side) for side in page] if page else None,
        "bleed_mm": float(destination.bleed_mm),
        "ppi": _number(destination.ppi),
        "least_ppi": _number(destination.least_ppi),
        "greatest_enlargement": float(destination.greatest_enlargement),
    }


def _seen_mapping(destination: Destination) -> dict[str, object]:
    gutter = destination.gutter
    return {
        "frame": destination.frame.value,
        "trim": _edges(destination.trim),
        "safe": _edges(destination.safe),
        "live_areas": [
            {"name": area.name, "box": _edges(area.box)} for area in destination.live_areas
        ],
        "covered": [
            {
                "name": zone.name,
                "box": _edges(zone.box),
                "keep_clear": zone.keep_clear.value,
                "hair_may_enter": zone.hair_may_enter,
            }
            for zone in destination.covered
        ],
        "gutter": gutter
        and {
            "at": float(gutter.at),
            "margin": float(gutter.margin),
            "strip_mm": _number(gutter.strip_mm),
        },
    }


def _finish_mapping(finish: Finish) -> dict[str, object]:
    return {
        "format": finish.format,
        "quality": finish.quality if format_named(finish.format).lossy else None,
        "chroma": finish.chroma if format_named(finish.format).lossy else None,
        "byte_cap": finish.byte_cap,
        "profile": finish.profile,
        "bit_depth": finish.bit_depth,
        "medium": finish.medium.value,
        "viewing_distance_mm": _number(finish.viewing_distance_mm),
        "sharpen": finish.sharpen,
        "progressive": finish.progressive,
        "intent": finish.intent,
        "black_point": finish.black_point,
        "border_px": finish.border_px,
        "border_mm": float(finish.border_mm),
        "border_colour": finish.border_colour,
        "mirror_px": finish.mirror_px,
        "mirror_mm": float(finish.mirror_mm),
        "fill": finish.fill.value,
        "pages": finish.pages,
        "crop_marks": finish.crop_marks,
    }


def _number(exact: Fraction | None) -> float | None:
    return None if exact is None else float(exact)


def _edges(box: NormalBox) -> list[float]:
    return [float(edge) for edge in (box.x0, box.y0, box.x1, box.y1)]


def _band_mapping(band: Band | None) -> dict[str, list[float]] | None:
    if band is None:
        return None
    return {
        "target": [band.least, band.most],
        "limits": [band.limit_least, band.limit_most],
    }
