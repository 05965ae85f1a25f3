"""Where everything on a timeline stands: lanes down, weeks across, nothing on top of anything."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from cropper._paper import fonts
from cropper.account.timeline import Lane, Timeline
from cropper.account.timeline_axis import ticks
from cropper.account.timeline_bars import BAR, STRIP, bar_marks, gap_marks, strip_marks
from cropper.account.timeline_fitting import (
    STRIP_SIZE,
    Scale,
    broken,
    cut,
    placed_bar,
    placed_strip,
    rows,
    width,
)
from cropper.account.timeline_marks import Drawing, Drawn, Line, Words
from cropper.publication.dates import said

NAMES: Final = 132.0
"""Where the weeks begin; the outlets' names stand before it."""
HEAD: Final = 25.0
"""Above the lanes: today, then the dates."""
AIR: Final = 3.0
FOOT: Final = 9.0
"""Below a lane's bars: where its gaps are told."""
LEAST_LANE: Final = 26.0
"""House values, in points."""
NAME_SIZE: Final = 8.0


def lay(chart: Timeline, wide: float, *, brief: bool = False) -> Drawing:
    """The lanes of ``chart`` on ``wide`` points; ``brief``: letters instead of names."""
    fonts()
    scale = Scale(span=chart.span, left=NAMES, right=wide - 1)
    lanes: list[Drawn] = []
    y = HEAD
    for lane in chart.lanes:
        drawn, high = _lane(lane, scale, y, brief=brief)
        lanes += [_rule(y, wide), *drawn]
        y += high
    lanes.append(_rule(y, wide))
    marks = (*_axis(chart, scale, y), *_today(chart, scale, y), *lanes)
    return Drawing(wide=wide, high=y + 2, marks=marks)


def _rule(y: float, wide: float) -> Line:
    return Line(x0=0, y0=y, x1=wide, y1=y, ink="rule", wide=0.8)


def _axis(chart: Timeline, scale: Scale, bottom: float) -> Iterator[Drawn]:
    """A line for each week (day, month ...), told where there is room."""
    free = 0.0
    for tick in ticks(chart.span, chart.zone):
        x = scale.at(tick.at)
        end = x + 2 + width(tick.said, STRIP_SIZE)
        told = bool(tick.said) and x >= free and end <= scale.right
        top = HEAD - 10 if told else HEAD
        yield Line(x0=x, y0=top, x1=x, y1=bottom, ink="rule", wide=0.7 if tick.said else 0.3)
        if told:
            yield Words(text=tick.said, x=x + 2, y=HEAD - 6, size=STRIP_SIZE, ink="soft")
            free = end + 3


def _today(chart: Timeline, scale: Scale, bottom: float) -> Iterator[Drawn]:
    """A heavy line where we are, if that is on the page; it breaks where dates are told."""
    if not chart.span.holds(chart.now):
        return
    x = scale.at(chart.now)
    told = f"today, {said(chart.now, chart.zone).split(',')[0]}"
    needed = width(told, STRIP_SIZE, bold=True)
    left = min(max(x - needed / 2, 0), scale.right - needed)
    yield Words(text=told, x=left, y=4, size=STRIP_SIZE, bold=True, ink="accent")
    yield Line(x0=x, y0=8.5, x1=x, y1=HEAD - 11, ink="accent", wide=1.3)
    yield Line(x0=x, y0=HEAD - 2, x1=x, y1=bottom, ink="accent", wide=1.3)


def _lane(lane: Lane, scale: Scale, top: float, *, brief: bool) -> tuple[list[Drawn], float]:
    """One outlet's marks, and how high its lane is."""
    marks: list[Drawn] = [*_name(lane, top)]
    y = top + AIR
    for row in rows(placed_strip(one, scale, brief=brief) for one in lane.strips):
        marks += [mark for one in row for mark in strip_marks(one, scale, y)]
        y += STRIP + AIR
    for row in rows(placed_bar(one, scale, brief=brief) for one in lane.bars):
        marks += [mark for one in row for mark in bar_marks(one, scale, y)]
        y += BAR + AIR
    high = max(y - top + FOOT, _least(lane))
    for gap in lane.gaps:
        marks += gap_marks(gap, scale, top + high - 4.5)
    return marks, high


def _name(lane: Lane, top: float) -> Iterator[Drawn]:
    """The outlet's name on a line or two, then what it is."""
    room = NAMES - 8
    y = top + 8.5
    for line in filter(None, broken(lane.outlet, room, NAME_SIZE, bold=True)):
        yield Words(text=line, x=0, y=y, size=NAME_SIZE, bold=True)
        y += 9.5
    told = cut(lane.told, room, STRIP_SIZE)
    yield Words(text=told, x=0, y=y, size=STRIP_SIZE, ink="soft")


def _least(lane: Lane) -> float:
    two_lines = bool(broken(lane.outlet, NAMES - 8, NAME_SIZE, bold=True)[1])
    return LEAST_LANE + 9.5 * two_lines
