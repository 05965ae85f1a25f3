"""The weeks across the page: where lines stand, and which of them are told.

Days begin at midnight in the page's zone, so that a week in which clocks change is an hour longer
or shorter on paper too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from cropper.publication.dates import midnight, zone_called
from cropper.publication.spans import Span

DAYS_TOLD: Final = 16
WEEKS_TOLD: Final = 130
MONTHS_TOLD: Final = 560
QUARTERS_TOLD: Final = 1300
"""Up to so many days a page tells days, weeks, months, quarters (house: labels stay apart)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A line at ``at``; ``said`` is empty for a line that is only drawn."""

    at: datetime
    said: str


def ticks(span: Span, zone: str) -> tuple[Tick, ...]:
    """The lines over ``span``, from left to right; the first one told names its year."""
    assert span.until is not None  # noqa: S101 - a timeline has an end
    days = (span.until - span.start) / timedelta(days=1)
    found: list[Tick] = []
    year = 0
    for day in _days(span, zone):
        said = _said(day, days)
        if said is None:
            continue
        if said and day.year != year and said != str(day.year):
            said, year = f"{said} {day.year}", day.year
        found.append(Tick(at=midnight(day, zone), said=said))
    return tuple(found)


def _days(span: Span, zone: str) -> Iterator[date]:
    """Every day that begins inside the span."""
    day = span.start.astimezone(zone_called(zone)).date()
    if midnight(day, zone) < span.start:
        day += timedelta(days=1)
    while span.holds(midnight(day, zone)):
        yield day
        day += timedelta(days=1)


def _said(day: date, days: float) -> str | None:
    """What a line at ``day`` tells on a page of so many days: words, nothing, or no line."""
    for most, told in _SCALES:
        if days <= most:
            return told(day)
    return str(day.year) if (day.month, day.day) == (1, 1) else None


def _by_day(day: date) -> str | None:
    return f"{day:%a} {day.day} {day:%b}"


def _by_week(day: date) -> str | None:
    return f"{day.day} {day:%b}" if day.weekday() == 0 else None


def _by_month(day: date) -> str | None:
    if day.day == 1:
        return f"{day:%b}"
    return "" if day.weekday() == 0 else None


def _by_quarter(day: date) -> str | None:
    if day.day != 1:
        return None
    return f"{day:%b}" if day.month % 3 == 1 else ""


_SCALES: Final[tuple[tuple[int, Callable[[date], str | None]], ...]] = (
    (DAYS_TOLD, _by_day),
    (WEEKS_TOLD, _by_week),
    (MONTHS_TOLD, _by_month),
    (QUARTERS_TOLD, _by_quarter),
)
