"""A press PDF read back, and said in plain words: what a printer looks at before printing.

It reads the file as it is, with a library that did not know how it was made. It confirms no PDF/X
level: that is for a checker of the standard.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final

import numpy as np

POINTS_PER_MM: Final = Fraction(720, 254)
POINTS_PER_INCH: Final = 72
INKS: Final = 4
COLOURS: Final = {1: "grey", 3: "red, green and blue", 4: "cyan, magenta, yellow and black"}


def preflight(pdf: bytes) -> tuple[str, ...]:
    """What is in the file, one sentence each, page by page."""
    import pikepdf  # noqa: PLC0415 - heavy, only for PDFs

    with pikepdf.open(io.BytesIO(pdf)) as file:
        said = [_pages(len(file.pages))]
        for number, page in enumerate(file.pages, 1):
            said += [f"Page {number}: {line}" for line in _page(page)]
        said += list(_document(file))
    return tuple(said)


def _pages(count: int) -> str:
    return "1 page." if count == 1 else f"{count} pages."


def _page(page: Any) -> Iterator[str]:
    trim, bleed, media = (
        [float(value) for value in box] for box in (page.trimbox, page.bleedbox, page.mediabox)
    )
    yield f"trimmed to {_mm(trim[2] - trim[0])} x {_mm(trim[3] - trim[1])} mm."
    sides = (trim[0] - bleed[0], bleed[3] - trim[3], bleed[2] - trim[2], trim[1] - bleed[1])
    named = zip(("left", "top", "right", "bottom"), sides, strict=True)
    yield f"bleed {', '.join(f'{_mm(by)} mm {side}' for side, by in named)}."
    if media != bleed:
        yield f"with its marks {_mm(media[2] - media[0])} x {_mm(media[3] - media[1])} mm."
    fonts = page.resources.get("/Font", {})
    yield f"{len(fonts)} fonts." if len(fonts) else "no fonts: there is no type in it."
    for picture in page.resources.get("/XObject", {}).values():
        if str(picture.get("/Subtype", "")) == "/Image":
            yield from _picture(page, picture)


def _picture(page: Any, picture: Any) -> Iterator[str]:
    import pikepdf  # noqa: PLC0415

    instructions: Any = pikepdf.parse_content_stream(page)
    placed = [
        [float(value) for value in one.operands]
        for one in instructions
        if str(one.operator) == "cm"
    ]
    wide = int(picture.Width)
    ppi = wide / (placed[0][0] / POINTS_PER_INCH)
    yield f"one picture of {wide} x {int(picture.Height)} px, {ppi:.1f} px per inch as placed."
    space = picture.ColorSpace
    channels = int(space[1].N) if str(space[0]) == "/ICCBased" else 0
    yield f"its colours are {COLOURS.get(channels, 'unknown')}, with a profile inside."
    if channels == INKS:
        pixels = np.frombuffer(picture.read_bytes(), np.uint8).reshape(-1, INKS)
        most = 100 * int(pixels.sum(axis=1, dtype=np.uint32).max()) / 255
        yield f"total ink up to {most:.0f} %."


def _document(file: Any) -> Iterator[str]:
    intents = file.Root.get("/OutputIntents", [])
    for one in intents:
        name = str(one.get("/OutputConditionIdentifier", ""))
        listed = "a registered printing condition" if "/RegistryName" in one else "not registered"
        yield f"Output intent: {one.get('/Info', '')} ({name}, {listed})."
    if not len(intents):
        yield "No output intent: the printer has to be asked for theirs."
    info = file.docinfo
    yield f"Made {_date(str(info.get('/CreationDate', '')))} by {info.get('/Producer', 'nobody')}."
    trapped = str(info.get("/Trapped", "unknown")).strip("/").lower()
    yield f"Trapped: {'no' if trapped == 'false' else trapped}."
    yield "No PDF/X level is claimed."


def _date(text: str) -> str:
    digits = text.removeprefix("D:")
    return f"{digits[:4]}-{digits[4:6]}-{digits[6:8]}" if digits else "at an unknown date"


def _mm(points: float) -> str:
    return f"{points / float(POINTS_PER_MM):.4g}"
