"""Masters are known by what they hold: moved, renamed or copied, they keep what was chosen."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from cropper.job.plan import Plan
from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, DrawnLooker, Run

HAND = "ilse:square-post=10,10,1410,1410"


def plan_of(job: Path) -> Plan:
    return JobFolder(job).must_read()


def places(job: Path) -> dict[str, Path]:
    return {one.version: one.located(job).resolve() for one in plan_of(job).masters}


def by_hand(job: Path, version: str = "ilse") -> bool:
    master = plan_of(job).master(version)
    assert master is not None
    return master.choices["square-post"].by_hand


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path, looker: DrawnLooker) -> Path:
    """Two masters in a folder of their own, one crop of the first drawn by hand."""
    job = tmp_path / "work/job"
    files = draw("shoot/ilse.jpg"), draw("shoot/wool.jpg")
    run("plan", *files, "--for", "square-post", "--job", job, "--crop", HAND)
    looker.looked.clear()
    return job


def told(run: Run, *words: object) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(run(*words, "--json").stdout)
    return answer


def test_a_renamed_master_is_found_again_when_planning(
    run: Run, job: Path, tmp_path: Path, looker: DrawnLooker
) -> None:
    (tmp_path / "shoot/ilse.jpg").rename(tmp_path / "shoot/final.jpg")
    said = run("plan", "--job", job)
    assert said.exit_code in {0, 5}
    assert "final.jpg" in said.stderr
    assert places(job) == {
        "ilse": tmp_path / "shoot/final.jpg",
        "wool": tmp_path / "shoot/wool.jpg",
    }
    assert by_hand(job)
    assert looker.looked == []
    assert plan_of(job).failed == ()


def test_a_moved_folder_is_named_once_and_all_are_reconnected(
    run: Run, job: Path, tmp_path: Path, looker: DrawnLooker
) -> None:
    (tmp_path / "shoot").rename(tmp_path / "archive")
    assert run("plan", "--job", job).exit_code != 0

    done = run("relink", "--job", job, tmp_path / "archive")

    assert done.exit_code == 0, done.stderr
    assert places(job)["wool"] == tmp_path / "archive/wool.jpg"
    assert by_hand(job)
    assert run("status", "--job", job).exit_code in {0, 5}
    assert run("export", "--job", job).exit_code in {0, 5}
    assert looker.looked == []
    again = run("relink", "--job", job)
    assert again.exit_code == 0
    assert "where the plan has it" in again.stdout


def test_a_moved_master_named_again_is_the_version_it_was(
    run: Run, job: Path, tmp_path: Path
) -> None:
    (tmp_path / "shoot").rename(tmp_path / "archive")
    run("plan", tmp_path / "archive", "--job", job, "--for", "square-post")
    assert set(places(job)) == {"ilse", "wool"}
    assert by_hand(job)


def test_a_copy_under_another_name_is_no_second_version(
    run: Run, job: Path, tmp_path: Path
) -> None:
    copy = shutil.copy(tmp_path / "shoot/ilse.jpg", tmp_path / "copy.jpg")
    said = run("plan", copy, "--job", job, "--for", "tall-post")
    assert "same picture" in said.stderr
    assert set(places(job)) == {"ilse", "wool"}
    assert places(job)["ilse"] == tmp_path / "shoot/ilse.jpg"
    master = plan_of(job).master("ilse")
    assert master is not None
    assert [one.destination for one in master.answers] == ["square-post", "tall-post"]


def test_two_copies_in_one_run_are_planned_once(run: Run, draw: Draw, tmp_path: Path) -> None:
    first = draw("a.jpg")
    second = shutil.copy(first, tmp_path / "b.jpg")
    said = run("plan", first, second, "--set", "x", "--for", "square-post", "--job", tmp_path / "j")
    assert "same picture" in said.stderr
    assert set(places(tmp_path / "j")) == {"a"}


def test_a_job_folder_that_moved_alone_finds_its_masters(
    run: Run, job: Path, tmp_path: Path
) -> None:
    away = tmp_path / "elsewhere/deep/job"
    away.parent.mkdir(parents=True)
    job.rename(away)
    assert run("export", "--job", away).exit_code in {0, 5}
    assert places(away)["ilse"] == tmp_path / "shoot/ilse.jpg"


def test_a_lost_master_is_told_once_with_the_way_out(run: Run, job: Path, tmp_path: Path) -> None:
    (tmp_path / "shoot/ilse.jpg").unlink()
    for verb in ("status", "plan", "export"):
        said = run(verb, "--job", job)
        assert said.exit_code == 6, verb
        both = said.stdout + said.stderr
        assert both.count("ilse.jpg") == 1, both
        assert "cropper relink" in both, verb
    lost = run("relink", "--job", job)
    assert lost.exit_code == 1
    assert set(told(run, "relink", "--job", job)["missing"]) == {"ilse"}


def test_status_tells_of_a_master_that_changed_since(run: Run, draw: Draw, job: Path) -> None:
    draw("shoot/ilse.jpg", 9)
    said = run("status", "--job", job)
    assert said.exit_code == 6
    assert "changed" in said.stdout
    assert told(run, "status", "--job", job)["changed"] == ["ilse"]


def test_a_master_and_a_destination_are_taken_out_by_a_command(
    run: Run, draw: Draw, job: Path
) -> None:
    run("plan", draw("shoot/ilse.jpg"), "--job", job, "--for", "tall-post")
    run("export", "--job", job)
    assert run("remove", "wool", "--job", job).exit_code == 0
    assert run("remove", "--destination", "square-post", "--job", job).exit_code == 0
    assert set(places(job)) == {"ilse"}
    assert [one.name for one in plan_of(job).destinations] == ["tall-post"]
    assert run("export", "--job", job).exit_code in {0, 5}
    manifest = json.loads((job / "deliverables/manifest.json").read_text())
    assert {(one["version"], one["destination"]) for one in manifest["delivered"]} == {
        ("ilse", "tall-post")
    }
    reasons = [one["reason"] for one in manifest["not_delivered"]]
    assert reasons == ["The job no longer plans it."] * 2
    assert run("verify", "--job", job).exit_code == 0


def test_only_what_is_there_can_be_taken_out(run: Run, job: Path) -> None:
    said = run("remove", "nobody", "--job", job)
    assert said.exit_code == 2
    assert "It has ilse, wool" in said.stderr
    assert run("remove", "--job", job).exit_code == 2


def test_a_set_goes_on_without_the_version_that_was_taken_out(
    run: Run, job: Path, tmp_path: Path
) -> None:
    run("plan", tmp_path / "shoot", "--set", "knit", "--job", job)
    run("remove", "wool", "--job", job)
    (left,) = plan_of(job).sets
    assert left.versions == ("ilse",)
    assert left.best == {"square-post": "ilse"}
    run("remove", "ilse", "--job", job)
    assert not plan_of(job).sets
