"""How a job stands: counted from the cards, the gravest first, with a way out for each."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from cropper.batch.status import Matter, status_of, worst
from cropper.job.plan import PHOTOGRAPHER, Choice, ChoiceState, WaitingMaster
from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")


def a_job(run: Run, draw: Draw, job: Path) -> Path:
    """Two good masters, one without anybody, and a file that is no picture."""
    broken = job.parent / "broken.jpg"
    broken.write_text("no picture")
    files = (draw("ilse.jpg"), draw("wool.jpg"), draw("nobody.jpg"), broken)
    run("plan", *files, "--for", "square-post,tall-post", "--job", job)
    return job


def test_what_waits_comes_the_gravest_first_with_a_way_out(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = a_job(run, draw, tmp_path / "job")
    folder = JobFolder(job)
    with folder.held():
        plan = folder.must_read()
        master = plan.master("wool")
        assert master is not None
        again = Choice(
            index=0,
            chosen_by=PHOTOGRAPHER,
            at=datetime(2026, 3, 4, tzinfo=UTC),
            state=ChoiceState.LOOK_AGAIN,
        )
        folder.write(plan.with_master(master.with_choice("tall-post", again)))

    status = status_of(job)

    assert [(one.matter, one.version) for one in status.waiting[:2]] == [
        (Matter.NOBODY, "nobody"),
        (Matter.LOOK_AGAIN, "wool"),
    ]
    assert status.waiting[1].destinations == ("tall-post",)
    assert all(one.way_out and one.sentence for one in status.waiting)
    assert [one.matter for one in status.waiting] == sorted(one.matter for one in status.waiting)
    assert (status.masters, status.crops, status.by_hand) == (3, 6, 1)
    assert [one.file for one in status.failed] == [str(job.parent / "broken.jpg")]
    assert worst(folder.must_read(), 1) == ("nobody",)


def test_the_verb_counts_in_words_and_in_json_and_opens_no_picture(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = a_job(run, draw, tmp_path / "job")
    for picture in tmp_path.glob("*.jpg"):
        picture.unlink()

    told = run("status", "--job", job)
    values = json.loads(run("status", "--job", job, "--json").stdout)

    assert told.exit_code == 6
    assert "3 masters planned, 6 crops" in told.stdout
    assert "broken.jpg" in told.stdout
    assert f"cropper review --job {job}" in told.stdout
    assert values["masters"] == 3
    assert values["waiting"][0]["matter"] == "no eyes"
    assert sum(values["verdicts"].values()) == 6


def test_files_written_and_masters_still_to_be_planned_are_counted(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "square-post,tall-post", "--job", job)
    run("export", "--job", job)
    assert status_of(job).files_written == 2
    folder = JobFolder(job)
    left = WaitingMaster(file="next.jpg", path="../next.jpg", version="next", place=7)
    with folder.held():
        folder.write(replace(folder.must_read(), waiting=(left,)))

    told = run("status", "--job", job)

    assert told.exit_code == 6
    assert "1 master still to be planned" in told.stdout
    assert f"cropper plan --job {job}" in told.stdout


def test_the_page_of_the_worst_shows_them_first_and_leaves_out_what_holds(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = a_job(run, draw, tmp_path / "job")
    told = run("status", "--job", job, "--html")
    page = (job / "worst-first.html").read_text(encoding="utf-8")
    assert "worst-first.html" in told.stderr
    assert "nobody" in page
    assert "the worst first" in page


def test_a_job_where_all_is_well_says_so_and_makes_no_page(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "square-post", "--job", job)
    status = status_of(job)
    told = run("status", "--job", job, "--html")
    assert told.exit_code == status.exit_code
    if not status.waiting:
        assert told.exit_code == 0
        assert not (job / "worst-first.html").exists()


def test_a_folder_without_a_plan_is_a_sentence(run: Run, tmp_path: Path) -> None:
    told = run("status", "--job", tmp_path)
    assert told.exit_code == 1
    assert "cropper plan" in told.stderr
