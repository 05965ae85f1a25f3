"""From a preset's table to the core's :class:`Destination`: millimetres, trims, pixels, defaults.

A print has two shapes a hair apart: that of its paper and that of its whole pixels, each side
rounded half up once. The crop takes the **pixels'**, so that the picture is resampled alike both
ways and never squeezed; it misses the paper's by half a pixel a side at most (tested). The trim is
the paper's, exactly.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Final

from cropper.destination.contradictions import Fault, in_mm, in_table, page_mm
from cropper.destination.destination import (
    Across,
    Band,
    CoveredZone,
    Destination,
    Frame,
    Gutter,
    LiveArea,
    ShapeRange,
)
from cropper.destination.finishing import (
    border_px,
    finish_of,
    in_finish,
    in_profile,
    inside_border,
    mirror_mm,
    mirror_px,
    with_profile,
)
from cropper.destination.fitting import in_destination
from cropper.destination.own import title_of
from cropper.destination.schema import BandTable, DestinationTable
from cropper.geometry import WHOLE, NormalBox, Size, mm_to_px

OPEN_SHAPE: Final = ShapeRange(Fraction(1, 100), Fraction(100))
"""Of a full frame: whatever the master has."""
THIRD: Final = Band(0.303, 0.363, 0.25, 0.45)
"""``eyes = "third"``: within .03 of a third, limits as for close-ups [eyeline_cu]."""
ROUND_HEAD: Final = (0.62, 0.85)
"""Hair top to chin in a circle where a preset says nothing; fitted on [editors]."""
DEFAULT_NAMING: Final = "{version}_{destination}_{width}x{height}"
AFTER_LAB: Final = "after the lab's trimming"
"""Name of the live area that a lab overlap leaves."""


class ContradictionError(Exception):
    """A table whose keys cannot hold together; carries every :class:`Fault`."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("; ".join(f"{fault.key}: {fault.what}" for fault in faults))
        self.faults = faults


def build(
    name: str, table: DestinationTable, *, preset_file: str, folder: Path | None = None
) -> Destination:
    """The destination that ``table`` describes; :class:`ContradictionError` when it cannot be.

    A profile file is looked for beside the preset, in ``folder`` (None: there is none beside it).
    """
    faults = [*in_table(table), *in_finish(table), *in_profile(table.finish, folder)]
    if faults:
        raise ContradictionError(faults)
    made = _built(name, table, preset_file)
    faults = in_destination(made)
    if faults:
        raise ContradictionError(faults)
    return replace(made, finish=with_profile(made.finish, folder))


def _built(name: str, table: DestinationTable, preset_file: str) -> Destination:
    page = inside_border(table)
    bleed = in_mm(table, "bleed") or in_mm(table, "wrap") or Fraction(0)
    bleed -= mirror_mm(table)  # made of the picture itself, so no part of the crop
    delivered = _delivered(table, page, bleed)
    return Destination(
        name=name,
        title=table.title or title_of(name),
        description=table.description,
        groups=table.groups,
        shape=_shape(table, delivered),
        full_frame=table.full_frame,
        turnable=table.turnable,
        delivered=delivered,
        long_edge_px=table.long_edge_px and table.long_edge_px - 2 * border_px(table),
        may_be_smaller=table.may_be_smaller,
        page_mm=page,
        bleed_mm=bleed,
        ppi=table.ppi,
        least_ppi=table.least_ppi,
        greatest_enlargement=_enlargement(table),
        frame=table.frame,
        trim=_inset_of(page, bleed),
        live_areas=_live_areas(table, page),
        covered=tuple(
            CoveredZone(zone.name, zone.box, zone.keep_clear, zone.hair_may_enter)
            for zone in table.covered
        ),
        safe=_safe(table, page),
        gutter=_gutter(table, page),
        framing=table.framing,
        head_height=_head_height(table),
        eye_line=THIRD if table.eyes else _band(table.eye_line),
        headroom=_band(table.headroom),
        across=table.across or (Across.CENTRE if table.head_share else Across.MASTER),
        head_share=_band(table.head_share),
        finish=finish_of(table),
        recipient=table.recipient,
        naming=table.naming or DEFAULT_NAMING,
        caution=table.caution,
        preset_file=preset_file,
    )


def _whole_mm(page: tuple[Fraction, Fraction], bleed: Fraction) -> tuple[Fraction, Fraction]:
    return page[0] + 2 * bleed, page[1] + 2 * bleed


def _shape(table: DestinationTable, delivered: Size | None) -> ShapeRange:
    if delivered is not None:
        only = Fraction(delivered.width, delivered.height)
        return ShapeRange(only, only)
    return table.shape or OPEN_SHAPE


def _delivered(
    table: DestinationTable, page: tuple[Fraction, Fraction] | None, bleed: Fraction
) -> Size | None:
    border = 2 * border_px(table)
    if page is None or table.ppi is None:
        size = table.size_px
        return Size(size.width - border, size.height - border) if size else None
    wide, high = _whole_mm(page_mm(table) or page, bleed + mirror_mm(table))
    border += 2 * mirror_px(table)
    sides = (mm_to_px(side, table.ppi) - border for side in (wide, high))
    return Size(*(max(1, side) for side in sides))


def _enlargement(table: DestinationTable) -> Fraction:
    """What the preset says; else as far as the least ppi allows, and none on screens."""
    if table.greatest_enlargement is not None:
        return table.greatest_enlargement
    if table.ppi is not None and table.least_ppi is not None:
        return table.ppi / table.least_ppi
    return Fraction(1)


def _inset_of(page: tuple[Fraction, Fraction] | None, bleed: Fraction) -> NormalBox:
    """The trim as a fraction of the whole crop."""
    if page is None:
        return WHOLE
    wide, high = _whole_mm(page, bleed)
    return NormalBox(bleed / wide, bleed / high, 1 - bleed / wide, 1 - bleed / high)


def _inset(page: tuple[Fraction, Fraction], mm: Fraction) -> NormalBox:
    """What is left of the trim when ``mm`` goes from each side."""
    return NormalBox(mm / page[0], mm / page[1], 1 - mm / page[0], 1 - mm / page[1])


def _live_areas(
    table: DestinationTable, page: tuple[Fraction, Fraction] | None
) -> tuple[LiveArea, ...]:
    areas = [LiveArea(area.name, area.box) for area in table.live_areas]
    overlap = in_mm(table, "overlap")
    if page is not None and overlap:
        areas.append(LiveArea(AFTER_LAB, _inset(page, overlap)))
    return tuple(areas)


def _safe(table: DestinationTable, page: tuple[Fraction, Fraction] | None) -> NormalBox:
    mm = in_mm(table, "safe")
    if page is not None and mm:
        return _inset(page, mm)
    if table.safe:
        return NormalBox(table.safe, table.safe, 1 - table.safe, 1 - table.safe)
    return WHOLE


def _gutter(table: DestinationTable, page: tuple[Fraction, Fraction] | None) -> Gutter | None:
    if table.gutter is None or page is None:
        return None
    margin = in_mm(table.gutter, "margin") or Fraction(0)
    return Gutter(table.gutter.at, margin / page[0], in_mm(table.gutter, "strip"))


def _head_height(table: DestinationTable) -> tuple[float, float] | None:
    """The band that is stated; a circle asks for a head though nothing is."""
    if table.head_height is None and table.frame is Frame.CIRCLE:
        return ROUND_HEAD
    return table.head_height


def _band(table: BandTable | None) -> Band | None:
    return None if table is None else Band(*table.target, *table.limits)
