"""Two runs on one job, a clock that jumps, a lock that somebody left behind."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from cropper.job.exporting import Wish
from cropper.job.manifesting import run_export
from cropper.job.store import DELIVERABLES, LOCK, JobFolder
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")
NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path) -> Path:
    job = tmp_path / "job"
    picture = draw("shoot/wool.jpg", size=(1300, 1600))
    assert run("plan", picture, "--for", "square-post", "--job", job).exit_code == 0
    return job


def files(job: Path) -> dict[str, tuple[int, bytes]]:
    """Every file but the lock: its number on the disk and its bytes."""
    return {
        str(one): (one.stat().st_ino, one.read_bytes())
        for one in job.rglob("*")
        if one.is_file() and one.name != LOCK
    }


@pytest.mark.parametrize(
    "words", [("plan",), ("export",), ("verify", "--repair"), ("plan", "--for", "tall-post")]
)
def test_while_one_run_works_another_is_told_and_changes_nothing(
    run: Run, job: Path, words: tuple[str, ...]
) -> None:
    assert run("export", "--job", job).exit_code == 0
    next((job / DELIVERABLES).glob("*.jpg")).unlink()
    before = files(job)
    with JobFolder(job).held():
        told = run(*words, "--job", job)
    assert told.exit_code == 1
    assert "another run of cropper is working" in told.stderr
    assert files(job) == before
    assert run("export", "--job", job).exit_code == 0


@pytest.mark.parametrize("whose", ["the first", "my own", "the last", "nobody's"])
def test_a_lock_left_behind_holds_nobody_up_whoever_has_its_number_now(
    run: Run, job: Path, whose: str
) -> None:
    number = {"the first": 1, "my own": os.getpid(), "the last": 2**22 - 1, "nobody's": -1}[whose]
    (job / LOCK).write_text(f"{number}\n")
    assert run("export", "--job", job).exit_code == 0
    assert run("plan", "--job", job).exit_code == 0


@pytest.mark.parametrize("days", [-400, -1, 1, 400])
def test_a_clock_that_jumps_makes_no_file_anew(job: Path, days: int) -> None:
    wish = Wish(folder=job / DELIVERABLES, day=f"{NOON:%Y%m%d}")
    run_export(job, wish, now=NOON)
    before = files(job)
    later = NOON + timedelta(days=days)
    wish = Wish(folder=job / DELIVERABLES, day=f"{later:%Y%m%d}")
    run_export(job, wish, now=later)
    assert files(job) == before
    assert len(list((job / DELIVERABLES).glob("*.jpg"))) == 1


@pytest.mark.parametrize("years", [-30, 10])
def test_files_of_another_time_are_no_reason_to_believe_or_to_doubt_them(
    run: Run, job: Path, years: int
) -> None:
    assert run("export", "--job", job).exit_code == 0
    at = NOON.timestamp() + years * 365 * 86400
    for one in job.rglob("*"):
        os.utime(one, (at, at))
    before = files(job)
    assert run("plan", "--job", job).exit_code == 0
    assert run("export", "--job", job).exit_code == 0
    assert run("verify", "--job", job).exit_code == 0
    assert files(job) == before
