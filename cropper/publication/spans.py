"""Stretches of time, half-open like every box: [start, until). Instants are aware; kept in UTC.

Two stretches overlap when each begins before the other ends [Allen, CACM 26:832-843, 1983]; one
that ends at the instant another starts only meets it. An open end lasts until somebody ends it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from cropper.errors import MisuseError


def instant(value: datetime, what: str = "a time") -> datetime:
    """``value`` in UTC; a time without a zone is refused, for it would be a guess."""
    if value.tzinfo is None or value.utcoffset() is None:
        raise MisuseError(
            f"{what}, {value.isoformat()}, has no zone",
            way_out="Add one, such as 2026-03-01T09:00+01:00, or give a plain date with --zone",
        )
    return value.astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Span:
    """From ``start`` until, not including, ``until``; None: open end."""

    start: datetime
    until: datetime | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", instant(self.start, "the start"))
        if self.until is None:
            return
        object.__setattr__(self, "until", instant(self.until, "the end"))
        if self.until <= self.start:
            raise MisuseError(
                f"it ends ({self.until:%Y-%m-%d %H:%M} UTC) no later than it starts"
                f" ({self.start:%Y-%m-%d %H:%M} UTC)",
                way_out="Give an end after the start, or leave the end out",
            )

    @property
    def length(self) -> timedelta | None:
        """None when the end is open."""
        return None if self.until is None else self.until - self.start

    def holds(self, at: datetime) -> bool:
        """Whether ``at`` lies inside: the start does, the end does not."""
        return self.start <= at and (self.until is None or at < self.until)

    def overlaps(self, other: Span) -> bool:
        """Whether the two have an instant in common."""
        return _before(self.start, other.until) and _before(other.start, self.until)

    def common(self, other: Span) -> Span | None:
        """What both cover; None when they only meet or lie apart."""
        if not self.overlaps(other):
            return None
        return Span(max(self.start, other.start), sooner(self.until, other.until))

    def from_(self, start: datetime) -> Span:
        """As long as this one, moved to ``start``."""
        return Span(start, None if self.length is None else start + self.length)

    def widened(self, rest: timedelta) -> Span:
        """The same stretch with ``rest`` before and after it."""
        return Span(self.start - rest, None if self.until is None else self.until + rest)


def sooner(one: datetime | None, other: datetime | None) -> datetime | None:
    """The earlier of two ends, of which None is the latest of all."""
    ends = [end for end in (one, other) if end is not None]
    return min(ends, default=None)


def merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """The same time in as few stretches as will do, in order; those that meet become one."""
    kept: list[Span] = []
    for span in sorted(spans, key=lambda one: one.start):
        last = kept[-1] if kept else None
        if last is None or (last.until is not None and last.until < span.start):
            kept.append(span)
        elif last.until is not None and (span.until is None or span.until > last.until):
            kept[-1] = Span(last.start, span.until)
    return tuple(kept)


def _before(start: datetime, end: datetime | None) -> bool:
    return end is None or start < end
