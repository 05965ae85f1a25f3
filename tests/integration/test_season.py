"""Long work: shared among processes or machines, stopped in the middle, and gone on with."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from cropper.job.store import JobFolder
from tests.integration.conftest import FERNHOLLOW, small_shoot

CROPPER = [str(Path(sys.executable).with_name("cropper"))]
FOR = ("--for", "avatar,profile-square")


@pytest.fixture(scope="module")
def shoot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A day's small pictures: one face, large enough for the finder, under several names."""
    folder = tmp_path_factory.mktemp("shoot")
    return small_shoot(folder, 4)


def plan(job: Path, *words: object) -> list[str]:
    return [*CROPPER, "plan", *map(str, words), "--job", str(job)]


def told(job: Path) -> dict[str, str]:
    """Every master's file but for the times in it."""
    read = JobFolder(job)
    cards = read.shelf.cards()
    lines = {name: read.shelf.text(card).splitlines() for name, card in cards.items()}
    return {name: "\n".join(x for x in text if '"at":' not in x) for name, text in lines.items()}


@pytest.fixture(scope="module")
def undisturbed(shoot: Path) -> dict[str, str]:
    job = shoot.parent / "undisturbed"
    subprocess.run(plan(job, shoot, *FOR), check=True, capture_output=True)
    assert len(told(job)) == 4
    return told(job)


@pytest.mark.models
def test_processes_plan_what_one_process_plans_and_events_tell_of_each(
    shoot: Path, undisturbed: dict[str, str]
) -> None:
    job = shoot.parent / "shared"
    done = subprocess.run(
        plan(job, shoot, *FOR, "--workers", 2, "--json-lines"),
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert told(job) == undisturbed
    assert JobFolder(job).must_read().shelf.versions == tuple(sorted(undisturbed))
    events = [json.loads(line) for line in done.stdout.splitlines()]
    assert [one["event"] for one in events] == ["begin", *["through"] * 4, "end"]
    assert events[-1]["through"] == events[-1]["of"] == 4


@pytest.mark.models
def test_ctrl_c_finishes_what_is_in_hand_and_the_next_run_does_only_the_rest(
    shoot: Path, undisturbed: dict[str, str]
) -> None:
    job = shoot.parent / "stopped"
    run = subprocess.Popen(
        plan(job, shoot, *FOR, "--json-lines"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert run.stdout is not None
    lines = [run.stdout.readline() for _ in range(2)]
    run.send_signal(signal.SIGINT)
    rest, said = run.communicate(timeout=60)
    assert run.returncode == 130, said
    assert "what is in hand is finished first" in said
    done = [json.loads(one) for one in (*lines, *rest.splitlines()) if '"through"' in one]
    done = [one["what"] for one in done if one["event"] == "through"]
    assert set(told(job)) == set(done) < set(undisturbed)
    assert len(JobFolder(job).must_read().waiting) == 4 - len(done)

    again = subprocess.run(plan(job, "--json-lines"), check=True, capture_output=True, text=True)

    events = [json.loads(line) for line in again.stdout.splitlines()]
    fresh = {one["what"] for one in events if one.get("state") == "done"}
    assert fresh == set(undisturbed) - set(done)
    assert told(job) == undisturbed
    assert JobFolder(job).must_read().shelf.versions == tuple(sorted(undisturbed))


def worker_of(run: subprocess.Popen[str]) -> int:
    """One of the processes that a run shares its work among."""
    children = Path(f"/proc/{run.pid}/task/{run.pid}/children").read_text().split()
    lines = {int(one): Path(f"/proc/{one}/cmdline").read_bytes() for one in children}
    return next(pid for pid, line in lines.items() if b"spawn_main" in line)


@pytest.mark.models
def test_a_worker_killed_in_the_middle_costs_its_picture_and_the_next_run_makes_up_for_it(
    shoot: Path, undisturbed: dict[str, str]
) -> None:
    job = shoot.parent / "one-worker-less"
    words = plan(job, shoot, *FOR, "--workers", 2, "--json-lines")
    run = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert run.stdout is not None
    lines = [run.stdout.readline() for _ in range(2)]
    os.kill(worker_of(run), signal.SIGKILL)
    rest, said = run.communicate(timeout=120)

    events = [json.loads(one) for one in (*lines, *rest.splitlines())]
    failed = [one for one in events if one.get("state") == "failed"]
    assert events[-1]["through"] == 4, said
    assert len(failed) == 1
    assert "SIGKILL" in failed[0]["sentence"]
    assert run.returncode == 6
    assert set(told(job)) == set(undisturbed) - {failed[0]["what"]}
    assert [one.file for one in JobFolder(job).must_read().failed] == [
        str(shoot / f"{failed[0]['what']}.jpg")
    ]

    subprocess.run(plan(job, shoot, *FOR), check=True, capture_output=True)

    assert set(told(job)) == set(undisturbed)
    assert JobFolder(job).must_read().failed == ()


def exported(job: Path, *words: object) -> dict[str, bytes]:
    command = [*CROPPER, "export", "--job", str(job), *map(str, words)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode in {0, 5}, done.stderr
    return {one.name: one.read_bytes() for one in (job / "deliverables").glob("*.jpg")}


@pytest.mark.models
def test_processes_export_what_one_process_exports(
    shoot: Path, undisturbed: dict[str, str]
) -> None:
    job = shoot.parent / "undisturbed"
    shared = shoot.parent / "exported"
    shutil.copytree(job, shared)
    alone = exported(job)
    assert len(alone) == 2 * len(undisturbed)
    assert exported(shared, "--workers", 2) == alone


def test_a_scheduler_elsewhere_without_tls_is_refused(tmp_path: Path) -> None:
    done = subprocess.run(
        plan(tmp_path, FERNHOLLOW, *FOR, "--scheduler", "tcp://studio.example:8786"),
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "tls://" in done.stderr
    assert not list(tmp_path.iterdir())
