"""`cropper expiring`: what ends soon, with what to do, on the terminal and in the calendar."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
import vobject
from click.testing import CliRunner, Result

from cropper.cli.main import cropper
from cropper.publication.licences import AtEnd, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.releases import Release, ReleaseStatus
from cropper.publication.runs import Piece, SetRules
from cropper.record import Stamp, open_record
from tests.unit.publication.test_clashes import OUTLETS, day, licence, run

STAMP = Stamp(at=datetime(2026, 2, 1, tzinfo=UTC), by="R. Quillfeather")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An invented spring in which nearly everything ends."""
    place = tmp_path_factory.mktemp("record") / "record.sqlite"
    piece = Piece(
        sha256="roll",
        file="roll.jpg",
        version="roll",
        destination="page-header",
        master_sha256="m",
        set="shawl",
        people=("Ilse Marrow",),
    )
    release = Release(
        id="r", person="Ilse Marrow", status=ReleaseStatus.UNLIMITED, until=day(5, 20)
    )
    wall = Outlet(name="wall", kind=OutletKind.PLACED, audience=frozenset({"staff"}))
    with open_record(str(place)) as kept:
        kept.keep_outlets([*OUTLETS.values(), wall], STAMP)
        kept.take_in([piece], STAMP)
        kept.keep_set(SetRules(name="shawl", versions=("roll", "hood")), STAMP)
        kept.keep_release(release, STAMP)
        kept.record_run(run("roll", "mill-shop", day(3, 1), day(5, 9)), STAMP)
        kept.record_run(run("roll", "wall", day(3, 1), None), STAMP)
        kept.keep_licence(
            licence(LicenceKind.EXCLUSIVE, day(4, 1), day(5, 1), exceptions=("mill-shop", "wall")),
            STAMP,
        )
        kept.keep_licence(
            licence(
                LicenceKind.TERM,
                day(1, 1),
                day(5, 15),
                id="term",
                outlet="wall",
                at_end=AtEnd.MUST_COME_DOWN,
            ),
            STAMP,
        )
        kept.keep_licence(
            licence(LicenceKind.EMBARGO, day(1, 1), day(2, 2), id="past", version="hood"), STAMP
        )
    return place


def asked(place: Path, *words: object) -> Result:
    return CliRunner().invoke(
        cropper, ["expiring", *map(str, words), "--record", str(place), "--on", "2026-04-24"]
    )


def test_everything_that_ends_is_listed_soonest_first_with_what_to_do(place: Path) -> None:
    told = json.loads(asked(place, "--json", "--within", "60d").stdout)
    assert [(one["what"], one["about"]) for one in told] == [
        ("exclusive ends", "the set 'shawl'"),
        ("run ends", "roll"),
        ("must come down", "roll"),
        ("term ends", "the set 'shawl'"),
        ("release ends", "Ilse Marrow"),
    ]
    assert told[3]["to_do"] == "Take down run roll@wall, or renew."
    assert "1 May 2026 (Europe/Oslo)" in asked(place).output


def test_when_does_the_exclusive_end_is_one_command(place: Path) -> None:
    told = json.loads(asked(place, "--about", "hood", "--json").stdout)
    assert [one["what"] for one in told] == ["exclusive ends", "term ends"]
    assert "Nothing about 'moon' ends." in asked(place, "--about", "moon").output
    assert "Nothing ends within 2 days." in asked(place, "--within", "2").output
    assert asked(place, "--within", "soon").exit_code == 2


def test_the_calendar_reminds_a_week_and_a_day_before(place: Path, tmp_path: Path) -> None:
    file = tmp_path / "ends.ics"
    asked(place, "--calendar", file)
    read = vobject.readOne(file.read_text())
    first = next(iter(read.vevent_list))
    assert first.summary.value == "the set 'shawl': exclusive ends"
    assert [one.trigger.value.days for one in first.valarm_list] == [-7, -1]
    again = file.read_bytes()
    asked(place, "--calendar", file)
    names = [line for line in file.read_bytes().splitlines() if line.startswith(b"UID")]
    assert names == [line for line in again.splitlines() if line.startswith(b"UID")]
