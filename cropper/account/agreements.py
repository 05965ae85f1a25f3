"""What was agreed, as a list: licences, releases, rests between rivals, barred versions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from cropper.publication.dates import said
from cropper.publication.facts import Facts
from cropper.publication.licences import Elsewhere, Licence, LicenceKind
from cropper.publication.releases import STATUS_WORDS, Release


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """One line of the list. ``number`` is a licence's id; others have none."""

    what: str
    about: str
    number: str = ""
    outlet: str = ""
    since: datetime | None = None
    until: datetime | None = None
    zone: str = "UTC"
    state: str = "holds"
    more: str = ""

    @property
    def cells(self) -> tuple[str, ...]:
        """The line as it is printed."""
        return (
            self.number,
            self.what,
            self.about,
            self.outlet,
            "" if self.since is None else said(self.since, self.zone),
            "open" if self.until is None else said(self.until, self.zone),
            self.state,
            self.more,
        )


def listed(
    licences: Iterable[Licence], facts: Facts, *, at: datetime, every: bool = False
) -> tuple[Agreement, ...]:
    """Everything agreed that holds at ``at`` or is still to come; with ``every``, all of it."""
    lines = (
        *(_licence(one, at) for one in licences),
        *(_release(one, at) for one in facts.releases.values()),
        *_rests(facts),
        *(Agreement(what="barred", about=one, more=why) for one, why in facts.barred.items()),
    )
    return tuple(one for one in lines if every or one.state in {"holds", "to come"})


def as_plain(one: Agreement) -> dict[str, Any]:
    """The line as plain values; instants in UTC, ISO 8601."""
    told = asdict(one)
    for name in ("since", "until"):
        told[name] = told[name].isoformat() if told[name] else None
    return told


def _licence(one: Licence, at: datetime) -> Agreement:
    more = [f"against {one.against} '{one.value}'" if one.value else ""]
    if one.kind is LicenceKind.TERM:
        more.append(f"at its end: {one.at_end}")
    if one.elsewhere is Elsewhere.TAKEN_DOWN:
        more.append("posts elsewhere come down")
    if one.exceptions or one.own_portfolio:
        free = (*one.exceptions, *["own portfolio"] * one.own_portfolio)
        more.append(f"free of it: {', '.join(free)}")
    return Agreement(
        number=one.id,
        what=str(one.kind),
        about=one.version or f"the set '{one.set}'",
        outlet=one.outlet or "every outlet",
        since=one.span.start,
        until=one.span.until,
        zone=one.zone,
        state="called off" if one.called_off else _state(one.span.start, one.span.until, at),
        more="; ".join(filter(None, (*more, one.note))),
    )


def _release(one: Release, at: datetime) -> Agreement:
    return Agreement(
        what="release",
        about=one.person,
        outlet=", ".join(one.outlets),
        since=one.signed_at,
        until=one.until,
        state=_state(None, one.until, at),
        more="; ".join(filter(None, (STATUS_WORDS[one.status], one.scope))),
    )


def _rests(facts: Facts) -> Iterator[Agreement]:
    for one in facts.sets.values():
        if one.rest_days:
            about = f"the set '{one.name}'"
            yield Agreement(what="rest", about=about, more=f"{one.rest_days} days between rivals")


def _state(start: datetime | None, until: datetime | None, at: datetime) -> str:
    if until is not None and until <= at:
        return "over"
    return "to come" if start is not None and start > at else "holds"
