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
from cropper.publication.settling import Unsettled, unsettled
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

    ``unsettled`` are clashes of recorded runs, now or to come, that call for something.

    ``faded`` are up as well, in streams in which they no longer stand out.
    """

    at: datetime
    zone: str
    up: tuple[Run, ...]
    faded: tuple[Run, ...]
    coming_down: tuple[ComingDown, ...]
    unsettled: tuple[Unsettled, ...] = ()


def whereabouts(
    record: Known, at: datetime, *, zone: str = "UTC", set_name: str | None = None
) -> Whereabouts:
    """What runs at ``at``, of one set or of all; dates are told in ``zone``."""
    sets = () if set_name is None else (set_name,)
    rules = record.facts(Asked(versions=("",))).sets.values()
    rest = max((one.rest for one in rules), default=timedelta(0))
    facts = record.facts(Asked(span=Span(at - rest), sets=sets))
    down = must_come_down(facts, Span(at, at + WEEK))
    every = running(facts, at)
    up = tuple(run for run in every if _stands_out(run, facts, at))
    faded = tuple(run for run in every if not _stands_out(run, facts, at))
    open_ones = unsettled(facts, at)
    return Whereabouts(at=at, zone=zone, up=up, faded=faded, coming_down=down, unsettled=open_ones)


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


ROW_HEADINGS: Final = ("run", "outlet", "version", "file for", "since", "until", "state", "where")


def rows(runs: Iterable[Run]) -> list[tuple[str, ...]]:
    """Number, outlet, version, destination, since, until, state and place, in words.

    Dates are told in the run's own zone, which is its outlet's unless another was given; the zone
    is said where it is not UTC.
    """
    return [
        (
            run.id,
            run.outlet,
            run.version,
            run.destination,
            f"{said(run.span.start, run.zone)}{_zone(run)}",
            "open" if run.span.until is None else said(run.span.until, run.zone),
            run.state.value,
            place(run),
        )
        for run in runs
    ]


def _zone(run: Run) -> str:
    """The zone of a plain date; a time says its own already."""
    told = said(run.span.start, run.zone)
    return "" if run.zone == "UTC" or told.endswith(")") else f" ({run.zone})"


def as_plain(answer: Whereabouts) -> dict[str, Any]:
    """The answer in plain values; instants in UTC, ISO 8601."""
    return {
        "at": answer.at.isoformat(),
        "running": [run_as_plain(run) for run in answer.up],
        "faded": [run_as_plain(run) for run in answer.faded],
        "must_come_down": [
            {"run": one.run.id, "at": one.at.isoformat(), "why": one.sentence}
            for one in answer.coming_down
        ],
        "unsettled": [unsettled_as_plain(one) for one in answer.unsettled],
    }


def unsettled_as_plain(one: Unsettled) -> dict[str, str]:
    """A recorded run that clashes, as plain values; ``by`` in UTC, ISO 8601."""
    return {
        "run": one.run.id,
        "rule": one.clash.rule.value,
        "against": one.clash.against,
        "by": one.by.isoformat(),
        "why": one.sentence,
        "way_out": one.way_out,
    }


def run_as_plain(run: Run) -> dict[str, Any]:
    """A run as plain values; instants in UTC, ISO 8601."""
    return {
        "id": run.id,
        "outlet": run.outlet,
        "version": run.version,
        "set": run.set,
        "destination": run.destination,
        "start": run.span.start.isoformat(),
        "until": None if run.span.until is None else run.span.until.isoformat(),
        "zone": run.zone,
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
