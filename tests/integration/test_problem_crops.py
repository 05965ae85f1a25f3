"""A crop with a problem leaves only when somebody looked at it, or asks for it by name."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from cropper.job.approving import said
from cropper.job.plan import Word
from cropper.job.store import JobFolder
from cropper.proposal.proposal import Verdict
from tests.integration.conftest import Draw, DrawnLooker, Run


def manifest(job: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((job / "deliverables/manifest.json").read_text())
    return told


def delivered(job: Path) -> list[str]:
    return [one["destination"] for one in manifest(job)["delivered"]]


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path, looker: DrawnLooker) -> Path:
    """Two destinations; whatever the rules say, the crop for the tall post has a problem."""
    del looker
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "square-post,tall-post", "--job", job)
    folder = JobFolder(job)
    with folder.held():
        plan = folder.must_read()
        master = plan.master("ilse")
        assert master is not None
        answers = []
        for answer in master.answers:
            verdict = Verdict.BREAKS if answer.destination == "tall-post" else Verdict.HOLDS
            first, *rest = answer.proposals
            proposals = (replace(first, verdict=verdict), *rest)
            answers.append(replace(answer, proposals=proposals))
        folder.write(plan.with_master(replace(master, answers=tuple(answers))))
    return job


def test_it_is_held_and_the_last_lines_say_so(run: Run, job: Path) -> None:
    done = run("export", "--job", job)
    assert done.exit_code == 5
    assert delivered(job) == ["square-post"]
    (missing,) = manifest(job)["not_delivered"]
    assert missing["destination"] == "tall-post"
    assert "problem" in missing["reason"]
    *_, last = done.stderr.strip().splitlines()
    assert "--with-problems" in last
    assert "1 crop has a problem" in done.stderr
    assert run("verify", "--job", job).exit_code == 0


def test_it_goes_out_when_asked_for_and_is_remarked(run: Run, job: Path) -> None:
    done = run("export", "--job", job, "--with-problems")
    assert done.exit_code == 0
    assert delivered(job) == ["square-post", "tall-post"]
    assert "1 file has a problem" in done.stderr
    assert run("verify", "--job", job, "--repair").exit_code == 0
    (job / "deliverables" / manifest(job)["delivered"][1]["file"]).unlink()
    assert run("verify", "--job", job, "--repair").exit_code == 0
    assert delivered(job) == ["square-post", "tall-post"]


def test_it_goes_out_once_it_is_approved(run: Run, job: Path) -> None:
    folder = JobFolder(job)
    with folder.held():
        plan = folder.must_read()
        master = plan.master("ilse")
        assert master is not None
        folder.write(
            plan.with_master(said(master, "tall-post", Word.APPROVED, "", datetime.now(UTC)))
        )
    assert run("export", "--job", job).exit_code == 0
    assert delivered(job) == ["square-post", "tall-post"]


def test_one_that_went_out_before_is_taken_back_out_of_the_folder(run: Run, job: Path) -> None:
    run("export", "--job", job, "--with-problems")
    done = run("export", "--job", job)
    assert done.exit_code == 5
    assert delivered(job) == ["square-post"]
    assert len(list((job / "set_aside").rglob("*.jpg"))) == 1


def test_planning_and_exporting_in_one_run_holds_it_too(run: Run, job: Path) -> None:
    assert run("plan", "--job", job, "--export").exit_code == 5
    assert delivered(job) == ["square-post"]
    run("plan", "--job", job, "--export", "--with-problems")
    assert delivered(job) == ["square-post", "tall-post"]
