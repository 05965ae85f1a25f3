"""What a master itself says goes on into its files, where nobody said anything else.

So a picture never loses its maker's name because a job has no ``words.toml``. Location, serial
numbers, history, thumbnails and faces are not among these words (``cropper.master.own_words``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

from cropper.deliverable.words import BETWEEN_CREATORS, CARRIED, DAY_LETTERS, Words
from cropper.master.own_words import OwnWords

TOLD_APART: Final = ("creator", "copyright", "credit", "date_created")
"""Fields in which a difference between the job and the master is worth a sentence."""


def carried_on(words: Words, own: OwnWords) -> tuple[Words, tuple[str, ...]]:
    """The words of a file with the master's own in their gaps, and what the two disagree about.

    >>> own = OwnWords(creator=("R. Quillfeather",), copyright="(c) 2026 R. Quillfeather")
    >>> carried_on(Words(copyright="(c) 2026 Fernhollow Mill"), own)[0].creator
    'R. Quillfeather'
    """
    said = {name: _value(own, name) for name in CARRIED if name not in words.not_from_master}
    gaps = {name: value for name, value in said.items() if value and not getattr(words, name)}
    taken = said.get("date_created", "")
    if words.date_created and taken[:DAY_LETTERS] == words.date_created:
        gaps["date_created"] = taken  # the same day, with its time
    return replace(words, **gaps), tuple(_conflicts(words, said))


def _value(own: OwnWords, name: str) -> Any:
    """The master's word for a field of :class:`Words`."""
    if name == "creator":
        return BETWEEN_CREATORS.join(own.creator)
    return own.captured if name == "date_created" else getattr(own, name)


def _conflicts(words: Words, said: dict[str, Any]) -> Iterator[str]:
    for name in TOLD_APART:
        mine, theirs = getattr(words, name), said.get(name, "")
        if name == "date_created":
            mine, theirs = mine[:DAY_LETTERS], theirs[:DAY_LETTERS]
        if mine and theirs and _folded(mine) != _folded(theirs):
            whose = NAMED.get(name, name)
            yield (
                f"the master's {whose} is '{theirs[:80]}'; the file says '{mine[:80]}',"
                " as the job does"
            )


NAMED: Final = {"date_created": "day", "credit": "credit line"}


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())
