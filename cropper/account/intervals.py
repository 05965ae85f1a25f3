"""Figures with their intervals as marks on an axis; pages and sheets only draw what stands here.

Places are fractions of the axis' length, 0 at its left end, 1 at its right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import floor, log10
from typing import Final

from cropper.publication.reading import Figure, Reading
from cropper.publication.responses import Design
from cropper.publication.saying import percent, span


class Shape(StrEnum):
    """What tells versions apart where colour does not: in grey print, to every eye."""

    DISC = "disc"
    SQUARE = "square"
    WEDGE = "wedge"
    LOZENGE = "lozenge"
    RING = "ring"
    BOX = "box"


TONES: Final = ("#7c4219", "#2f5a85", "#33603c", "#7a5200", "#6b3f78", "#3d3a36")
"""One tone for each shape, dark enough for thin lines on paper; versions beyond six begin anew."""
DARK_TONES: Final = ("#e2a579", "#9cc6f0", "#93cf9d", "#e8bd5c", "#d3abe2", "#d8d4cf")
"""The same on a dark page."""

MOST_LINES: Final = 36
"""House value: more lines in one chart are a list, which a table tells better."""
QUARTERS: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Where an axis is ticked."""
TEN: Final = 10.0
"""From here on one decimal tells enough."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One interval: ``low`` .. ``high`` with ``value`` marked; None where there is no interval.

    ``number`` (of how many) and ``told`` (the value and interval in words) stand beside it.
    """

    version: str
    mark: int
    value: float
    low: float | None
    high: float | None
    number: str
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The rows of one outlet, or of all together; ``title`` is empty where there is but one."""

    title: str
    part: bool
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """All figures of a reading on one axis.

    ``ticks``: place and word. ``even`` is where nothing would be preferred, if that is known.
    """

    groups: tuple[Group, ...]
    ticks: tuple[tuple[float, str], ...]
    even: float | None
    axis: str

    @property
    def lines(self) -> tuple[tuple[Group, Row | None], ...]:
        """Line by line from the top: a titled group's title (no row), then its rows."""
        told: list[tuple[Group, Row | None]] = []
        for group in self.groups[: self._drawn]:
            told += [(group, None)] if group.title else []
            told += [(group, row) for row in group.rows]
        return tuple(told)

    @property
    def left_out(self) -> int:
        """How many outlets are not drawn, for want of room."""
        return len(self.groups) - self._drawn

    @property
    def _drawn(self) -> int:
        """The first group, and as many more as fit."""
        room, drawn = MOST_LINES, 0
        for group in self.groups:
            room -= len(group.rows) + bool(group.title)
            if drawn and room < 0:
                break
            drawn += 1
        return drawn

    @property
    def legend(self) -> str:
        """What stands under the axis."""
        even = "" if self.even is None else "; broken line: all alike"
        more = f"; {self.left_out} more outlets are not drawn" if self.left_out else ""
        return f"{self.axis}{even}{more}"


def shape_of(mark: int) -> Shape:
    """The shape of the version at that place of its set."""
    return tuple(Shape)[mark % len(Shape)]


def tone_of(mark: int) -> str:
    """Its tone on paper."""
    return TONES[mark % len(TONES)]


def chart(reading: Reading) -> Chart | None:
    """The chart of a reading; None when it has no figures, or none above nought."""
    shares = reading.question.design is not Design.SEPARATE_RUNS
    end = _end(reading, shares=shares)
    if not end:
        return None
    scale = Scale(end=end, shares=shares, by_reach="reached" in reading.figures[0].unit)
    outlets = tuple(dict.fromkeys(one.outlet for one in reading.figures))
    versions = len(reading.question.versions)
    poll = reading.question.design is Design.ONE_POLL
    return Chart(
        groups=tuple(_group(one, reading, scale, alone=len(outlets) == 1) for one in outlets),
        ticks=tuple((at, scale.tick(at)) for at in QUARTERS),
        even=(1 / versions if poll else 0.5) if shares else None,
        axis=reading.figures[0].unit,
    )


def _end(reading: Reading, *, shares: bool) -> float:
    """The value at the axis' right end; 0 when there is nothing to draw."""
    if not reading.figures:
        return 0.0
    return 1.0 if shares else _round_up(max(one.high or one.value for one in reading.figures))


def _group(outlet: str, reading: Reading, scale: Scale, *, alone: bool) -> Group:
    rows = tuple(_row(one, reading, scale) for one in reading.figures if one.outlet == outlet)
    return Group(title="" if alone else outlet or "all outlets", part=bool(outlet), rows=rows)


def _row(one: Figure, reading: Reading, scale: Scale) -> Row:
    return Row(
        version=one.version,
        mark=reading.question.versions.index(one.version),
        value=one.value / scale.end,
        low=None if one.low is None else one.low / scale.end,
        high=None if one.high is None else min(1.0, one.high / scale.end),
        number=f"{one.count:,} of {scale.exposure(one)}",
        told=scale.told(one),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """How values of an axis that ends at ``end`` are said: shares, rates by reach, or by day."""

    end: float
    shares: bool
    by_reach: bool

    def tick(self, at: float) -> str:
        """The word at a place of the axis."""
        if self.shares:
            return percent(at)
        return f"{100 * at * self.end:.3g} %" if self.by_reach else f"{at * self.end:.3g}"

    def exposure(self, one: Figure) -> str:
        """Of how many."""
        if self.shares:
            return f"{one.of:,.0f}"
        return f"{one.of:,.0f} reached" if self.by_reach else f"{one.of:,.1f} days"

    def told(self, one: Figure) -> str:
        """The value with its interval."""
        if one.low is None or one.high is None:
            return percent(one.value)
        if self.shares:
            return f"{percent(one.value)} ({span(one.low, one.high).removesuffix(' %')})"
        times, unit = (100.0, " %") if self.by_reach else (1.0, " a day")
        digits = 1 if times * self.end >= TEN else 2
        value, low, high = (
            f"{times * number:.{digits}f}" for number in (one.value, one.low, one.high)
        )
        return f"{value}{unit} ({low} to {high})"


def _round_up(value: float) -> float:
    """The next of 1, 2, 5 times a power of ten: an axis ends on a number that can be said."""
    if value <= 0:
        return 0.0
    power = 10.0 ** floor(log10(value))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= value)


def versions_marked(versions: Sequence[str]) -> dict[str, int]:
    """The mark of each version: its place in the set."""
    return {version: at for at, version in enumerate(versions)}
