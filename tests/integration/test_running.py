"""`cropper running` and `cropper timeline` on a real record."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cropper.cli.main import cropper
from cropper.publication.licences import AtEnd, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.runs import Piece, SetRules
from cropper.record import Stamp, open_record
from tests.unit.publication.test_clashes import day, licence, run

STAMP = Stamp(at=datetime(2026, 2, 1, tzinfo=UTC), by="R. Quillfeather")


def piece(version: str, destination: str) -> Piece:
    return Piece(
        sha256=f"{version}-{destination}",
        file=f"{version}-{destination}.jpg",
        version=version,
        destination=destination,
        master_sha256=version,
        set="shawl",
    )


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An invented spring: one run that fades, one that lasts, one that must come down."""
    place = tmp_path_factory.mktemp("record") / "record.sqlite"
    outlets = [
        Outlet(name="my-pages", kind=OutletKind.STREAM, audience=frozenset({"followers"})),
        Outlet(name="mill-shop", kind=OutletKind.PLACED, audience=frozenset({"buyers"})),
    ]
    ends = licence(
        LicenceKind.TERM, day(1, 1), day(6, 1), outlet="mill-shop", at_end=AtEnd.NO_NEW_USE
    )
    down = licence(
        LicenceKind.TERM,
        day(1, 1),
        day(6, 1),
        id="ends",
        outlet="mill-shop",
        at_end=AtEnd.MUST_COME_DOWN,
    )
    with open_record(str(place)) as kept:
        kept.keep_outlets(outlets, STAMP)
        kept.take_in(
            [piece("hood", "square-post"), piece("roll", "page-header"), piece("moss", "avatar")],
            STAMP,
        )
        kept.keep_set(SetRules(name="shawl", versions=("hood", "roll", "moss")), STAMP)
        kept.record_run(run("hood", "my-pages", day(3, 1), None, piece="hood-square-post"), STAMP)
        kept.keep_licence(ends, STAMP)
        kept.record_run(run("roll", "mill-shop", day(3, 9), None, piece="roll-page-header"), STAMP)
        kept.keep_licence(down, STAMP)
    return place


def asked(record: Path, *words: str) -> Result:
    return CliRunner().invoke(cropper, [*words, "--record", str(record)])


def test_what_stands_out_is_listed_and_what_faded_is_counted(record: Path) -> None:
    march = asked(record, "running", "--on", "2026-03-15", "--zone", "UTC")
    assert "hood" in march.output
    assert "roll" in march.output
    may = asked(record, "running", "--on", "2026-05-15", "--zone", "UTC")
    assert "hood" not in may.output
    assert "still up in streams: 1 (--all)" in may.output
    assert "hood" in asked(record, "running", "--on", "2026-05-15", "--all").output


def test_what_must_come_down_within_a_week_is_told(record: Path) -> None:
    told = asked(record, "running", "--on", "2026-05-28", "--zone", "Europe/Oslo")
    assert "By 1 June 2026: 'roll' at 'mill-shop'" in told.output
    assert "must come down" not in asked(record, "running", "--on", "2026-05-20").output


def test_scripts_get_the_same_in_utc(record: Path) -> None:
    told = json.loads(
        asked(record, "running", "--on", "2026-05-30", "--zone", "UTC", "--json").output
    )
    assert [one["version"] for one in told["running"]] == ["roll"]
    assert [one["version"] for one in told["faded"]] == ["hood"]
    assert told["must_come_down"][0]["at"] == "2026-05-31T22:00:00+00:00"


def test_what_is_free_says_why_the_others_are_not(record: Path) -> None:
    words = ("running", "--free", "my-pages", "--on", "2026-03-15", "--json")
    told = {one["version"]: one for one in json.loads(asked(record, *words).output)}
    assert told["hood"]["free"] is True
    assert told["moss"]["free"] is False
    assert "rival 'hood'" in told["moss"]["why"]
    later = json.loads(asked(record, *words[:4], "2026-03-31", "--json").output)
    assert all(one["free"] for one in later if one["version"] != "roll") is True


def test_a_set_narrows_every_question(record: Path) -> None:
    other = json.loads(asked(record, "running", "--unused", "--set", "scarf", "--json").output)
    assert other == {"never_run": [], "files": []}
    words = ("running", "--on", "2026-03-15", "--json", "--set")
    assert json.loads(asked(record, *words, "scarf").output)["running"] == []
    assert len(json.loads(asked(record, *words, "shawl").output)["running"]) == 2


def test_what_has_never_run_is_told_by_version_and_file(record: Path) -> None:
    told = json.loads(asked(record, "running", "--unused", "--json").output)
    assert told == {"never_run": ["moss"], "files": [{"version": "moss", "destination": "avatar"}]}


def test_a_calendar_and_a_timeline_are_written_whole(record: Path, tmp_path: Path) -> None:
    ics = tmp_path / "runs.ics"
    assert "2 runs" in asked(record, "running", "--calendar", str(ics), "--on", "2026-01-01").output
    assert ics.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    page = tmp_path / "page"
    words = ("timeline", "--from", "2026-02-16", "--until", "2026-07-06", "--to", str(page))
    told = asked(record, *words)
    assert told.exit_code == 0
    assert "must come down" in page.with_suffix(".html").read_text(encoding="utf-8")
    assert page.with_suffix(".pdf").read_bytes().startswith(b"%PDF")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["page.html", "page.pdf", "runs.ics"]


def test_a_timeline_tells_a_script_its_files_and_clashes(record: Path, tmp_path: Path) -> None:
    page, barred = tmp_path / "page", tmp_path / "record.sqlite"
    shutil.copy(record, barred)
    why = ("--why", "withdrawn", "--anyway", "the followers know")
    assert asked(barred, "record", "bar", "hood", *why).exit_code == 0
    words = ("timeline", "--from", "2026-02-16", "--until", "2026-07-06", "--to", str(page))
    told = json.loads(asked(barred, *words, "--json").stdout)
    files = [page.with_suffix(".html"), page.with_suffix(".pdf")]
    assert [one["file"] for one in told["files"]] == [str(one) for one in files]
    assert [one["bytes"] for one in told["files"]] == [one.stat().st_size for one in files]
    (clash,) = [one for one in told["clashes"] if "hood" in one]
    assert "barred version" in clash


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("running", "--on", "yesterday"), "no date"),
        (("running", "--on", "2026-03-01T09:00"), "no zone"),
        (("running", "--zone", "Europe/Atlantis"), "not a time zone"),
        (("running", "--free", "nowhere"), "no outlet 'nowhere'"),
        (("running", "--unused", "--free", "my-pages"), "ask one"),
        (("running", "--until", "2026-03-01"), "--free"),
        (("timeline", "--to", "x", "--outlet", "nowhere"), "no outlet 'nowhere'"),
        (("timeline", "--to", "x", "--from", "2026-03-01", "--until", "2026-02-01"), "ends"),
        (("timeline", "--to", "x", "--from", "2026-03-01", "--until", "2126-02-01"), "10 years"),
        (("timeline", "--to", "x", "--from", "0001-01-01"), "outside the years"),
        (("running", "--on", "9999-12-31T23:59+00:00"), "outside the years"),
        (("timeline",), "--to"),
    ],
)
def test_a_slip_gets_a_sentence_and_exit_code_2(
    record: Path, words: tuple[str, ...], said: str
) -> None:
    told = asked(record, *words)
    assert told.exit_code == 2
    assert said in told.output
    assert "Traceback" not in told.output
