"""Tables of runs as spreadsheets save them: loaded twice, in any dress, with slips in them."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest

from cropper.publication.runs import RunState
from cropper.record.exchange import take_runs
from cropper.record.filing import load_from, save_as
from cropper.record.opening import open_record
from cropper.record.record import Record
from tests.integration.record.test_recording import FEED, HOOD, NOW, ROLL, STAMP, WALL, run

HEAD = "version,outlet,from,until,note\n"


@pytest.fixture
def filled(tmp_path: Path) -> Record:
    record = open_record(str(tmp_path / "record.sqlite"))
    record.keep_outlets([WALL, FEED], STAMP)
    record.take_in([ROLL, HOOD], STAMP)
    return record


def taken_from(record: Record, text: str) -> tuple[int, int, int]:
    taken = take_runs(record, io.StringIO(text), STAMP)
    return taken.kept, taken.known, taken.faulty


def test_a_table_that_is_loaded_twice_adds_nothing_the_second_time(filled: Record) -> None:
    table = f"{HEAD}roll,my-pages,2026-03-01,,a\nroll,mill-wall,2026-05-01,2026-05-09,b\n"
    assert taken_from(filled, table) == (2, 0, 0)
    assert taken_from(filled, table) == (0, 2, 0)
    assert taken_from(filled, table + "roll,mill-wall,2026-06-01,,c\n") == (1, 2, 0)
    assert len(filled.facts().runs) == 3


def test_a_run_that_was_typed_is_known_again_in_a_table(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, 30), STAMP)
    start = NOW.isoformat()
    assert taken_from(filled, f"{HEAD}roll,mill-wall,{start},,\n") == (0, 1, 0)
    assert taken_from(filled, f"{HEAD}roll,mill-wall,{start},2026-09-01,\n") == (0, 0, 1)


def test_a_run_that_was_called_off_does_not_come_back_with_its_table(filled: Record) -> None:
    table = f"{HEAD}roll,my-pages,2026-03-01,,a\n"
    taken_from(filled, table)
    filled.withdraw_run(filled.facts().runs[0].id, STAMP)
    assert taken_from(filled, table) == (0, 1, 0)
    assert [one.state for one in filled.facts().runs] == [RunState.WITHDRAWN]


def test_versions_that_the_record_does_not_know_are_named_once(filled: Record) -> None:
    slips = "".join(f"rolll,my-pages,2026-0{month}-01,,\n" for month in (4, 5))
    table = f"{HEAD}roll,my-pages,2026-03-01,,\n{slips}"
    assert take_runs(filled, io.StringIO(table), STAMP).strangers == {"rolll": 3}


SEMICOLONS = "Version;Outlet ;from;until;note\nroll;mill-wall;01.03.2026;13.03.2026;Für die Mühle\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16", "utf-16-le"])
def test_semicolons_any_usual_encoding_and_days_first_are_read(
    filled: Record, tmp_path: Path, encoding: str
) -> None:
    file = tmp_path / "runs.csv"
    file.write_bytes(SEMICOLONS.encode(encoding))
    assert load_from(filled, file, STAMP, zone="UTC").kept == 1
    (kept,) = filled.facts().runs
    assert (kept.note, kept.span.start.day, kept.span.start.month) == ("Für die Mühle", 1, 3)


def test_whether_the_day_comes_first_is_told_by_another_date_or_asked(
    filled: Record, tmp_path: Path
) -> None:
    file = tmp_path / "runs.csv"
    row = "roll,my-pages,03/04/2026,,\n"
    file.write_text(HEAD + row)
    refused = load_from(filled, file, STAMP, zone="UTC")
    assert refused.faulty == 1
    assert "--dates day-first" in refused.named[0][1]
    file.write_text(f"{HEAD}{row}roll,my-pages,13/04/2026,,\n")
    assert load_from(filled, file, STAMP, zone="UTC").kept == 2
    assert {one.span.start.month for one in filled.facts().runs} == {4}


def test_plain_dates_begin_in_the_outlets_zone_and_are_written_so(
    filled: Record, tmp_path: Path
) -> None:
    filled.keep_outlets([replace(WALL, zone="Europe/Oslo")], STAMP)
    file = tmp_path / "runs.csv"
    file.write_text(f"{HEAD}roll,mill-wall,2026-01-19,2026-02-01,\n")
    load_from(filled, file, STAMP)
    (kept,) = filled.facts().runs
    assert (kept.span.start.hour, kept.zone) == (23, "Europe/Oslo")
    save_as(filled, file)
    assert ",2026-01-19,2026-02-01,Europe/Oslo," in file.read_text()
    assert load_from(filled, file, STAMP).known == 1
