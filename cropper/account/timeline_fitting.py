"""Room for words: how wide they are, how much of them fits, and who stands on which row.

Words are measured in the sheet's own type, which is wider than what most screens set, so that what
is clear of its neighbours on paper is clear of them on a screen. Lengths are points.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from reportlab.pdfbase.pdfmetrics import stringWidth

from cropper._paper import BOLD, PLAIN, fonts
from cropper.account.timeline import Bar, Strip
from cropper.publication.spans import Span

BETWEEN: Final = 5.0
"""House value: what stands side by side on a row is told apart."""
NARROWEST: Final = 2.5
"""House value: a run of an hour on a page of three years is still seen."""
BAR_SIZE: Final = 7.0
STRIP_SIZE: Final = 6.0
LONGEST: Final = 120.0
"""House value: a name longer than this is cut, visibly; it stands in full beside its letter."""
MOST_NUMBERS: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Where an instant falls between ``left`` and ``right``; what lies outside falls on an end."""

    span: Span
    left: float
    right: float

    def at(self, instant: datetime | None) -> float:
        """The place of an instant; None, an open end, lies at the right."""
        assert self.span.length is not None  # noqa: S101 - a timeline has an end
        if instant is None:
            return self.right
        share = (instant - self.span.start) / self.span.length
        return self.left + min(max(share, 0.0), 1.0) * (self.right - self.left)

    def ends(self, span: Span) -> tuple[float, float]:
        """Both ends of a stretch, never so near that it cannot be seen."""
        x0, x1 = self.at(span.start), self.at(span.until)
        return min(x0, self.right - NARROWEST), max(x1, min(x0, self.right - NARROWEST) + NARROWEST)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Something on a row: from ``x0`` to ``x1``; its words from ``words_x`` to ``words_end``."""

    what: Bar | Strip
    x0: float
    x1: float
    words_x: float
    words_end: float
    label: str
    warning: str

    @property
    def left(self) -> float:
        """Where it begins, words and all."""
        return min(self.x0, self.words_x)

    @property
    def right(self) -> float:
        """Where it ends, words and all."""
        return max(self.x1, self.words_end)


def width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide words are; a sign that the type does not know counts as a square."""
    known = fonts()
    plain = "".join(sign for sign in text if ord(sign) in known)
    strange = len(text) - len(plain)
    return float(stringWidth(plain, BOLD if bold else PLAIN, size)) + strange * size


def cut(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """The words, or as much of them as there is room for, and a sign that more follows."""
    if width(text, size, bold=bold) <= room:
        return text
    kept = text
    while kept and width(kept + "…", size, bold=bold) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…"


def broken(text: str, room: float, size: float, *, bold: bool = False) -> tuple[str, str]:
    """A name on two lines at most, broken anywhere if it must be; the second is cut if need be."""
    kept = text
    while kept and width(kept, size, bold=bold) > room:
        kept = kept[:-1]
    if kept == text:
        return text, ""
    seam = max(kept.rfind(sign) for sign in " -_./") + 1
    at = seam if seam > len(kept) // 2 else len(kept)
    return text[:at].rstrip(), cut(text[at:].lstrip(), room, size, bold=bold)


def folded(text: str, room: float, size: float) -> list[str]:
    """The words on as many lines as they need; a single word too long is cut."""
    lines = [""]
    for word in text.split():
        tried = f"{lines[-1]} {word}".strip()
        if lines[-1] and width(tried, size) > room:
            lines.append(cut(word, room, size))
        else:
            lines[-1] = cut(tried, room, size)
    return lines


def placed_bar(bar: Bar, scale: Scale, *, brief: bool) -> Placed:
    """A run with its version's name, or its letter."""
    name = bar.version.code if brief else bar.version.name
    x0, x1 = scale.ends(bar.span)
    label = cut(name, max(LONGEST, x1 - x0 - 60), BAR_SIZE)
    return _placed(bar, bar.span, label, bar.notes, scale, inset=12, size=BAR_SIZE)


def placed_strip(strip: Strip, scale: Scale, *, brief: bool) -> Placed:
    """A licence with what it says, or its kind and the version's letter."""
    kind, _, what = strip.said.partition(": ")
    code = strip.version.code if strip.version else "set"
    told = f"{kind} {code}" if brief else f"{kind}: {what}"
    label = cut(told, 1.6 * LONGEST, STRIP_SIZE)
    return _placed(strip, strip.licence.span, label, strip.notes, scale, inset=4, size=STRIP_SIZE)


def _placed(
    what: Bar | Strip,
    span: Span,
    label: str,
    notes: Sequence[int],
    scale: Scale,
    *,
    inset: float,
    size: float,
) -> Placed:
    """Words stand in the thing if they fit, else after it, else before it, else over it."""
    x0, x1 = scale.ends(span)
    warning = _numbers(notes)
    needed = inset + width(label, size) + 3
    if warning:
        needed += 4 + width(warning, size, bold=True)
    words_x = _beside(x0, x1, needed, scale)
    return Placed(
        what=what,
        x0=x0,
        x1=x1,
        words_x=words_x,
        words_end=words_x + needed,
        label=label,
        warning=warning,
    )


def _beside(x0: float, x1: float, needed: float, scale: Scale) -> float:
    if needed <= x1 - x0:
        return x0
    if x1 + needed <= scale.right:
        return x1
    return x0 - needed if x0 - needed >= scale.left else max(scale.right - needed, scale.left)


def _numbers(notes: Sequence[int]) -> str:
    if not notes:
        return ""
    more = " …" if len(notes) > MOST_NUMBERS else ""
    return f"✕ {', '.join(str(number) for number in notes[:MOST_NUMBERS])}{more}"


def rows(things: Iterable[Placed]) -> list[list[Placed]]:
    """Each on the first row on which it stands clear of all that stands there."""
    found: list[list[Placed]] = []
    for one in sorted(things, key=lambda one: (one.left, one.right)):
        free = next((row for row in found if row[-1].right + BETWEEN <= one.left), None)
        if free is None:
            found.append([one])
        else:
            free.append(one)
    return found
