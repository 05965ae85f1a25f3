"""What a preset's TOML looks like: one table per destination, keys with their unit in the name.

Nothing here knows the core's :class:`Destination`; :mod:`building` turns one into the other.
Strict: an unknown key, a number in quotes or a word for a number is a fault, never a guess.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, PlainValidator

from cropper.destination import reading
from cropper.destination.destination import (
    Across,
    Frame,
    KeepClear,
    Medium,
    ShapeRange,
    Wrap,
)
from cropper.destination.formats import FORMATS
from cropper.destination.naming import pieces
from cropper.destination.shots import Shot
from cropper.geometry import NormalBox, Size

INTENTS: Final = ("perceptual", "relative", "saturation", "absolute")
"""Rendering intents (ICC.1:2022, 7.2.15)."""
PROFILES: Final = ("srgb", "p3-d65", "oprgb", "rec2020", "grey")
"""Colour spaces known by name; anything else is the printer's own profile file."""
PROFILE_FILES: Final = (".icc", ".icm")

Length = Annotated[Fraction, PlainValidator(reading.number)]
Above0 = Annotated[Fraction, PlainValidator(reading.positive)]
Share = Annotated[Fraction, PlainValidator(reading.share)]
Page = Annotated[tuple[Fraction, Fraction], PlainValidator(reading.lengths)]
Box = Annotated[NormalBox, PlainValidator(reading.box)]
Span = Annotated[tuple[float, float], PlainValidator(reading.span)]
Text = Annotated[str, PlainValidator(reading.text)]
YesNo = Annotated[bool, PlainValidator(reading.yes_no)]
Names = Annotated[tuple[str, ...], PlainValidator(reading.names)]


def _enlargement(value: object) -> Fraction:
    exact = reading.number(value)
    most = 4
    if not 1 <= exact <= most:
        raise ValueError(
            f"{reading.shown(value)} is not a greatest enlargement from 1 (none) to {most}"
        )
    return exact


def _format(value: object) -> str:
    """A name of the table of formats, as it stands now."""
    return reading.word_of(*FORMATS)(value)


def _framing(value: object) -> tuple[Shot, Shot]:
    shot = reading.one_of(Shot)
    pair = 2
    if not isinstance(value, list):
        return shot(value), shot(value)
    if len(value) != pair:
        raise ValueError(
            f"{reading.shown(value)} is not a tightest and a loosest shot"
            " such as ['close-up', 'bust']"
        )
    return shot(value[0]), shot(value[1])


def _across(value: object) -> Across:
    """Where the eyes stand; 'by turn' is what 'lead' was called before version 0.3."""
    return Across.LEAD if value == "by turn" else reading.one_of(Across)(value)


def _pattern(value: object) -> str:
    pattern = reading.text(value)
    pieces(pattern)
    return pattern


def _profile(value: object) -> str:
    if isinstance(value, str):
        name = reading.text(value)
        if name in PROFILES or name.lower().endswith(PROFILE_FILES):
            return name
    raise ValueError(
        f"{reading.shown(value)} is none of {reading.listed(PROFILES)}, nor a profile file"
        " such as 'printer.icc' beside the preset"
    )


class Edge(BaseModel):
    """A table of a preset file."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class LiveAreaTable(Edge):
    """``[[name.live_areas]]``: a part that is all some viewers see."""

    name: Text
    box: Box


class CoveredTable(Edge):
    """``[[name.covered]]``: a part that something else may lie over."""

    name: Text
    box: Box
    keep_clear: Annotated[KeepClear, PlainValidator(reading.one_of(KeepClear))]
    hair_may_enter: YesNo = True


class GutterTable(Edge):
    """``gutter``: the fold of a spread. Margins are to each side of the fold."""

    at: Share = Fraction(1, 2)
    margin_mm: Above0 | None = None
    margin_in: Above0 | None = None
    strip_mm: Above0 | None = None
    strip_in: Above0 | None = None


class BandTable(Edge):
    """``eye_line``, ``headroom``, ``head_share``: a target inside its limits."""

    target: Span
    limits: Span


class FinishTable(Edge):
    """``finish``: how the file is written."""

    format: Annotated[str, PlainValidator(_format)] = "jpeg"
    quality: Annotated[int, PlainValidator(reading.whole(1, 100, "a quality"))] | None = None
    chroma: Annotated[str, PlainValidator(reading.word_of("4:4:4", "4:2:0"))] | None = None
    byte_cap: Annotated[int, PlainValidator(reading.bytes_most)] | None = None
    profile: Annotated[str, PlainValidator(_profile)] = "srgb"
    bit_depth: Annotated[int, PlainValidator(reading.whole(8, 16, "a bit depth"))] = 8
    medium: Annotated[Medium, PlainValidator(reading.one_of(Medium))] | None = None
    viewing_distance_mm: Above0 | None = None
    viewing_distance_in: Above0 | None = None
    sharpen: YesNo | None = None
    progressive: YesNo | None = None
    intent: Annotated[str, PlainValidator(reading.word_of(*INTENTS))] | None = None
    black_point: YesNo | None = None
    border_px: Annotated[int, PlainValidator(reading.whole(1, 10_000, "a border"))] | None = None
    border_mm: Above0 | None = None
    border_in: Above0 | None = None
    border_colour: Annotated[str, PlainValidator(reading.colour)] | None = None
    carry_on_backdrop: YesNo = False
    pages: Annotated[int, PlainValidator(reading.whole(1, 2, "a number of pages"))] | None = None
    crop_marks: YesNo = False


class DestinationTable(Edge):
    """``[name]``: one destination. docs/reference/presets.md explains every key."""

    title: Text = ""
    description: Text = ""
    groups: Names = ()
    shape: Annotated[ShapeRange, PlainValidator(reading.shape)] | None = None
    size_px: Annotated[Size, PlainValidator(reading.size_px)] | None = None
    long_edge_px: (
        Annotated[int, PlainValidator(reading.whole(1, reading.GREATEST_SIDE_PX, "a side"))] | None
    ) = None
    may_be_smaller: YesNo = False
    full_frame: YesNo = False
    turnable: YesNo = False
    size_mm: Page | None = None
    size_in: Page | None = None
    ppi: Above0 | None = None
    least_ppi: Above0 | None = None
    greatest_enlargement: Annotated[Fraction, PlainValidator(_enlargement)] | None = None
    bleed_mm: Length | None = None
    bleed_in: Length | None = None
    wrap_mm: Length | None = None
    wrap_in: Length | None = None
    wrap: Annotated[Wrap, PlainValidator(reading.one_of(Wrap))] | None = None
    overlap_mm: Length | None = None
    overlap_in: Length | None = None
    safe: Share | None = None
    safe_mm: Length | None = None
    safe_in: Length | None = None
    frame: Annotated[Frame, PlainValidator(reading.one_of(Frame))] = Frame.RECTANGLE
    live_areas: list[LiveAreaTable] = []
    covered: list[CoveredTable] = []
    gutter: GutterTable | None = None
    framing: Annotated[tuple[Shot, Shot], PlainValidator(_framing)] | None = None
    eyes: Annotated[str, PlainValidator(reading.word_of("third"))] | None = None
    eye_line: BandTable | None = None
    headroom: BandTable | None = None
    head_share: BandTable | None = None
    head_height: Span | None = None
    across: Annotated[Across, PlainValidator(_across)] | None = None
    finish: FinishTable = FinishTable()
    recipient: Text = ""
    naming: Annotated[str, PlainValidator(_pattern)] | None = None
    caution: Text = ""
