"""What a preset may not say at once: keys that are each right, and together impossible.

Every check yields :class:`Fault` values, so that one reading reports all of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from cropper.destination.destination import Frame, Medium
from cropper.destination.schema import BandTable, DestinationTable
from cropper.destination.shots import Shot
from cropper.geometry import MM_PER_INCH

SHAPE_TOLERANCE: Final = Fraction(5, 1000)
"""A size may miss its stated shape by this much: 1200 x 630 is called 1.91:1 [og_ratio]."""
LEAST_BITS_PER_PIXEL: Final = Fraction(1, 10)
"""House: under a tenth of a bit per pixel no photograph is worth looking at."""
EYES_IN_HEAD: Final = 0.49
"""Skull top to eyes as a share of the head [eye_frac]."""

PRINT_ONLY: Final = (
    "ppi",
    "least_ppi",
    "bleed_mm",
    "bleed_in",
    "wrap_mm",
    "wrap_in",
    "overlap_mm",
    "overlap_in",
    "safe_mm",
    "safe_in",
)
NOT_WITH_FULL_FRAME: Final = (
    "shape",
    "size_px",
    "size_mm",
    "size_in",
    "turnable",
    "safe",
    "live_areas",
    "covered",
    "gutter",
    "framing",
    "eyes",
    "eye_line",
    "headroom",
    "head_share",
    "head_height",
    "across",
    *PRINT_ONLY,
)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: the key it stands at, and what would be right."""

    key: str
    what: str


def in_mm(table: object, key: str) -> Fraction | None:
    """The length ``key`` of a table in millimetres, whichever unit it was given in."""
    mm: Fraction | None = getattr(table, f"{key}_mm")
    inches: Fraction | None = getattr(table, f"{key}_in")
    if mm is not None:
        return mm
    return None if inches is None else inches * MM_PER_INCH


def page_mm(table: DestinationTable) -> tuple[Fraction, Fraction] | None:
    """The trim in millimetres; None for screens."""
    if table.size_mm is not None:
        return table.size_mm
    if table.size_in is None:
        return None
    return table.size_in[0] * MM_PER_INCH, table.size_in[1] * MM_PER_INCH


def in_table(table: DestinationTable) -> list[Fault]:
    """All contradictions between the keys of one table."""
    checks = (
        *(_full_frame, _sizes, _units, _print, _frame, _turning),
        *(_gutter, _bands, _medium, _byte_cap),
    )
    return [fault for check in checks for fault in check(table)]


def _full_frame(table: DestinationTable) -> Iterator[Fault]:
    if not table.full_frame:
        return
    said = table.model_fields_set
    for key in NOT_WITH_FULL_FRAME:
        if key in said:
            yield Fault(
                key, "full_frame keeps the whole master, so this says nothing: leave one out"
            )
    if table.frame is Frame.CIRCLE:
        yield Fault("frame", "full_frame keeps the whole master; a circle cuts its corners")


def _sizes(table: DestinationTable) -> Iterator[Fault]:
    if table.may_be_smaller and table.long_edge_px is None:
        yield Fault("may_be_smaller", "is about long_edge_px: state that, or drop this")
    if table.full_frame:
        return
    sizes = [key for key in ("size_px", "size_mm", "size_in") if getattr(table, key) is not None]
    for key in sizes[1:]:
        yield Fault(key, f"{sizes[0]} stands there already: keep one of them")
    if sizes and table.long_edge_px is not None:
        yield Fault("long_edge_px", f"{sizes[0]} decides the pixels already: keep one of them")
    if table.shape is None and not sizes:
        yield Fault(
            "shape",
            "is missing: state a shape such as '4:5', a size, or full_frame = true",
        )
    if table.shape is None or len(sizes) != 1:
        return
    wide, high = page_mm(table) or _pixels(table)
    if not table.shape.exact:
        yield Fault("shape", f"a range of shapes does not go with one {sizes[0]}")
    elif abs(Fraction(wide) / Fraction(high) / table.shape.least - 1) > SHAPE_TOLERANCE:
        yield Fault(
            "shape",
            f"does not agree with {sizes[0]}, whose shape is"
            f" {float(Fraction(wide) / Fraction(high)):.3f}:1; leave the shape out,"
            " the size says it",
        )


def _pixels(table: DestinationTable) -> tuple[Fraction, Fraction]:
    size = table.size_px
    return (Fraction(size.width), Fraction(size.height)) if size else (Fraction(1), Fraction(1))


def _units(table: DestinationTable) -> Iterator[Fault]:
    for key in ("bleed", "wrap", "overlap", "safe"):
        if getattr(table, f"{key}_mm") is not None and getattr(table, f"{key}_in") is not None:
            yield Fault(f"{key}_in", f"{key}_mm stands there already: keep one of them")
    if table.safe is not None and in_mm(table, "safe") is not None:
        yield Fault("safe", "is given as a fraction and as a length: keep one of them")
    if table.gutter is not None:
        for key in ("margin", "strip"):
            both = (getattr(table.gutter, f"{key}_mm"), getattr(table.gutter, f"{key}_in"))
            if None not in both:
                yield Fault(f"gutter.{key}_in", f"{key}_mm stands there already: keep one")
    finish = table.finish
    if finish.viewing_distance_mm is not None and finish.viewing_distance_in is not None:
        yield Fault("finish.viewing_distance_in", "the millimetres stand there already: keep one")


