"""The words that travel in a finished file: who made it, what it shows, who owns it."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, replace
from typing import Final
from xml.sax.saxutils import escape

MOST_BYTES: Final = {"caption": 36_000}
"""Bytes of UTF-8 XML that a field may fill; all together fit the 65,502 of one JPEG segment, so
that a caption of 10,000 letters does, and whatever is longer is cut, and said (house)."""
MOST_OTHER_BYTES: Final = 4_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Empty fields are not written. ``alt_text`` describes the picture to who cannot see it."""

    creator: str = ""
    credit: str = ""
    copyright: str = ""
    headline: str = ""
    caption: str = ""
    alt_text: str = ""

    @property
    def none(self) -> bool:
        """Whether there is nothing to write."""
        return self == NO_WORDS


NO_WORDS: Final = Words()


def cleaned(words: Words) -> tuple[Words, tuple[str, ...]]:
    r"""The words without control characters and cut to length, and what was cut, in sentences.

    >>> cleaned(Words(creator="R. Quill\x00feather"))[0].creator
    'R. Quillfeather'
    """
    changed, said = {}, []
    for field in Words.__dataclass_fields__:
        text = _plain(getattr(words, field), lines=field in {"caption", "alt_text"})
        changed[field] = _cut(text, MOST_BYTES.get(field, MOST_OTHER_BYTES))
        if changed[field] != text:
            whose = field.replace("_", " ")
            said.append(f"the {whose} was cut from {len(text)} to {len(changed[field])} characters")
    return replace(words, **changed), tuple(said)


def _cut(text: str, most: int) -> str:
    """The longest beginning that fills at most so many bytes once escaped, with an ellipsis."""
    if len(escape(text).encode()) <= most:
        return text
    filled, kept = len("\N{HORIZONTAL ELLIPSIS}".encode()), 0
    for character in text:
        filled += len(escape(character).encode())
        if filled > most:
            break
        kept += 1
    return text[:kept].rstrip() + "\N{HORIZONTAL ELLIPSIS}"


def _plain(text: str, *, lines: bool) -> str:
    """Composed (NFC), no control characters; line ends kept only where lines are usual.

    XML 1.0 cannot carry most control characters even escaped, and lone surrogates no encoding can.
    """
    kept = "\n" if lines else ""
    composed = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    spaced = composed if lines else composed.replace("\n", " ")
    return "".join(
        character
        for character in spaced.replace("\t", " ")
        if character in kept or unicodedata.category(character) not in {"Cc", "Cs", "Cn"}
    ).strip()
