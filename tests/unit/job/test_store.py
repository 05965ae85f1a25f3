"""The job folder is written whole or not at all, and held by one run at a time."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from cropper.errors import JobError
from cropper.job.ledger import Entry, OpenLedger, read_ledger
from cropper.job.plan import Plan
from cropper.job.store import JobFolder, write_text

PLAN = Plan(program_version="1", made_at=datetime(2026, 3, 4, tzinfo=UTC))


def test_a_plan_written_is_the_plan_read(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    assert folder.read() is None
    folder.write(PLAN)
    assert folder.must_read() == PLAN


def test_a_write_that_fails_leaves_the_old_file_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "plan.json"
    write_text(path, "old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(JobError, match="no space left"):
            write_text(path, "new")
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["plan.json"]


def test_two_runs_cannot_hold_one_folder(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path / "job")
    with folder.held(), pytest.raises(JobError, match="another run"), folder.held():
        pass
    with folder.held():
        pass


def test_the_ledger_comes_back_as_it_was_written(tmp_path: Path) -> None:
    entry = Entry(version="a", destination="b", basis="c", sha256="d", bytes=5, ppi=300.0)
    ledger = OpenLedger(tmp_path, "deliverables")
    ledger.note({"x.jpg": entry})
    ledger.close()
    assert read_ledger(tmp_path).folders == {"deliverables": {"x.jpg": entry}}
    assert OpenLedger(tmp_path, "deliverables").name_of("a", "b") == "x.jpg"
    assert OpenLedger(tmp_path, "elsewhere").name_of("a", "b") is None


def test_a_damaged_ledger_says_the_way_out(tmp_path: Path) -> None:
    (tmp_path / "exported.json").write_text('{"format": 1, "folders": 7}')
    with pytest.raises(JobError, match=r"Move exported\.json away"):
        read_ledger(tmp_path)
