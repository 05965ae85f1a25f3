"""File names of finished files: a pattern with a short list of fields, and safe characters only.

A pattern is literal text with ``{field}`` in it; there is no formatting language behind it, so a
preset from somebody else cannot reach anything but :data:`FIELDS`. Names keep to the portable
characters A-Z a-z 0-9 . _ - with no hyphen or dot in front, at most 255 bytes [names].
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from cropper.destination.reading import listed, shown

FIELDS: Final = (
    "version",
    "destination",
    "width",
    "height",
    "date",
    "recipient",
    "set",
    "master",
)
TELLS_PICTURES_APART: Final = ("version", "master")
LONGEST_BYTES: Final = 255
"""POSIX NAME_MAX as common file systems have it [names]."""
LONGEST_SUFFIX: Final = 15
"""House: room kept for a running number and the extension."""
PORTABLE: Final = re.compile(r"[A-Za-z0-9._-]+")
UNPORTABLE: Final = re.compile(r"[^A-Za-z0-9._-]+")
DEVICES: Final = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")
"""Names that one desktop system keeps for devices, whatever the extension."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Literal text, or the name of a field."""

    text: str
    field: bool


def pieces(pattern: str) -> tuple[Piece, ...]:
    """The pieces of a pattern; ``ValueError`` says what is wrong with it.

    >>> [piece.text for piece in pieces("{version}_{width}")]
    ['version', '_', 'width']
    """
    found: list[Piece] = []
    rest = pattern
    while rest:
        literal, brace, rest = rest.partition("{")
        if literal:
            found.append(Piece(_literal(literal, pattern), field=False))
        if brace:
            field, closing, rest = rest.partition("}")
            found.append(Piece(_field(field, closing, pattern), field=True))
    _refuse_useless(found, pattern)
    return tuple(found)


def _literal(literal: str, pattern: str) -> str:
    if "}" in literal:
        raise ValueError(f"{shown(pattern)} closes a brace that was never opened")
    if not PORTABLE.fullmatch(literal):
        odd = UNPORTABLE.search(literal)
        raise ValueError(
            f"{shown(pattern)} holds {shown(odd[0] if odd else literal)}, which not every disk"
            " and mail can carry: use letters a-z, digits, dot, hyphen and underscore"
        )
    return literal


def _field(field: str, closing: str, pattern: str) -> str:
    if not closing:
        raise ValueError(f"{shown(pattern)} opens a brace that is never closed")
    if field not in FIELDS:
        raise ValueError(
            f"{shown(pattern)} asks for {{{field}}}, which is no field of a name;"
            f" there are {listed(FIELDS)}"
        )
    return field


def _refuse_useless(found: list[Piece], pattern: str) -> None:
    fields = {piece.text for piece in found if piece.field}
    if not fields.intersection(TELLS_PICTURES_APART):
        raise ValueError(
            f"{shown(pattern)} would give every picture one name:"
            " put {version} or {master} in it, such as '{version}_{destination}'"
        )
    if not found[0].field and found[0].text[0] in "-.":
        raise ValueError(f"{shown(pattern)} may not begin with a hyphen or a dot")


def portable(word: str) -> str:
    """``word`` in portable characters: accents dropped, everything else odd becomes a hyphen.

    >>> portable("Über uns (final)")
    'Uber-uns-final'
    """
    plain = unicodedata.normalize("NFKD", word)
    plain = "".join(mark for mark in plain if not unicodedata.combining(mark))
    return UNPORTABLE.sub("-", plain).strip("-.")


def file_stem(pattern: str, values: Mapping[str, str | int]) -> str:
    """The name without extension; fields that ``values`` leaves empty vanish with their separator.

    >>> file_stem("{set}_{version}_{width}x{height}", {"version": "a b", "width": 8, "height": 9})
    'a-b_8x9'
    """
    said = "".join(
        portable(str(values.get(piece.text, ""))) if piece.field else piece.text
        for piece in pieces(pattern)
    )
    said = re.sub(r"_{2,}", "_", re.sub(r"-{2,}", "-", said)).strip("-_.")
    said = said[: LONGEST_BYTES - LONGEST_SUFFIX].rstrip("-_.") or "picture"
    return f"_{said}" if DEVICES.fullmatch(said) else said
