"""A share that goes away in the middle of a run, and job files that point out of the job."""

from __future__ import annotations

import errno
import itertools
import os
from pathlib import Path

import pytest

from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, DrawnLooker, Run

FOR = ("--for", "square-post,tall-post")
GONE = [errno.ENOENT, errno.EIO, errno.ESTALE]


def going_away(monkeypatch: pytest.MonkeyPatch, number: int, after: int) -> None:
    """Every flush to the disk fails from the ``after``-th on; both writers flush by this."""
    count, true = itertools.count(), os.fsync

    def flush(handle: int) -> None:
        if next(count) >= after:
            raise OSError(number, os.strerror(number))
        true(handle)

    monkeypatch.setattr(os, "fsync", flush)


def half_files(folder: Path) -> list[Path]:
    return [one for one in folder.rglob("*") if ".part" in one.name]


@pytest.mark.parametrize("number", GONE)
@pytest.mark.parametrize("after", [0, 5, 9])
def test_a_plan_whose_share_goes_away_says_so_and_the_next_run_completes(  # noqa: PLR0917 - fixtures
    run: Run,
    draw: Draw,
    looker: DrawnLooker,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    number: int,
    after: int,
) -> None:
    shoot = [draw(f"shoot/wool-{one}.jpg", one, (320, 400)) for one in range(3)]
    job = tmp_path / "job"
    with monkeypatch.context() as broken:
        going_away(broken, number, after)
        told = run("plan", *shoot, *FOR, "--job", job)
    assert told.exit_code == 1
    assert os.strerror(number).lower() in told.stderr.lower()
    assert not half_files(job)

    again = run("plan", *shoot, *FOR, "--job", job)

    assert again.exit_code == 0, again.stderr
    assert JobFolder(job).must_read().shelf.versions == ("wool-0", "wool-1", "wool-2")
    assert looker.looked.count("wool-2.jpg") <= 2


@pytest.mark.parametrize("number", GONE)
@pytest.mark.parametrize("after", [0, 3, 6])
def test_an_export_whose_share_goes_away_says_so_and_the_next_run_completes(  # noqa: PLR0917 - fixtures
    run: Run,
    draw: Draw,
    looker: DrawnLooker,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    number: int,
    after: int,
) -> None:
    assert looker.name
    shoot = [draw(f"shoot/wool-{one}.jpg", one, (1400, 1750)) for one in range(2)]
    job = tmp_path / "job"
    assert run("plan", *shoot, "--for", "square-post", "--job", job).exit_code == 0
    with monkeypatch.context() as broken:
        going_away(broken, number, after)
        told = run("export", "--job", job)
    assert told.exit_code in {1, 6}
    assert os.strerror(number).lower() in told.stderr.lower()
    assert not half_files(job)

    again = run("export", "--job", job)

    assert again.exit_code == 0, again.stderr
    assert run("verify", "--job", job).exit_code == 0
    assert len(list((job / "deliverables").glob("*.jpg"))) == 2


@pytest.mark.parametrize(
    ("said", "instead"),
    [
        ('"version": "wool"', '"version": "../../../evil"'),
        ('"version": "wool"', '"version": "/evil"'),
        ('"path": "../shoot/wool.jpg"', '"path": "../../../evil/wool.jpg"'),
        ('"path": "../shoot/wool.jpg"', '"path": "../../../other.jpg"'),
    ],
)
def test_a_masters_file_that_points_elsewhere_gets_nothing_written_there(  # noqa: PLR0917 - fixtures
    run: Run, draw: Draw, looker: DrawnLooker, tmp_path: Path, said: str, instead: str
) -> None:
    assert looker.name
    master = draw("deep/er/shoot/wool.jpg", size=(1400, 1750))
    draw("other.jpg", seed=2, size=(40, 50))
    job = tmp_path / "deep" / "er" / "job"
    assert run("plan", master, "--for", "square-post", "--job", job).exit_code == 0
    (planned,) = (job / "planned").rglob("wool-*.json")
    text = planned.read_text("utf-8")
    assert said in text
    planned.write_text(text.replace(said, instead), "utf-8")
    (job / "planned" / "cards.jsonl").unlink()
    outside = {one for one in tmp_path.rglob("*") if job not in one.parents}

    for words in (("export",), ("export", "--sidecars-beside-masters"), ("plan",), ("verify",)):
        run(*words, "--job", job)

    assert {one for one in tmp_path.rglob("*") if job not in one.parents} == outside
    assert not list(Path("/").glob("evil*"))