def _print(table: DestinationTable) -> Iterator[Fault]:
    page = page_mm(table)
    if page is None:
        for key in PRINT_ONLY:
            if getattr(table, key) is not None and not table.full_frame:
                yield Fault(
                    key, "a screen has pixels, no paper: state size_mm or size_in, or drop it"
                )
        return
    if table.ppi is None:
        yield Fault("ppi", "is missing: a size on paper needs pixels per inch, such as 300")
    elif table.least_ppi is not None and table.least_ppi > table.ppi:
        yield Fault(
            "least_ppi",
            f"{float(table.least_ppi):g} can never be reached: the file has"
            f" {float(table.ppi):g} ppi",
        )
    given = [key for key in ("bleed", "wrap", "overlap") if in_mm(table, key) is not None]
    for key in given[1:]:
        yield Fault(key, f"says what is cut or folded away, and so does {given[0]}: keep one")
    for key in ("overlap", "safe"):
        inset = in_mm(table, key)
        if inset is not None and 2 * inset >= min(page):
            yield Fault(key, f"{float(inset):g} mm from each side leaves nothing of the page")


def _frame(table: DestinationTable) -> Iterator[Fault]:
    if table.frame is Frame.CIRCLE and table.gutter is not None:
        yield Fault("gutter", "a circle has no fold: drop the gutter, or the circle")
    if table.safe is not None and table.safe >= Fraction(1, 2):
        yield Fault("safe", "half the frame from each side leaves nothing")


def _turning(table: DestinationTable) -> Iterator[Fault]:
    if not table.turnable:
        return
    reasons = {
        "covered": "covered zones belong to one way up",
        "gutter": "a fold belongs to one way up",
        "frame": "a circle looks the same on its side",
    }
    found = {
        "covered": bool(table.covered),
        "gutter": table.gutter is not None,
        "frame": table.frame is Frame.CIRCLE,
    }
    for key, reason in reasons.items():
        if found[key]:
            yield Fault("turnable", f"{reason}: drop turnable = true, or make two destinations")
    for area in table.live_areas:
        if area.box.x0 != 1 - area.box.x1 or area.box.y0 != 1 - area.box.y1:
            yield Fault(
                "turnable", f"the live area {area.name!r} is not centred, so it has one way up"
            )


def _gutter(table: DestinationTable) -> Iterator[Fault]:
    gutter, page = table.gutter, page_mm(table)
    if gutter is None:
        return
    margin = in_mm(gutter, "margin")
    if page is None:
        yield Fault("gutter", "a screen has no fold: state size_mm or size_in, or drop it")
    elif margin is None:
        yield Fault("gutter", "needs margin_mm, the width beside the fold that no face may enter")
    elif not margin / page[0] < min(gutter.at, 1 - gutter.at):
        yield Fault("gutter", "the margin reaches past the edge of the page")


def _bands(table: DestinationTable) -> Iterator[Fault]:
    for key in ("eye_line", "headroom", "head_share"):
        band: BandTable | None = getattr(table, key)
        if band is None:
            continue
        (least, most), (limit_least, limit_most) = band.target, band.limits
        if not limit_least <= least <= most <= limit_most:
            yield Fault(
                key,
                f"the target {least:g} to {most:g} does not lie within its limits"
                f" {limit_least:g} to {limit_most:g}",
            )
    if table.framing is not None:
        yield from _framing(table, table.framing)
    if table.eyes is not None and table.eye_line is not None:
        yield Fault("eyes", "eye_line says where the eyes go: keep one of them")
    if table.head_height is not None and table.head_share is not None:
        yield Fault("head_height", "head_share decides how large the head is: keep one of them")
    if table.head_share is not None and table.eye_line is not None:
        yield from _head_and_eyes(table.head_share, table.eye_line)


def _framing(table: DestinationTable, framing: tuple[Shot, Shot]) -> Iterator[Fault]:
    shots = list(Shot)
    tightest, loosest = framing
    if shots.index(tightest) > shots.index(loosest):
        yield Fault(
            "framing", f"the tightest shot comes first: ['{loosest.value}', '{tightest.value}']"
        )
    if table.head_share is not None:
        yield Fault("framing", "head_share decides how near the head is: keep one of them")


def _head_and_eyes(head: BandTable, eyes: BandTable) -> Iterator[Fault]:
    share = head.limits[0]
    highest = max(eyes.limits[0], EYES_IN_HEAD * share)
    lowest = min(eyes.limits[1], 1 - (1 - EYES_IN_HEAD) * share)
    if highest > lowest:
        yield Fault(
            "eye_line", f"no head of {share:g} of the height fits with its eyes in these limits"
        )


def _medium(table: DestinationTable) -> Iterator[Fault]:
    medium, page = table.finish.medium, page_mm(table)
    if page is not None and medium is Medium.SCREEN:
        yield Fault("finish.medium", "a size on paper is not looked at on a screen")
    on_paper = medium not in (None, Medium.SCREEN)
    if page is None and not table.full_frame and on_paper:
        yield Fault("finish.medium", "paper needs a size: state size_mm or size_in, and ppi")


def _byte_cap(table: DestinationTable) -> Iterator[Fault]:
    cap, size = table.finish.byte_cap, table.size_px
    if cap is None or size is None:
        return
    least = math.ceil(size.width * size.height * LEAST_BITS_PER_PIXEL / 8)
    if cap < least:
        yield Fault(
            "finish.byte_cap",
            f"{cap} bytes cannot hold {size.width} x {size.height} px:"
            f" give at least {least}, or fewer pixels",
        )
