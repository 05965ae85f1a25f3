"""A finished picture as the bytes of a file: JPEG, PNG, WebP, AVIF or TIFF.

Nothing of the master's metadata is carried over: no location, no serial numbers, no maker notes.
What is written is the profile, the density, orientation 1, and the words that were given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cropper.deliverable.capping import capped, too_large
from cropper.deliverable.rendering import Rendered
from cropper.deliverable.ways import Way
from cropper.deliverable.words import NO_WORDS, Words, cleaned
from cropper.destination.destination import PRESS_PDF, Finish
from cropper.errors import DeliveryError

ENDINGS: Final = {
    "jpeg": "jpg",
    "png": "png",
    "webp": "webp",
    "avif": "avif",
    "tiff": "tif",
    PRESS_PDF: "pdf",
}
"""The file name's ending by format."""
PIXEL_FORMATS: Final = tuple(name for name in ENDINGS if name != PRESS_PDF)
"""Formats that are pixels; pages are made by ``press_pdf``."""
LOSSY: Final = ("jpeg", "webp", "avif")


@dataclass(frozen=True, slots=True, kw_only=True)
class Encoded:
    """A whole file. ``quality`` is the one used; ``notes`` say what a byte cap or a limit cost."""

    data: bytes
    quality: int
    notes: tuple[str, ...]


def encode(
    rendered: Rendered, finish: Finish, words: Words = NO_WORDS, *, progressive: bool = False
) -> bytes:
    """The file's bytes. See :func:`encoded` for what it cost."""
    return encoded(rendered, finish, words, progressive=progressive).data


def encoded(
    rendered: Rendered, finish: Finish, words: Words = NO_WORDS, *, progressive: bool = False
) -> Encoded:
    """The file, its byte cap kept: at the cap's best quality when the wanted one is too large."""
    if finish.format not in PIXEL_FORMATS:
        raise DeliveryError(
            f"there is no format called '{finish.format}'",
            way_out=f"Use one of {', '.join(PIXEL_FORMATS)}",
        )
    clean, said = cleaned(words)
    way = Way(rendered, finish, clean)
    progressive = progressive or finish.progressive
    data = way.written(finish.quality, finish.chroma, progressive=progressive)
    if finish.byte_cap is None or len(data) <= finish.byte_cap:
        return Encoded(data=data, quality=finish.quality, notes=said)
    if finish.format not in LOSSY:
        raise too_large(way, finish, len(data))
    data, quality = capped(way, finish, finish.byte_cap)
    return Encoded(data=data, quality=quality, notes=(*said, _cost(finish, quality)))


def _cost(finish: Finish, quality: int) -> str:
    """What the cap cost, in a sentence."""
    lower = f"quality {quality} instead of {finish.quality}" if quality < finish.quality else ""
    half = "colour at half size" if finish.chroma == "4:4:4" and finish.format != "webp" else ""
    cost = " and ".join(part for part in (lower, half) if part) or "a progressive file"
    return f"{cost}, to stay within {finish.byte_cap} bytes"
