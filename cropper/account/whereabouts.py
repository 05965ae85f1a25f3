"""What runs where on a date, as one answer for people and for scripts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from cropper.account.timeline_making import Known
from cropper.account.timeline_saying import place
from cropper.publication.dates import said
from cropper.publication.facts import EVERYTHING, Asked, Facts
from cropper.publication.runs import Run
from cropper.publication.spans import Span
from cropper.publication.whereabouts import (
    ComingDown,
    Free,
    free_to_use,
    must_come_down,
    never_run,
    running,
    unused_destinations,
)

WEEK: Final = timedelta(days=7)
"""How far ahead what must come down is told (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Whereabouts:
    """The runs that are up at ``at``, and those that must come down within a week of it."""

    at: datetime
    zone: str
    up: tuple[Run, ...]
    coming_down: tuple[ComingDown, ...]
    facts: Facts


def whereabouts(record: Known, at: datetime, *, zone: str = "UTC") -> Whereabouts:
    """What runs at ``at``; dates are told in ``zone``."""
    week = Span(at, at + WEEK)
    facts = record.facts(Asked(span=week))
    down = must_come_down(facts, week)
    return Whereabouts(at=at, zone=zone, up=running(facts, at), coming_down=down, facts=facts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unused:
    """Versions that have never run, and (version, destination) of files that have not."""

    versions: tuple[str, ...]
    destinations: tuple[tuple[str, str], ...]


def unused(record: Known) -> Unused:
    """What was delivered and waits to be used."""
    facts = record.facts(EVERYTHING)
    return Unused(versions=never_run(facts), destinations=unused_destinations(facts))


def free_at(record: Known, outlet: str, at: datetime) -> tuple[Free, ...]:
    """Every version on record, and whether it may start at ``outlet`` at ``at`` and stay.

    Raises :class:`cropper.errors.MisuseError` when the outlet is unknown.
    """
    return free_to_use(record.facts(EVERYTHING), at, outlet)


def rows(answer: Whereabouts) -> list[tuple[str, ...]]:
    """Outlet, version, destination, since, until, state and place, in words."""
    return [
        (
            run.outlet,
            run.version,
            run.destination,
            said(run.span.start, answer.zone),
            "open" if run.span.until is None else said(run.span.until, answer.zone),
            run.state.value,
            place(run),
        )
        for run in answer.up
    ]


def as_json(answer: Whereabouts) -> dict[str, Any]:
    """The answer in plain values; instants in UTC, ISO 8601."""
    return {
        "at": answer.at.isoformat(),
        "running": [_run(run) for run in answer.up],
        "must_come_down": [
            {"run": one.run.id, "at": one.at.isoformat(), "why": one.sentence}
            for one in answer.coming_down
        ],
    }


def _run(run: Run) -> dict[str, Any]:
    return {
        "id": run.id,
        "outlet": run.outlet,
        "version": run.version,
        "set": run.set,
        "destination": run.destination,
        "start": run.span.start.isoformat(),
        "until": None if run.span.until is None else run.span.until.isoformat(),
        "state": run.state.value,
        "address": run.address,
        "issue": run.issue,
        "page": run.page,
        "piece": run.piece,
    }


def why_not(found: Sequence[Free]) -> list[tuple[str, str, str]]:
    """Version, whether it is free, and what stands in the way with the way out."""
    return [
        (
            one.version,
            "free" if one.free else "not free",
            " ".join([*(clash.sentence for clash in one.clashes), *_way_out(one)]),
        )
        for one in found
    ]


def _way_out(one: Free) -> list[str]:
    return [one.clashes[0].way_out] if one.clashes else []
