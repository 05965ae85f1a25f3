"""How a run, a licence and a gap are drawn. Told apart by form first, by tone second.

A run is a bar: filled while it is live, with a broken edge while it is planned, a dotted one while
it is only proposed, pale once it has ended. A licence is a hatched strip, a permission a strip
without hatching. A stretch of a run that clashes is crossed. An end that stays open has an arrow.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from cropper.account.intervals import TONES
from cropper.account.timeline import Bar, Strip
from cropper.account.timeline_fitting import BAR_SIZE, STRIP_SIZE, Placed, Scale, width
from cropper.account.timeline_marks import Box, Drawn, Hatch, Line, Stamp, Words
from cropper.publication.licences import LicenceKind
from cropper.publication.runs import RunState
from cropper.publication.spans import Span

BAR: Final = 11.0
STRIP: Final = 8.0
BAR_EDGE: Final = 0.9
"""Heights and line width, in points (house)."""
HATCHES: Final = {
    LicenceKind.EXCLUSIVE: Hatch.RISING,
    LicenceKind.FIRST_USE: Hatch.FALLING,
    LicenceKind.EMBARGO: Hatch.UPRIGHT,
}
FILLED: Final = {RunState.LIVE: 0.3, RunState.ENDED: 0.1, RunState.PLANNED: 0.0}
DAYS_PER_WEEK: Final = 7
PLANNED_DASH: Final = 2.4
PROPOSED_DASH: Final = 0.9
"""How the edge of a run to come is broken, in points: dashes when planned, dots when proposed."""


def tone(mark: int) -> str:
    """The ink of a version, by its mark."""
    return f"t{mark % len(TONES)}"


def bar_marks(one: Placed, scale: Scale, y: float) -> Iterator[Drawn]:
    """A run whose bar begins at height ``y``."""
    bar = one.what
    assert isinstance(bar, Bar)  # noqa: S101 - bars stand on bars' rows
    ink, bottom = tone(bar.version.mark), y + BAR
    planned = bar.run.state is RunState.PLANNED
    yield Box(
        x0=one.x0,
        y0=y,
        x1=one.x1,
        y1=bottom,
        ink=ink,
        fill=FILLED.get(bar.run.state, 0.0),
        edge=BAR_EDGE,
        dash=PROPOSED_DASH if bar.proposed else PLANNED_DASH if planned else 0.0,
    )
    for knot in bar.knots:
        if knot.overlaps(scale.span):
            x0, x1 = scale.ends(knot)
            yield Box(x0=x0, y0=y, x1=x1, y1=bottom, ink="warn", edge=1.2, hatch=Hatch.CROSSED)
    if bar.span.until is None:
        yield from _arrow(one.x1, y, bottom, ink)
    if bar.knots:
        yield _paper(one.words_x + 1.2, one.words_end - 1, y + 1.6, bottom - 1.6)
    yield Stamp(mark=bar.version.mark, x=one.words_x + 6.5, y=y + BAR / 2, r=3.2)
    yield from _words(one, one.words_x + 12, y + BAR / 2, BAR_SIZE, bold=False)


def strip_marks(one: Placed, scale: Scale, y: float) -> Iterator[Drawn]:
    """A licence whose strip begins at height ``y``; its words stand on plain paper."""
    strip = one.what
    assert isinstance(strip, Strip)  # noqa: S101 - strips stand on strips' rows
    bottom = y + STRIP
    ink = "ink" if strip.version is None else tone(strip.version.mark)
    hatch = HATCHES.get(strip.licence.kind)
    yield Box(x0=one.x0, y0=y, x1=one.x1, y1=bottom, ink=ink, edge=0.5, hatch=hatch)
    until = strip.licence.span.until
    if until is None:
        yield from _arrow(one.x1, y, bottom, ink)
    elif scale.span.holds(until):
        wide = 2.6 if strip.comes_down else 1.2
        yield Line(x0=one.x1, y0=y - 1, x1=one.x1, y1=bottom + 1, ink=ink, wide=wide)
    yield _paper(one.words_x + 2, one.words_end - 1, y + 0.6, bottom - 0.6)
    yield from _words(one, one.words_x + 4, y + STRIP / 2, STRIP_SIZE, bold=False)


def gap_marks(gap: Span, scale: Scale, y: float) -> Iterator[Drawn]:
    """A dotted line with feet where an outlet shows nothing, and for how long if there is room."""
    x0, x1 = scale.ends(gap)
    x0, x1 = x0 + 1.5, x1 - 1.5
    if x1 - x0 < 1:
        return
    for x in (x0, x1):
        yield Line(x0=x, y0=y - 2, x1=x, y1=y + 2, ink="soft", wide=0.6)
    told = gap_said(gap)
    needed = width(told, STRIP_SIZE - 0.5) + 6
    if needed + 8 > x1 - x0:
        yield Line(x0=x0, y0=y, x1=x1, y1=y, ink="soft", wide=0.6, dash=1.2)
        return
    middle = (x0 + x1) / 2
    yield Line(x0=x0, y0=y, x1=middle - needed / 2, y1=y, ink="soft", wide=0.6, dash=1.2)
    yield Line(x0=middle + needed / 2, y0=y, x1=x1, y1=y, ink="soft", wide=0.6, dash=1.2)
    yield _paper(middle - needed / 2 + 1, middle + needed / 2 - 1, y - 3, y + 3)
    yield Words(text=told, x=middle, y=y, size=STRIP_SIZE - 0.5, ink="soft", align="middle")


def gap_said(gap: Span) -> str:
    """How long nothing runs, in whole weeks or days.

    >>> from datetime import UTC, datetime
    >>> gap_said(Span(datetime(2026, 3, 1, tzinfo=UTC), datetime(2026, 3, 9, tzinfo=UTC)))
    'nothing, 8 days'
    """
    days = 0 if gap.length is None else round(gap.length.total_seconds() / 86400)
    if days >= 2 * DAYS_PER_WEEK:
        return f"nothing, {days // DAYS_PER_WEEK} weeks"
    return f"nothing, {days} day{'s' * (days != 1)}"


def _paper(x0: float, x1: float, y0: float, y1: float) -> Box:
    return Box(x0=x0, y0=y0, x1=x1, y1=y1, ink="paper", fill=1.0)


def _words(one: Placed, x: float, y: float, size: float, *, bold: bool) -> Iterator[Drawn]:
    yield Words(text=one.label, x=x, y=y, size=size, bold=bold)
    if one.warning:
        end = one.words_end - 3
        yield Words(text=one.warning, x=end, y=y, size=size, bold=True, ink="warn", align="end")


def _arrow(x: float, y0: float, y1: float, ink: str) -> Iterator[Drawn]:
    """The end stays open: two strokes that point on."""
    for y in (y0, y1):
        yield Line(x0=x - 4, y0=y, x1=x, y1=(y0 + y1) / 2, ink=ink, wide=1.1)
