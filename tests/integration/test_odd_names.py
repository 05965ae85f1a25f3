"""File names that are no text: the picture is told and left out, everything else goes on."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")
ODD = os.fsdecode(b"ilse-\xff\xfe.jpg")


def oddly_named(path: Path) -> Path:
    """The same picture under a name that is not UTF-8; some systems refuse such a name."""
    try:
        return path.rename(path.with_name(ODD))
    except OSError:
        pytest.skip("this file system takes no such name")


def test_a_name_that_is_not_utf_8_costs_one_picture(run: Run, draw: Draw, tmp_path: Path) -> None:
    oddly_named(draw("shoot/x.jpg"))
    draw("shoot/wool.jpg")
    job = tmp_path / "job"

    for _ in range(2):
        said = run("plan", tmp_path / "shoot", "--for", "square-post", "--job", job, "--export")
        assert said.exit_code == 6
        assert "ilse-\\xff\\xfe.jpg" in said.stderr
        assert "Rename it" in said.stderr

    plan = JobFolder(job).must_read()
    assert plan.shelf.versions == ("wool",)
    assert len(plan.failed) == 1
    assert (job / "deliverables/wool_square-post_1080x1080.jpg").exists()
    assert run("status", "--job", job).exit_code == 6
    assert run("remove", plan.failed[0].file, "--job", job).exit_code == 0
    assert run("status", "--job", job).exit_code in {0, 5}


def test_nothing_but_such_a_name_cannot_be_planned(run: Run, draw: Draw, tmp_path: Path) -> None:
    odd = oddly_named(draw("x.jpg"))
    said = run("plan", odd, "--for", "square-post", "--job", tmp_path / "job")
    assert said.exit_code == 1


def test_folders_may_be_named_so_or_are_refused_in_a_sentence(draw: Draw, tmp_path: Path) -> None:
    master = draw("wool.jpg")
    odd = tmp_path / os.fsdecode(b"job-\xff")
    words = (sys.executable, "-c", "from cropper.cli.main import main; main()")
    for verb in (
        ("plan", master, "--for", "square-post", "--job", odd, "--eyes", "744,720", "856,720"),
        ("export", "--job", odd),
        ("status", "--job", odd),
        ("verify", "--job", odd),
    ):
        done = subprocess.run([*words, *verb], capture_output=True, check=False)
        assert done.returncode in {0, 1, 2, 5}, done.stderr
        assert b"Traceback" not in done.stderr
