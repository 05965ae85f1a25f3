"""The calendar of runs, read back by another program's parser and by the standard's own rules."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import vobject

from cropper.account.calendar_file import calendar, put_calendar
from cropper.publication.licences import AtEnd, LicenceKind
from cropper.publication.runs import Run, RunState
from tests.unit.publication.test_clashes import day, facts, licence, run

NOW = day(4, 24)
MOST_OCTETS = 75
"""A line is no longer than this, its break aside [RFC 5545, 3.1]."""


def written(*runs: Run, **more: Any) -> bytes:
    return calendar(runs, facts(*runs, **more), now=NOW)


def events(*runs: Run, **more: Any) -> list[Any]:
    read = vobject.readOne(written(*runs, **more).decode("utf-8"))
    return list(read.vevent_list)


def test_a_run_is_an_event_over_the_same_instants() -> None:
    """Across the change of clocks on 29 March 2026 [Directive 2000/84/EC]."""
    hood = run("hood", "my-pages", day(3, 20), day(4, 10))
    (event,) = events(hood)
    assert event.dtstart.value == datetime(2026, 3, 19, 23, tzinfo=UTC)
    assert event.dtend.value == datetime(2026, 4, 9, 22, tzinfo=UTC)
    assert event.summary.value == "hood at my-pages"
    assert event.location.value == "my-pages"


def test_the_notes_tell_the_dates_in_the_runs_own_zone() -> None:
    (event,) = events(run("hood", "my-pages", day(3, 20), day(4, 10)))
    assert event.description.value == ("Runs from 20 March 2026 until 10 April 2026 (Europe/Oslo).")


def test_no_reader_has_to_know_the_rules_of_a_zone() -> None:
    """A time in UTC ends with Z [RFC 5545, 3.3.5, form 2]."""
    text = written(run("hood", "my-pages", datetime(2041, 7, 1, 15, tzinfo=UTC), None))
    assert b"\r\nDTSTART:20410701T150000Z\r\n" in text
    assert b"TZID" not in text
    assert b"VTIMEZONE" not in text


def test_an_open_end_has_no_end_and_says_so() -> None:
    (event,) = events(run("hood", "my-pages", day(3, 1), None))
    assert not hasattr(event, "dtend")
    assert event.summary.value.endswith("(open end)")


def test_a_correction_keeps_the_name_and_counts_up() -> None:
    hood = run("hood", "my-pages", day(3, 1), day(4, 1))
    later = replace(hood, span=replace(hood.span, until=day(4, 9)), revision=1)
    (before,), (after,) = events(hood), events(later)
    assert before.uid.value == after.uid.value
    assert (before.sequence.value, after.sequence.value) == ("0", "1")
    other = run("roll", "my-pages", day(3, 1), day(4, 1))
    assert events(other)[0].uid.value != before.uid.value


def test_what_was_called_off_is_cancelled_and_what_is_planned_is_tentative() -> None:
    hood = run("hood", "my-pages", day(3, 1), day(4, 1))
    states = {
        state: events(replace(hood, state=state))[0].status.value
        for state in (RunState.PLANNED, RunState.LIVE, RunState.WITHDRAWN)
    }
    assert list(states.values()) == ["TENTATIVE", "CONFIRMED", "CANCELLED"]


def test_lines_are_folded_and_words_come_back_as_they_were() -> None:
    note = "ø" * 90 + "; a, b\\n 目\nsecond line"
    hood = run("hood, or: roll; neck", "my-pages", day(3, 1), None, note=note)
    text = written(hood)
    assert max(len(line) for line in text.split(b"\r\n")) <= MOST_OCTETS
    assert b"\n" not in text.replace(b"\r\n", b"")
    (event,) = events(hood)
    assert event.description.value.endswith(note)
    assert event.summary.value == "hood, or: roll; neck at my-pages (open end)"


def test_what_must_come_down_says_so_in_its_event() -> None:
    ends = replace(
        licence(LicenceKind.TERM, day(1, 1), day(4, 1), at_end=AtEnd.MUST_COME_DOWN),
        outlet="my-pages",
    )
    (event,) = events(run("hood", "my-pages", day(3, 1), None), licences=(ends,))
    assert "must come down" in event.description.value


def test_a_calendar_of_nothing_is_still_a_calendar(tmp_path: Path) -> None:
    put_calendar(tmp_path / "runs.ics", (), facts(), now=NOW)
    read = vobject.readOne((tmp_path / "runs.ics").read_text(encoding="utf-8"))
    assert read.version.value == "2.0"
    assert not hasattr(read, "vevent")
