"""The words of one file: those written into it, and those to copy beside it."""

from __future__ import annotations

from dataclasses import dataclass

from cropper.deliverable.words import NO_WORDS, Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Worded:
    """What one version says at one destination.

    - ``words``: written into the file, whole.
    - ``credit_line``, ``caption``: to copy, cut to what the destination has room for.
    - ``alt_text``: never cut here. ``language``: of these words, BCP 47 ("en", "de-AT").
    - ``notes``: what was cut, what is withheld, in sentences.

    Equal words have equal ``repr``: an export may take it into the ground of a file.
    """

    words: Words = NO_WORDS
    credit_line: str = ""
    caption: str = ""
    alt_text: str = ""
    language: str = ""
    notes: tuple[str, ...] = ()
