"""A finished picture as the bytes of a file, in any format of pixels.

Nothing of the master's metadata is carried over: no location, no serial numbers, no maker notes.
What is written is the profile, the density, orientation 1, and the words that were given.
"""

from __future__ import annotations

from dataclasses import dataclass

from cropper.deliverable.capping import capped, too_large
from cropper.deliverable.rendering import Rendered
from cropper.deliverable.ways import Way
from cropper.deliverable.words import NO_WORDS, Words, cleaned
from cropper.destination.destination import Finish
from cropper.destination.formats import format_named


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
    kind = format_named(finish.format)
    clean, said = cleaned(words)
    way = Way(rendered, finish, clean)
    progressive = progressive or finish.progressive
    data = way.written(finish.quality, finish.chroma, progressive=progressive)
    if finish.byte_cap is None or len(data) <= finish.byte_cap:
        return Encoded(data=data, quality=finish.quality, notes=said)
    if not kind.lossy:
        raise too_large(way, finish, len(data))
    data, quality = capped(way, finish, finish.byte_cap)
    return Encoded(data=data, quality=quality, notes=(*said, _cost(finish, quality)))


def _cost(finish: Finish, quality: int) -> str:
    """What the cap cost, in a sentence."""
    lower = f"quality {quality} instead of {finish.quality}" if quality < finish.quality else ""
    half = "colour at half size" if finish.chroma == "4:4:4" and finish.format != "webp" else ""
    cost = " and ".join(part for part in (lower, half) if part) or "a progressive file"
    return f"{cost}, to stay within {finish.byte_cap} bytes"
