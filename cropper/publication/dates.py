"""Instants in words, and plain dates as instants, in a stated zone."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from enum import StrEnum
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


class Order(StrEnum):
    """Which number of a date such as 03/04/2026 is the day."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


NUMBERS: Final = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})")
"""A date whose year comes last."""
MONTHS: Final = 12


def order_of(text: str) -> Order | None:
    """Which order a date has, if it tells: with dots (common practice), or by a number above 12.

    >>> order_of("13/03/2026"), order_of("03/13/2026"), order_of("03/04/2026"), order_of("3.4.2026")
    (<Order.DAY_FIRST: 'day-first'>, <Order.MONTH_FIRST: 'month-first'>, None, None)
    """
    found = NUMBERS.fullmatch(text.strip())
    if found is None or found[2] == ".":
        return None
    if int(found[1]) > MONTHS:
        return Order.DAY_FIRST
    return Order.MONTH_FIRST if int(found[3]) > MONTHS else None


def read_date(text: str, order: Order | None = None) -> date:
    """A date as ISO 8601 writes it, or with its year last; raises ``ValueError`` for no date.

    With dots the day comes first. With strokes, raises :class:`MisuseError` where neither the date
    nor ``order`` tells which number is the day.
    """
    found = NUMBERS.fullmatch(text)
    if found is None:
        return date.fromisoformat(text)
    one, other, year = int(found[1]), int(found[3]), int(found[4])
    known = Order.DAY_FIRST if found[2] == "." or one == other else order_of(text) or order
    if known is None:
        raise MisuseError(
            f"'{text}' may have the day or the month first",
            way_out="Say it: --dates day-first, or --dates month-first; or write 2026-03-01",
        )
    return date(year, other, one) if known is Order.DAY_FIRST else date(year, one, other)


def read_instant(text: str, zone: str, order: Order | None = None) -> datetime:
    """An instant: a plain date begins at midnight in ``zone``, a time (ISO 8601) needs its own.

    Raises :class:`MisuseError` for a time without a zone, and for what is no date at all.
    """
    text = text.strip()
    try:
        return midnight(_likely(read_date(text, order), text), zone)
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


def typed(at: datetime, zone: str = "UTC") -> str:
    """``at`` as a command takes it: the plain date when it is midnight in ``zone``.

    >>> typed(midnight(date(2026, 3, 1), "Asia/Tokyo"), "Asia/Tokyo")
    '2026-03-01'
    """
    local = at.astimezone(zone_called(zone))
    if local.time() == MIDNIGHT:
        return local.date().isoformat()
    precise = "microseconds" if local.microsecond else "seconds" if local.second else "minutes"
    return local.isoformat(timespec=precise)


def said_span(span: Span, zone: str = "UTC") -> str:
    """From when until when, in words."""
    if span.until is None:
        return f"from {said(span.start, zone)} on"
    return f"from {said(span.start, zone)} until {said(span.until, zone)}"
