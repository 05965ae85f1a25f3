"""A job keeps the destinations that it was planned with, and tells what differs from today's."""

from __future__ import annotations

from pathlib import Path

import pytest

from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, DrawnLooker, Run

OWN = """[square-post]
title = "Square"
size_px = [900, 900]
recipient = "platform"
"""


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    """The photographer's own `square-post`, smaller than the shipped one."""
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "mine.toml").write_text(OWN)
    return folder


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path, mine: Path, looker: DrawnLooker) -> Path:
    del looker
    job = tmp_path / "job"
    words = ("--for", "square-post", "--job", job)
    run("plan", draw("ilse.jpg"), *words, "--presets", mine)
    assert width(job) == 900
    return job


def width(job: Path) -> int:
    destination = JobFolder(job).must_read().destination("square-post")
    assert destination is not None
    assert destination.delivered is not None
    return destination.delivered.width


def test_planning_again_without_the_folder_keeps_the_job_s_own(run: Run, job: Path) -> None:
    before = (job / "plan.json").read_bytes()
    said = run("plan", "--job", job)
    assert width(job) == 900
    assert (job / "plan.json").read_bytes() == before
    assert "square-post" in said.stderr
    assert "delivered" in said.stderr
    assert "--renew square-post" in said.stderr


def test_naming_it_for_another_picture_keeps_it_too(run: Run, job: Path, draw: Draw) -> None:
    said = run("plan", draw("wool.jpg"), "--for", "square-post", "--job", job)
    assert width(job) == 900
    assert "--renew" in said.stderr


def test_it_is_renewed_on_request(run: Run, job: Path) -> None:
    run("plan", "--job", job, "--renew", "square-post")
    assert width(job) == 1080
    assert "--renew" not in run("plan", "--job", job).stderr


def test_a_folder_that_is_named_again_counts_as_it_is_now(run: Run, job: Path, mine: Path) -> None:
    (mine / "mine.toml").write_text(OWN.replace("900, 900", "800, 800"))
    run("plan", "--job", job, "--presets", mine)
    assert width(job) == 800


def test_what_the_job_does_not_have_cannot_be_renewed(run: Run, job: Path) -> None:
    said = run("plan", "--job", job, "--renew", "story")
    assert said.exit_code == 2
    assert "It has square-post" in said.stderr
