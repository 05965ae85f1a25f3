r"""Text made fit to be written, and cut where it must be: visibly, and between whole characters.

A *character* here is what a reader takes for one (an extended grapheme cluster, Unicode Standard
Annex 29): a letter with its accents, a flag, a family of four.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from typing import Final

ELLIPSIS: Final = "\N{HORIZONTAL ELLIPSIS}"
OPENS: Final = {"\u202a": "\u202c", "\u202b": "\u202c", "\u202d": "\u202c", "\u202e": "\u202c"} | {
    "\u2066": "\u2069",
    "\u2067": "\u2069",
    "\u2068": "\u2069",
}
"""Marks that turn the direction of what follows, and what ends each (Unicode Annex 9, 2.1-2.6)."""
WORD_WITHIN: Final = 0.8
"""A cut moves back to the end of a word if that keeps so much of the room (house)."""


def plain(text: str, *, lines: bool) -> str:
    r"""Composed (NFC), no control characters; line ends kept only where ``lines`` are usual.

    XML 1.0 cannot carry most control characters even escaped, and lone surrogates no encoding can.
    A turn of the direction that is left open is closed: it must not turn what stands behind it.

    >>> plain("wool\x00 and\ncopper", lines=False)
    'wool and copper'
    """
    kept = "\n" if lines else ""
    composed = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    spaced = composed if lines else composed.replace("\n", " ")
    shown = (one for one in spaced.replace("\t", " ") if one in kept or not unwritable(one))
    return closed("".join(shown).strip())


def unwritable(character: str) -> bool:
    """A control character, half a surrogate pair, or a code that is no character (Unicode 23.7)."""
    code = ord(character)
    no_character = 0xFDD0 <= code <= 0xFDEF or code & 0xFFFE == 0xFFFE  # noqa: PLR2004 - the ranges
    return no_character or unicodedata.category(character) in {"Cc", "Cs"}


def left_out(text: str) -> int:
    """How many characters :func:`plain` will not write, line ends and tabs aside."""
    return sum(unwritable(one) for one in text if one not in "\t\r\n")


def closed(text: str) -> str:
    """The text with every turn of direction ended."""
    open_turns: list[str] = []
    for one in text:
        if one in OPENS:
            open_turns.append(OPENS[one])
        elif open_turns and one == open_turns[-1]:
            open_turns.pop()
    return text + "".join(reversed(open_turns))


def characters(text: str) -> list[str]:
    r"""What a reader takes for the characters of ``text``.

    >>> len(characters("o\N{COMBINING DIAERESIS}x"))
    2
    """
    if text.isascii():
        return list(text)
    import regex  # noqa: PLC0415 - knows clusters, which the standard library does not

    return regex.findall(r"\X", text)


def cut_to_characters(text: str, most: int) -> str:
    """The longest beginning of at most ``most`` characters, the ellipsis counted.

    >>> cut_to_characters("A grey roll-neck", 9)
    'A grey…'
    """
    whole = characters(text)
    if len(whole) <= most:
        return text
    return _ended("".join(whole[: most - 1]), whole[most - 1])


def cut_to_bytes(text: str, most: int, measure: Callable[[str], int]) -> str:
    """The longest beginning that ``measure`` finds at most ``most``, the ellipsis counted."""
    if measure(text) <= most:
        return text
    filled, kept = measure(ELLIPSIS), 0
    whole = characters(text)
    for one in whole:
        filled += measure(one)
        if filled > most:
            break
        kept += 1
    cut = _ended("".join(whole[:kept]), whole[kept] if kept < len(whole) else "")
    return cut if measure(cut) <= most else "".join(whole[:kept]).rstrip(_TURNS) + ELLIPSIS


_TURNS: Final = "".join((*OPENS, *OPENS.values()))


def utf8(text: str) -> int:
    """Bytes of the text as UTF-8."""
    return len(text.encode())


def _ended(kept: str, following: str) -> str:
    """What is kept, back to the end of a word where that costs little, and the ellipsis."""
    if following and not following.isspace():
        at = max(kept.rfind(" "), kept.rfind("\n"))
        if at >= WORD_WITHIN * len(kept) or (at > 0 and len(kept) - at <= LONGEST_WORD):
            kept = kept[:at]
    return closed(kept.rstrip(" \n,;:-/|&([") + ELLIPSIS)


LONGEST_WORD: Final = 12
"""Letters of a word that are given up rather than cut (house)."""
