"""What runs where on a date, as one answer for people and for scripts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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
    """The runs that are up at ``at``, and those that must come down within a week of it.

    ``faded`` are up as well, in streams in which they no longer stand out.
    """

    at: datetime
    zone: str
    up: tuple[Run, ...]
    faded: tuple[Run, ...]
    coming_down: tuple[ComingDown, ...]


def whereabouts(
    record: Known, at: datetime, *, zone: str = "UTC", set_name: str | None = None
) -> Whereabouts:
    """What runs at ``at``, of one set or of all; dates are told in ``zone``."""
    week = Span(at, at + WEEK)
    facts = record.facts(Asked(span=week, sets=() if set_name is None else (set_name,)))
    down = must_come_down(facts, week)
    every = running(facts, at)
    up = tuple(run for run in every if _stands_out(run, facts, at))
    faded = tuple(run for run in every if not _stands_out(run, facts, at))
    return Whereabouts(at=at, zone=zone, up=up, faded=faded, coming_down=down)


def _stands_out(run: Run, facts: Facts, at: datetime) -> bool:
    outlet = facts.outlet(run.outlet)
    return outlet is None or run.seen_in(outlet).holds(at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unused:
    """Versions that have never run, and (version, destination) of files that have not."""

    versions: tuple[str, ...]
    destinations: tuple[tuple[str, str], ...]


def unused(record: Known, set_name: str | None = None) -> Unused:
    """What was delivered and waits to be used: of one set, or of all."""
    facts = record.facts(_about(set_name))
    return Unused(versions=never_run(facts), destinations=unused_destinations(facts))


def free_at(
    record: Known,
    outlet: str,
    at: datetime,
    *,
    until: datetime | None = None,
    set_name: str | None = None,
) -> tuple[Free, ...]:
    """Every version, or those of a set, and whether it may run at ``outlet`` from ``at`` on.

    Raises :class:`cropper.errors.MisuseError` when the outlet is unknown.
    """
    return free_to_use(record.facts(_about(set_name)), at, outlet, until=until)


def _about(set_name: str | None) -> Asked:
    return EVERYTHING if set_name is None else Asked(sets=(set_name,))


def rows(runs: Iterable[Run], zone: str) -> list[tuple[str, ...]]:
    """Outlet, version, destination, since, until, state and place, in words."""
    return [
        (
            run.outlet,
            run.version,
            run.destination,
            said(run.span.start, zone),
            "open" if run.span.until is None else said(run.span.until, zone),
            run.state.value,
            place(run),
        )
        for run in runs
    ]


def as_plain(answer: Whereabouts) -> dict[str, Any]:
    """The answer in plain values; instants in UTC, ISO 8601."""
    return {
        "at": answer.at.isoformat(),
        "running": [_run(run) for run in answer.up],
        "faded": [_run(run) for run in answer.faded],
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
