"""The ``finish`` of a preset: what contradicts itself in it, and the core's :class:`Finish`."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Final

from cropper.destination.contradictions import Fault, in_mm, page_mm
from cropper.destination.destination import PRESS_PDF, Finish, Frame, Medium, Surround, Wrap
from cropper.destination.formats import FORMATS, format_named
from cropper.destination.reading import listed
from cropper.destination.schema import (
    PROFILES,
    DestinationTable,
    FinishTable,
)
from cropper.disk import plain
from cropper.geometry import mm_to_px
from cropper.master.profiles import CHANNELS, fault_of

SCREEN_QUALITY: Final = 90
PRINT_QUALITY: Final = 95
"""House: quality where a preset states none."""
PAPER_WHITE: Final = "#ffffff"
"""Of a border whose colour is not stated."""
LARGEST_PROFILE_BYTES: Final = 50_000_000
"""House: ten times the largest press profiles."""
NOT_IN_A_BORDER: Final = (
    "covered",
    "live_areas",
    "gutter",
    "head_share",
    "bleed",
    "wrap",
    "overlap",
)


def finish_of(table: DestinationTable) -> Finish:
    """The finish with its house values filled in; a profile file still as it was written."""
    asked, printed = table.finish, page_mm(table) is not None
    medium = asked.medium or _medium(asked.format, printed=printed)
    kind = format_named(asked.format)
    quality = 100 if not kind.lossy else PRINT_QUALITY if printed else SCREEN_QUALITY
    intent = asked.intent or "relative"
    return Finish(
        format=asked.format,
        quality=asked.quality or quality,
        chroma=asked.chroma or (kind.chroma[0] if kind.chroma else "4:4:4"),
        byte_cap=asked.byte_cap,
        profile=asked.profile,
        bit_depth=asked.bit_depth,
        medium=medium,
        viewing_distance_mm=in_mm(asked, "viewing_distance"),
        # A press makes its own sharpening for its screen; everybody else gets a finished file.
        sharpen=medium is not Medium.PRESS_HAND_OFF if asked.sharpen is None else asked.sharpen,
        # Of a screen's JPEG, coarse first also means 5 % fewer bytes (docs/reference/finishing.md).
        progressive=kind.progressive and medium is Medium.SCREEN
        if asked.progressive is None
        else asked.progressive,
        intent=intent,
        black_point=intent != "absolute" if asked.black_point is None else asked.black_point,
        border_px=border_px(table),
        border_mm=in_mm(asked, "border") or Fraction(0),
        border_colour=asked.border_colour or (PAPER_WHITE if _has_border(asked) else ""),
        mirror_px=mirror_px(table),
        mirror_mm=mirror_mm(table),
        fill=_fill(asked),
        pages=asked.pages or 1,
        crop_marks=asked.crop_marks,
    )


def _medium(kind: str, *, printed: bool) -> Medium:
    if kind == PRESS_PDF:
        return Medium.PRESS_HAND_OFF
    return Medium.CONTINUOUS_TONE if printed else Medium.SCREEN


def _fill(asked: FinishTable) -> Surround:
    if asked.carry_on_backdrop:
        return Surround.BACKDROP
    only_colour = asked.border_colour is not None and not _has_border(asked)
    return Surround.BORDER if only_colour else Surround.NOTHING


def _has_border(asked: FinishTable) -> bool:
    return asked.border_px is not None or in_mm(asked, "border") is not None


def border_px(table: DestinationTable) -> int:
    """The border's width in pixels of the file, rounded half up."""
    mm = in_mm(table.finish, "border")
    if mm is not None and table.ppi is not None:
        return max(1, mm_to_px(mm, table.ppi))
    return table.finish.border_px or 0


def mirror_mm(table: DestinationTable) -> Fraction:
    """The wrap's width where it is mirrored; else 0."""
    return (in_mm(table, "wrap") if table.wrap is Wrap.MIRRORED else None) or Fraction(0)


def mirror_px(table: DestinationTable) -> int:
    """The same in pixels of the file, rounded half up."""
    mm = mirror_mm(table)
    return max(1, mm_to_px(mm, table.ppi)) if mm and table.ppi is not None else 0


