"""Runs as a calendar that other programs read [RFC 5545].

Each run is one event with a name that stays (UID) and a number that grows with every correction
(SEQUENCE), so that a calendar that takes the file in again changes the event instead of adding
one. A run that was called off stays in as cancelled. Instants are written in UTC, which every
program reads alike; rules of zones in a file are not. The notes tell them in the run's own zone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final
from uuid import UUID, uuid5

from icalendar import Alarm, Calendar, Event, vText

from cropper import __version__
from cropper.account.expiring import Ending
from cropper.account.timeline_saying import place
from cropper.deliverable.writing import write_whole
from cropper.publication.dates import said, said_span
from cropper.publication.facts import Facts
from cropper.publication.runs import Run, RunState
from cropper.publication.spans import Span
from cropper.publication.whereabouts import must_come_down

NAMES: Final = UUID("5b1d7d5e-9a43-4c8e-8f5e-0d1f2a3b4c5d")
"""Under which the names of events are made from the names of runs (drawn once, at random)."""
STATUS: Final[Mapping[RunState, str]] = {
    RunState.PLANNED: "TENTATIVE",
    RunState.LIVE: "CONFIRMED",
    RunState.ENDED: "CONFIRMED",
    RunState.WITHDRAWN: "CANCELLED",
}
ALARMS: Final = (timedelta(days=7), timedelta(days=1))
"""How long before an end a calendar reminds [RFC 5545, 3.6.6] (house: to act, and to check)."""
BEGINNING: Final = Span(datetime.min.replace(tzinfo=UTC))


def calendar(runs: Iterable[Run], facts: Facts, *, now: datetime) -> bytes:
    """The calendar of ``runs``; what ``facts`` says of licences stands in the events' notes."""
    whole = Calendar()
    whole.add("prodid", f"-//cropper//{__version__}//EN")
    whole.add("version", "2.0")
    down = {one.run.id: one.at for one in must_come_down(facts, BEGINNING)}
    for run in runs:
        whole.add_component(_event(run, down.get(run.id), now))
    return bytes(whole.to_ical())


def put_calendar(to: Path, runs: Iterable[Run], facts: Facts, *, now: datetime) -> None:
    """Write the calendar, whole or not at all; an older file of that name goes."""
    write_whole(to, calendar(runs, facts, now=now), replace=True)


def put_proposed(to: Path, runs: Iterable[Run], *, now: datetime) -> None:
    """Write proposed runs as tentative events; an older file of that name goes.

    They bear the names that the runs have once they are accepted, and change into these.
    """
    whole = Calendar()
    whole.add("prodid", f"-//cropper//{__version__}//EN")
    whole.add("version", "2.0")
    for run in runs:
        event = _event(run, None, now)
        event["summary"] = vText(f"Proposed: {run.version} at {run.outlet}")
        whole.add_component(event)
    write_whole(to, bytes(whole.to_ical()), replace=True)


def put_endings(to: Path, endings: Iterable[Ending], *, now: datetime) -> None:
    """Write what ends as a calendar, each with two alarms; an older file of that name goes."""
    whole = Calendar()
    whole.add("prodid", f"-//cropper//{__version__}//EN")
    whole.add("version", "2.0")
    for one in endings:
        event = Event()
        event.add("uid", str(uuid5(NAMES, one.name)))
        event.add("dtstamp", now)
        event.add("dtstart", one.at)
        event.add("summary", f"{one.about}: {one.what}")
        event.add("location", one.outlet)
        event.add("transp", "TRANSPARENT")
        event.add("description", one.to_do)
        for before in ALARMS:
            alarm = Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("trigger", -before)
            alarm.add("description", f"{one.about}: {one.what}")
            event.add_component(alarm)
        whole.add_component(event)
    write_whole(to, bytes(whole.to_ical()), replace=True)


def _event(run: Run, down: datetime | None, now: datetime) -> Event:
    event = Event()
    event.add("uid", str(uuid5(NAMES, run.id)))
    event.add("sequence", run.revision)
    event.add("dtstamp", run.recorded_at or now)
    event.add("dtstart", run.span.start)
    if run.span.until is not None:
        event.add("dtend", run.span.until)
    open_end = " (open end)" if run.span.until is None else ""
    event.add("summary", f"{run.version} at {run.outlet}{open_end}")
    event.add("location", run.outlet)
    event.add("status", STATUS[run.state])
    event.add("transp", "TRANSPARENT")  # a picture that runs keeps nobody busy
    event.add("categories", [one for one in (run.set, run.outlet) if one])
    event.add("description", _told(run, down))
    return event


def _told(run: Run, down: datetime | None) -> str:
    own = "" if run.zone == "UTC" else f" ({run.zone})"
    when = f"Runs {said_span(run.span, run.zone)}{own}."
    lines = [when, run.destination and f"Destination: {run.destination}", place(run), run.note]
    if down is not None:
        lines.append(f"The licence ends on {said(down, run.zone)}{own}, and it must come down.")
    return "\n".join(filter(None, lines))
