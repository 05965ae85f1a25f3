"""Instants in words, and plain dates as instants, in a stated zone."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Final, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from cropper.errors import MisuseError
from cropper.publication.spans import Span, instant

MIDNIGHT: Final = time(0)
FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2200
"""What is typed outside these years is taken for a slip (house)."""


def zone_called(name: str) -> ZoneInfo:
    """The zone of that name in the time zone database [IANA]."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise MisuseError(
            f"'{name}' is not a time zone", way_out="Give one such as Europe/Oslo, or UTC"
        ) from error


def midnight(day: date, zone: str) -> datetime:
    """The instant at which ``day`` begins in ``zone`` (its first, if midnight is skipped).

    >>> midnight(date(2026, 3, 1), "Asia/Tokyo").isoformat()
    '2026-02-28T15:00:00+00:00'
    """
    return instant(datetime.combine(day, MIDNIGHT, zone_called(zone)))


def read_instant(text: str, zone: str) -> datetime:
    """An instant from ISO 8601: a plain date begins at midnight in ``zone``, a time needs its own.

    Raises :class:`MisuseError` for a time without a zone, and for what is no date at all.
    """
    try:
        return midnight(_likely(date.fromisoformat(text), text), zone)
    except ValueError:
        pass
    try:
        parsed = datetime.fromisoformat(text)
    except ValueError as error:
        raise MisuseError(
            f"'{text}' is no date", way_out="Write 2026-03-01, or 2026-03-01T09:00+01:00"
        ) from error
    return instant(_likely(parsed, text), "the time")


Day = TypeVar("Day", bound=date)


def _likely(day: Day, text: str) -> Day:
    """The day, unless its year is surely a slip: near the calendar's ends nothing adds up."""
    if FIRST_YEAR <= day.year <= LAST_YEAR:
        return day
    raise MisuseError(
        f"'{text}' lies outside the years {FIRST_YEAR} to {LAST_YEAR}",
        way_out="Check the year; leave the end out where there is none",
    )


def said(at: datetime, zone: str = "UTC") -> str:
    """``at`` in words: the date alone when it is midnight in ``zone``.

    >>> from datetime import UTC
    >>> said(datetime(2026, 3, 1, tzinfo=UTC)), said(datetime(2026, 3, 1, 15, tzinfo=UTC))
    ('1 March 2026', '1 March 2026, 15:00 (UTC)')
    """
    local = at.astimezone(zone_called(zone))
    day = f"{local.day} {local:%B %Y}"
    return day if local.time() == MIDNIGHT else f"{day}, {local:%H:%M} ({zone})"


def said_span(span: Span, zone: str = "UTC") -> str:
    """From when until when, in words."""
    if span.until is None:
        return f"from {said(span.start, zone)} on"
    return f"from {said(span.start, zone)} until {said(span.until, zone)}"