def inside_border(table: DestinationTable) -> tuple[Fraction, Fraction] | None:
    """The page that the picture fills; None for screens."""
    page, border = page_mm(table), in_mm(table.finish, "border") or Fraction(0)
    return page and (page[0] - 2 * border, page[1] - 2 * border)


def with_profile(finish: Finish, folder: Path | None) -> Finish:
    """A profile file's path made absolute, with the digest of its bytes.

    Absolute, because the job may be exported from another folder.
    """
    if folder is None or finish.profile in PROFILES:
        return finish
    path = (folder / finish.profile).resolve()
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return replace(finish, profile=str(path), profile_sha256=digest)


def in_profile(finish: FinishTable, folder: Path | None) -> Iterator[Fault]:
    """What is wrong with the profile, or with what is asked of it."""
    if finish.profile in PROFILES:
        for key in ("intent", "black_point"):
            if getattr(finish, key) is not None:
                yield Fault(f"finish.{key}", "is about a printer's profile file; drop it")
        return
    try:
        path = (folder or Path()) / finish.profile
        raw = plain(path).read_bytes() if path.stat().st_size <= LARGEST_PROFILE_BYTES else b""
    except OSError:
        yield Fault("finish.profile", f"there is no file {finish.profile!r} beside the preset")
        return
    channels = CHANNELS.get(raw[16:20], 0)
    fault = fault_of(raw, channels).removeprefix("the embedded profile ")
    if fault or not channels:
        what = "is no profile of a grey, RGB or CMYK device" if not channels else fault
        yield Fault("finish.profile", f"{finish.profile!r} {what}: ask the printer for it again")
    elif channels == 4 and not format_named(finish.format).inks:  # noqa: PLR2004 - four inks
        others = listed(name for name, one in FORMATS.items() if one.inks)
        yield Fault("finish.format", f"{finish.format} holds no four inks: use {others}")


def in_finish(table: DestinationTable) -> Iterator[Fault]:
    """What the finish cannot be asked, by itself or for such a destination."""
    for check in (_kept_pixels, _depth, _jpeg_only, _pages, _press_pdf, _border, _wrap, _filling):
        yield from check(table)


def _kept_pixels(table: DestinationTable) -> Iterator[Fault]:
    finish = table.finish
    kind = format_named(finish.format)
    if not kind.lossy:
        for key in ("quality", "chroma", "byte_cap"):
            if getattr(finish, key) is not None:
                yield Fault(
                    f"finish.{key}", f"{finish.format} keeps every pixel, so this cannot be asked"
                )
    elif finish.chroma is not None and finish.chroma not in kind.chroma:
        yield Fault(
            "finish.chroma", f"{finish.format} always halves the colour: drop it, or use jpeg"
        )


def _depth(table: DestinationTable) -> Iterator[Fault]:
    finish = table.finish
    if finish.bit_depth not in (8, 16):
        yield Fault("finish.bit_depth", f"{finish.bit_depth} is neither 8 nor 16")
    elif finish.bit_depth not in format_named(finish.format).depths:
        yield Fault("finish.bit_depth", f"{finish.format} holds 8 bits: use tiff or png for 16")


def _jpeg_only(table: DestinationTable) -> Iterator[Fault]:
    progressive = format_named(table.finish.format).progressive
    if table.finish.progressive is not None and not progressive:
        yield Fault("finish.progressive", f"{table.finish.format} knows no such thing: only jpeg")


def _pages(table: DestinationTable) -> Iterator[Fault]:
    finish = table.finish
    if finish.format != PRESS_PDF:
        if finish.pages is not None:
            yield Fault("finish.pages", "only a press-pdf has pages: drop it, or change the format")
        if finish.crop_marks:
            yield Fault("finish.crop_marks", "only a press-pdf has crop marks: they are not pixels")
    elif finish.pages == 2 and table.gutter is None:  # noqa: PLR2004 - a spread
        yield Fault(
            "finish.pages", "two pages need a fold: state gutter = { at = 0.5, margin_mm = .. }"
        )


