"""What is running or promised is a fixed point of the next plan."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from cropper.job.outlets import read_outlets
from cropper.job.plan import Plan, PlannedSet
from cropper.job.recording import standing_in
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.runs import Run
from cropper.publication.spans import Span
from cropper.record import Stamp, open_record

NOW = datetime(2026, 3, 10, tzinfo=UTC)
PLAN = Plan(
    program_version="0",
    made_at=NOW,
    sets=(PlannedSet(name="shawl", versions=("hood", "roll")),),
)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "knitwear"
    folder.mkdir()
    return folder


def test_without_a_record_nothing_is_fixed_and_none_is_begun(job: Path) -> None:
    address = str(job.parent / "none.sqlite")
    told = standing_in(read_outlets(job), PLAN, job, address=address, now=NOW)
    assert told.sentences == ()
    assert not Path(address).exists()


def test_a_version_that_runs_for_a_destination_stays_there(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from dataclasses import replace  # noqa: PLC0415

    from cropper.destination.presets import load_presets  # noqa: PLC0415

    address = str(job.parent / "record.sqlite")
    monkeypatch.delenv("CROPPER_RECORD", raising=False)
    stamp = Stamp(at=NOW)
    with open_record(address) as record:
        record.keep_outlets(
            [Outlet(name="shop", kind=OutletKind.PLACED, audience=frozenset({"buyers"}))], stamp
        )
        record.record_run(
            Run(
                id="r",
                piece="",
                version="hood",
                set="shawl",
                outlet="shop",
                destination="page-header",
                span=Span(NOW),
            ),
            stamp,
        )
    plan = replace(PLAN, destinations=load_presets().choose(("page-header",)))
    told = standing_in(read_outlets(job), plan, job, address=None, now=NOW)
    assert dict(told.outlets.fixed) == {"page-header": "hood"}
    assert told.sentences == ("'hood' runs at 'shop', so page-header stays with it.",)


def test_a_record_that_cannot_be_read_is_said_and_stops_no_planning(job: Path) -> None:
    broken = job.parent / "record.sqlite"
    broken.write_bytes(b"not a database" * 100)
    told = standing_in(read_outlets(job), PLAN, job, address=str(broken), now=NOW)
    assert told.outlets.fixed == {}
    assert told.sentences[0].startswith("Planned without the record: ")
