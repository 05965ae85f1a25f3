"""What the record says beside each deliverable: where it runs, and what would stand in its way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from cropper.errors import RecordError
from cropper.job.outlets import read_outlets
from cropper.job.plan import Plan
from cropper.publication.clashes import clashes
from cropper.publication.dates import said_span
from cropper.publication.facts import Asked, Facts
from cropper.publication.outlets import Outlets
from cropper.publication.runs import Run
from cropper.publication.spans import Span
from cropper.record.address import chosen

Told = dict[str, Any]
EMPTY: Told = {"runs": {}, "said": ""}


def runs_told(
    plan: Plan, version: str, job: Path, *, address: str | None, now: datetime
) -> Mapping[str, Any]:
    """By destination, the runs of ``version`` in sentences, with their clashes.

    Also, for an outlet that the destination goes to, what would clash if it started now. Nothing
    without a record.
    """
    place = chosen(address, job=job)
    if place.file is not None and not place.file.is_file():
        return EMPTY
    from cropper.record import open_record  # noqa: PLC0415 - brings the database, seldom needed

    rivals = plan.set_of(version)
    sets = (rivals.name,) if rivals else ()
    try:
        with open_record(address, job=job) as record:
            facts = record.facts(Asked(versions=(version,), sets=sets))
    except RecordError as error:
        return {"runs": {}, "said": str(error)}
    outlets = read_outlets(job)
    told = {
        one.name: [
            *_recorded(version, one.name, facts),
            *_if_now(_trial(version, sets, one.name, now), outlets, facts),
        ]
        for one in plan.destinations
    }
    return {"runs": {name: lines for name, lines in told.items() if lines}, "said": ""}


def _recorded(version: str, destination: str, facts: Facts) -> list[Told]:
    mine = [run for run in facts.runs if (run.version, run.destination) == (version, destination)]
    return [
        {
            "sentence": f"At {run.outlet} {said_span(run.span, run.zone)}: {run.state}.",
            "clashes": [one.sentence for one in clashes(run, facts)],
        }
        for run in mine
    ]


def _trial(version: str, sets: tuple[str, ...], destination: str, now: datetime) -> Run:
    """A run that starts now, at no outlet yet."""
    return Run(
        id="",
        piece="",
        version=version,
        set=next(iter(sets), None),
        destination=destination,
        outlet="?",
        span=Span(now),
    )


def _if_now(trial: Run, outlets: Outlets, facts: Facts) -> list[Told]:
    told = []
    there = {one.outlet for one in facts.runs if one.version == trial.version and one.counts}
    for outlet in outlets.of(trial.destination):
        if outlet.name in facts.outlets and outlet.name not in there:
            found = clashes(replace(trial, outlet=outlet.name), facts)
            if found:
                told.append(
                    {
                        "sentence": f"Not at {outlet.name} now. {found[0].way_out}",
                        "clashes": [one.sentence for one in found],
                    }
                )
    return told