def _press_pdf(table: DestinationTable) -> Iterator[Fault]:
    if table.finish.format != PRESS_PDF:
        return
    if page_mm(table) is None:
        yield Fault("finish.format", "a press-pdf is paper: state size_mm or size_in, and ppi")
    if table.finish.medium is Medium.CANVAS:
        yield Fault("finish.medium", "a canvas is not printed from a press-pdf: use tiff or jpeg")


def _border(table: DestinationTable) -> Iterator[Fault]:
    finish = table.finish
    if not _has_border(finish):
        return
    given = [key for key in ("border_px", "border_mm", "border_in") if getattr(finish, key)]
    for key in given[1:]:
        yield Fault(f"finish.{key}", f"{given[0]} stands there already: keep one of them")
    yield from _border_place(table, given[0])
    for key in NOT_IN_A_BORDER:
        if key in table.model_fields_set or _length(table, key):
            yield Fault(f"finish.{given[0]}", f"a border does not go with {key}: drop one of them")
    if table.frame is Frame.CIRCLE:
        yield Fault(f"finish.{given[0]}", "a circle cuts a border off: drop one of them")
    if finish.format == PRESS_PDF:
        yield Fault(f"finish.{given[0]}", "a press-pdf is filled to its bleed: make it a tiff")


def _wrap(table: DestinationTable) -> Iterator[Fault]:
    """A wrap says how wide it is before it says what it shows."""
    if table.wrap is not None and not in_mm(table, "wrap"):
        yield Fault("wrap", "says what the wrap shows, and not how wide it is: state wrap_mm")
    if mirror_mm(table) and table.finish.format == PRESS_PDF:
        yield Fault("wrap", "a press-pdf shows no mirrored wrap: make it a tiff")


def _length(table: DestinationTable, key: str) -> Fraction | None:
    """A length of the table by its bare name; None when it has no such length."""
    return in_mm(table, key) if hasattr(table, f"{key}_mm") else None


def _border_place(table: DestinationTable, key: str) -> Iterator[Fault]:
    """A border needs a stated outside, in its own unit, and something left inside."""
    page, border = page_mm(table), in_mm(table.finish, "border")
    if page is None and border is not None:
        yield Fault(f"finish.{key}", "a screen has pixels: state border_px")
    elif page is not None and border is None:
        yield Fault(f"finish.{key}", "paper is measured in mm or inches: state border_mm")
    elif page is not None and border is not None and 2 * border >= min(page):
        yield Fault(f"finish.{key}", f"{float(border):g} mm from each side leaves no picture")
    sizes = [*((table.size_px.width, table.size_px.height) if table.size_px else ())]
    sizes += [table.long_edge_px] if table.long_edge_px else []
    if page is None and sizes and 2 * (table.finish.border_px or 0) >= min(sizes):
        yield Fault(f"finish.{key}", "the border leaves no picture")
    if page is None and table.size_px is None and not table.full_frame:
        yield Fault(f"finish.{key}", "a border needs a size: state size_px, or full_frame = true")


def _filling(table: DestinationTable) -> Iterator[Fault]:
    """What fills a frame that the master does not."""
    finish = table.finish
    key = "carry_on_backdrop" if finish.carry_on_backdrop else "border_colour"
    if finish.carry_on_backdrop and finish.border_colour is not None:
        yield Fault("finish.border_colour", "the backdrop is carried on already: keep one of them")
    elif finish.carry_on_backdrop and _has_border(finish):
        yield Fault("finish.carry_on_backdrop", "a border stands round it: keep one of them")
    if _fill(finish) is Surround.NOTHING:
        return
    if table.full_frame or (table.size_px is None and page_mm(table) is None):
        yield Fault(f"finish.{key}", "fills a frame of stated size: state size_px or a paper size")
    bleed = in_mm(table, "bleed") or in_mm(table, "wrap")
    if _fill(finish) is Surround.BORDER and bleed:
        yield Fault(
            "finish.border_colour",
            "a border on a bleed would be cut unevenly: drop the bleed, or carry on the backdrop",
        )
