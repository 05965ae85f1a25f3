"""A picture that cannot be had, by its name or its size, costs itself alone; all else goes on."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cropper.job.store import JobFolder
from cropper.master.opening import open_master
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


def test_a_picture_that_the_memory_cannot_hold_costs_itself_alone(
    run: Run, draw: Draw, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    large, small = draw("large.jpg"), draw("small.jpg", size=(800, 1000))
    job = tmp_path / "job"
    with monkeypatch.context() as limited:
        limited.setattr("cropper.master.affording.free_bytes", lambda: 20_000_000)
        said = run("plan", large, small, "--for", "square-post", "--job", job)
    assert said.exit_code == 6
    assert "MB of memory" in said.stderr
    assert JobFolder(job).must_read().shelf.versions == ("small",)


def test_memory_that_runs_out_in_the_middle_costs_one_master(
    run: Run, draw: Draw, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = tmp_path / "job"
    run("plan", draw("a.jpg"), draw("b.jpg"), "--for", "square-post", "--job", job)

    def out_of_memory(path: Path) -> object:
        if path.name == "a.jpg":
            raise MemoryError
        return open_master(path)

    monkeypatch.setattr("cropper.job.making.open_master", out_of_memory)
    said = run("export", "--job", job)
    assert said.exit_code == 6
    assert "not the memory" in said.stderr
    assert [one.name[0] for one in (job / "deliverables").glob("*.jpg")] == ["b"]
