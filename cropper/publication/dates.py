"""Instants in words, and plain dates as instants, in a stated zone."""

from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from cropper.errors import MisuseError
from cropper.publication.spans import Span, instant

MIDNIGHT = time(0)


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
        return midnight(date.fromisoformat(text), zone)
    except ValueError:
        pass
    try:
        parsed = datetime.fromisoformat(text)
    except ValueError as error:
        raise MisuseError(
            f"'{text}' is no date", way_out="Write 2026-03-01, or 2026-03-01T09:00+01:00"
        ) from error
    return instant(parsed, "the time")


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
