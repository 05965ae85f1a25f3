"""A destination said in plain sentences, for the photographer who is to trust it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import PurePath

from cropper.destination.building import AFTER_LAB
from cropper.destination.destination import (
    PRESS_PDF,
    Across,
    Band,
    CoveredZone,
    Destination,
    Finish,
    Frame,
    Medium,
    Surround,
)
from cropper.destination.formats import format_named
from cropper.destination.schema import PROFILES
from cropper.geometry import MM_PER_INCH, WHOLE, NormalBox


def shape_said(shape: Fraction) -> str:
    """A shape as people say it: 9:16, or 1.41:1 where whole numbers would say nothing.

    >>> shape_said(Fraction(4, 5)), shape_said(Fraction(142, 101))
    ('4:5', '1.406:1')
    """
    readable = 20
    if max(shape.numerator, shape.denominator) <= readable:
        return f"{shape.numerator}:{shape.denominator}"
    return f"{float(shape):.3f}:1" if shape >= 1 else f"1:{float(1 / shape):.3f}"


def size_said(destination: Destination) -> str:
    """The size in a few words: pixels, paper, or how the pixels come about."""
    finish = destination.finish
    if destination.page_mm is not None:
        wide, high = (side + 2 * finish.border_mm for side in destination.page_mm)
        return _paper(wide, high)
    if destination.delivered is not None:
        whole = finish.with_border(destination.delivered)
        return f"{whole.width} x {whole.height} px"
    if destination.long_edge_px is not None:
        return f"long edge {destination.long_edge_px + 2 * finish.border_px} px"
    return "its own pixels"


def _paper(wide: Fraction, high: Fraction) -> str:
    """Inches where they are the rounder numbers, else millimetres."""
    inches = (wide / MM_PER_INCH, high / MM_PER_INCH)
    eighth = 8
    round_in_mm = wide.denominator == high.denominator == 1
    if not round_in_mm and all((side * eighth).denominator == 1 for side in inches):
        return f"{_length(inches[0])} x {_length(inches[1])} in"
    return f"{_length(wide)} x {_length(high)} mm"


def shapes_said(destination: Destination) -> str:
    """The shape that is seen (without bleed), or the range of shapes, in a few words."""
    if destination.full_frame:
        return "the master's"
    if destination.page_mm is not None:
        return shape_said(destination.page_mm[0] / destination.page_mm[1])
    if destination.shape.exact:
        return shape_said(destination.shape.least)
    return f"{shape_said(destination.shape.least)} to {shape_said(destination.shape.most)}"


def framing_said(destination: Destination) -> str:
    """The wanted shots in a few words."""
    if destination.full_frame:
        return "as it is"
    if destination.head_share is not None:
        return f"head {_band(destination.head_share)} high"
    if destination.head_height is not None:
        least, most = destination.head_height
        return f"head {100 * least:.0f} to {100 * most:.0f} % high"
    if destination.framing is None:
        return "as the master"
    tightest, loosest = destination.framing
    return tightest.value if tightest is loosest else f"{tightest.value} – {loosest.value}"


def sentences(destination: Destination) -> tuple[str, ...]:
    """Everything a photographer should know about a destination, one sentence each."""
    return tuple(
        sentence
        for tell in (_what, _size, _pixels, _seen, _clear, _composition, _file, _words)
        for sentence in tell(destination)
    )


def _what(destination: Destination) -> Iterator[str]:
    if destination.description:
        yield destination.description
    if destination.full_frame:
        yield "The whole master, never cropped."
    elif destination.turnable:
        yield "Upright or on its side, whichever suits the picture."


def _size(destination: Destination) -> Iterator[str]:
    if destination.page_mm is None:
        if not destination.full_frame:
            yield f"Shape {shapes_said(destination)} (width to height)."
        smaller = "; a smaller one keeps its pixels" if destination.may_be_smaller else ""
        yield f"Size of the file: {size_said(destination)}{smaller}."
        return
    delivered, ppi = destination.delivered, destination.ppi
    added = ""
    if destination.finish.mirror_mm:
        added = f" and {_length(destination.finish.mirror_mm)} mm of wrap on every side"
    elif destination.bleed_mm:
        word = "wrap" if destination.finish.medium is Medium.CANVAS else "bleed"
        added = f" and {_length(destination.bleed_mm)} mm of {word} on every side"
    whole = destination.finish.with_border(delivered) if delivered else None
    pixels = f"{whole.width} x {whole.height} px" if whole else ""
    said = f"{_length(ppi)} ppi" if ppi else ""
    yield f"On paper {size_said(destination)}{added}: a file of {pixels} at {said}."


def _pixels(destination: Destination) -> Iterator[str]:
    if destination.least_ppi is not None:
        yield (
            f"The master must give at least {_length(destination.least_ppi)} of its own pixels"
            " to the inch."
        )
    elif destination.greatest_enlargement == 1:
        yield "Never enlarged."
    else:
        yield f"Enlarged at most {float(destination.greatest_enlargement):.4g} times."


def _seen(destination: Destination) -> Iterator[str]:
    if destination.frame is Frame.CIRCLE:
        yield "Seen as a circle: the corners are lost, so eyes, chin and hair stay inside it."
    for area in destination.live_areas:
        if area.name == AFTER_LAB and destination.page_mm is not None:
            lost = _length(area.box.x0 * destination.page_mm[0])
            yield f"The lab may trim {lost} mm of every side; eyes and chin must survive that too."
        elif area.box == WHOLE:
            yield f"On {area.name} it is seen whole."
        else:
            yield f"On {area.name} only {_place(area.box)} is seen; the crop must work there too."
    if destination.safe != WHOLE:
        yield f"Nothing that matters within {_margin(destination)} of an edge."


def _clear(destination: Destination) -> Iterator[str]:
    for zone in destination.covered:
        yield f"{zone.name.capitalize()} cover {_place(zone.box)}: {_kept(zone)}."
    gutter = destination.gutter
    if gutter is not None and destination.page_mm is not None:
        beside = _length(gutter.margin * destination.page_mm[0])
        yield f"The fold stands {_percent(gutter.at)} across; no head within {beside} mm of it."
        if gutter.strip_mm is not None:
            yield f"A strip of {_length(gutter.strip_mm)} mm is repeated on both pages at the fold."


def _kept(zone: CoveredZone) -> str:
    said = f"the {zone.keep_clear.value} must stay clear"
    return f"{said}, hair may enter" if zone.hair_may_enter else f"{said}, hair too"


def _composition(destination: Destination) -> Iterator[str]:
    if destination.full_frame:
        return
    if destination.head_share is not None:
        yield f"Chin to the top of the skull: {_band_said(destination.head_share)} of the height."
    elif destination.head_height is not None:
        least, most = destination.head_height
        yield f"The head is wanted from {_percent(least)} to {_percent(most)} of the height."
    elif destination.framing is not None:
        tightest, loosest = destination.framing
        to = "" if tightest is loosest else f" to {loosest.value}"
        yield f"Framing: {tightest.value}{to}."
    if destination.eye_line is not None:
        yield f"Eye line from the top: {_band_said(destination.eye_line)} of the height."
    if destination.headroom is not None:
        yield f"Headroom: {_band_said(destination.headroom)} of the height."
    if destination.across is Across.CENTRE:
        yield "The head stands in the middle, whichever way it is turned."
    elif destination.across is Across.LEAD:
        yield "A turned head gets more room in front of it."
    elif destination.across is Across.FREE:
        yield "The eyes may stand anywhere across."


def _file(destination: Destination) -> Iterator[str]:
    finish = destination.finish
    depth = f", {finish.bit_depth} bits a channel"
    lossy = format_named(finish.format).lossy
    quality = "" if not lossy else f", quality {finish.quality}, colour {finish.chroma}"
    cap = f", at most {finish.byte_cap} bytes" if finish.byte_cap else ""
    coarse = ", coarse first" if finish.progressive else ""
    profile = PurePath(finish.profile).name
    yield f"Written as {finish.format}{quality}{depth}, profile {profile}{cap}{coarse}."
    if finish.profile not in PROFILES:
        point = "with" if finish.black_point else "without"
        yield f"Colours go to it by the {finish.intent} intent, {point} black point compensation."
    yield from _pages(finish)
    yield from _round_it(finish)
    seen = f", seen from {_length(finish.viewing_distance_mm)} mm" * bool(
        finish.viewing_distance_mm
    )
    sharpened = "sharpened for it" if finish.sharpen else "not sharpened"
    yield f"Medium: {finish.medium.value}{seen}; {sharpened}."


def _pages(finish: Finish) -> Iterator[str]:
    if finish.format != PRESS_PDF:
        return
    pages = "Two pages, parted at the fold" if finish.pages > 1 else "One page"
    marks = ", with crop marks outside the bleed" if finish.crop_marks else ""
    yield f"{pages}: Media, Bleed and Trim box, output intent, no PDF/X level claimed{marks}."


def _round_it(finish: Finish) -> Iterator[str]:
    if finish.mirror_px:
        yield "The front shows all of the crop; the wrap mirrors what lies beside it."
    if finish.border_px:
        wide = f"{_length(finish.border_mm)} mm" if finish.border_mm else f"{finish.border_px} px"
        yield f"A border of {wide} in {finish.border_colour} on every side, within that size."
    if finish.fill is Surround.BORDER:
        yield f"Where the master does not fill the frame, the rest is {finish.border_colour}."
    elif finish.fill is Surround.BACKDROP:
        yield (
            "Where the master does not fill the frame, its backdrop is carried on, if it is"
            " measurably plain there; the manifest says so."
        )


def _words(destination: Destination) -> Iterator[str]:
    if destination.recipient:
        yield f"For the {destination.recipient}."
    yield f"Files are named {destination.naming}."
    if destination.groups:
        yield f"Groups: {', '.join(destination.groups)}."
    if destination.caution:
        yield f"Take care: {destination.caution}"


def _length(mm: Fraction | None) -> str:
    return "" if mm is None else f"{float(mm):.6g}"


def _margin(destination: Destination) -> str:
    inset = destination.safe.x0
    if destination.page_mm is not None:
        return f"{_length(inset * destination.page_mm[0])} mm"
    return f"{_percent(inset)} of the width or height"


def _percent(part: Fraction | float) -> str:
    return f"{100 * float(part):.3g} %"


def _band(band: Band) -> str:
    return f"{100 * band.least:.3g}-{100 * band.most:.3g} %"


def _band_said(band: Band) -> str:
    return f"{_band(band)} (limits {100 * band.limit_least:.3g}-{100 * band.limit_most:.3g} %)"


def _place(box: NormalBox) -> str:
    """Where a box lies, in words a person would use."""
    full_width, full_height = box.x1 - box.x0 == 1, box.y1 - box.y0 == 1
    if full_width and box.y0 == 0:
        return f"the top {_percent(box.y1)}"
    if full_width and box.y1 == 1:
        return f"the bottom {_percent(1 - box.y0)}"
    if full_height and box.x0 == 1 - box.x1:
        return f"the middle {_percent(box.x1 - box.x0)} across"
    across = f"{100 * float(box.x0):.3g}-{_percent(box.x1)} across"
    return f"{across} and {100 * float(box.y0):.3g}-{_percent(box.y1)} down"
