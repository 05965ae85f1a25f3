"""``cropper plan --export``: from masters to files in one run, each master decoded once."""

from __future__ import annotations

import errno
import json
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from cropper.batch.stopping import Stop
from cropper.destination.presets import load_presets
from cropper.job.asked import Asked
from cropper.job.running import run_plan
from cropper.job.stage import STAGE, stage_of
from cropper.master.decoding import LAST
from tests.counted import CountingProcesses, counted, decodes
from tests.integration.conftest import Draw, DrawnLooker, Run

STAMPS = """[stamp]
title = "Stamp"
size_px = [96, 96]
framing = ["close-up", "half length"]
[ticket]
title = "Ticket"
size_px = [96, 120]
framing = ["close-up", "half length"]
"""


@pytest.fixture
def presets(tmp_path: Path) -> Path:
    """Two small destinations, so that finishing takes no time."""
    (tmp_path / "presets").mkdir()
    (tmp_path / "presets" / "small.toml").write_text(STAMPS, encoding="utf-8")
    return tmp_path / "presets"


@pytest.fixture
def wanted(presets: Path) -> tuple[object, ...]:
    return ("--presets", presets, "--for", "stamp,ticket")


@pytest.fixture(autouse=True)
def nothing_decoded() -> None:
    """No master of an earlier test is still in memory."""
    LAST.let_go()


@pytest.fixture
def shoot(draw: Draw, looker: DrawnLooker, presets: Path) -> Path:
    """Three small masters."""
    del looker, presets
    for number, name in enumerate(("ilse", "jorn", "marit")):
        draw(f"shoot/{name}.jpg", seed=number, size=(400, 500))
    return draw("shoot/ilse.jpg").parent


def delivered(job: Path) -> dict[str, bytes]:
    """Everything in the folder of the deliverables, but for the manifest's time and job."""
    found = {}
    for path in sorted((job / "deliverables").rglob("*")):
        if path.is_file():
            lines = path.read_bytes().split(b"\n")
            found[path.name] = b"\n".join(
                one for one in lines if b'"made_at"' not in one and b'"job"' not in one
            )
    return found


def in_two_runs(run: Run, job: Path, *words: object) -> dict[str, bytes]:
    """What is delivered where planning and exporting are runs of their own."""
    run("plan", *words, "--job", job)
    run("export", "--job", job)
    return delivered(job)


def made_ready(job: Path, shoot: Path) -> None:
    """What a run has done when it is ended just before it begins to export."""
    asked = Asked(
        files=tuple(sorted(shoot.iterdir())),
        destinations=load_presets(folders=(shoot.parent / "presets",)).choose(("stamp", "ticket")),
    )
    run_plan(job, asked, now=datetime.now(UTC), looker=DrawnLooker(), finish=True)


def waiting(job: Path) -> list[Path]:
    return sorted(one for one in (job / STAGE).glob("*/*") if one.name != "told.json")


def test_one_run_comes_to_what_two_runs_come_to(
    run: Run, shoot: Path, tmp_path: Path, wanted: tuple[object, ...]
) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    for job in (one, two):
        job.mkdir()
        (job / "words.toml").write_text(
            '[copyright]\nowner = "Fernhollow Mill"\n', encoding="utf-8"
        )
    assert run("plan", shoot, *wanted, "--job", one, "--export").exit_code == 0
    assert run("plan", shoot, *wanted, "--job", two).exit_code == 0
    assert run("export", "--job", two).exit_code == 0
    assert delivered(one) == delivered(two)
    assert sum(name.endswith(".jpg") for name in delivered(one)) == 6
    assert not (one / STAGE).exists()


def test_each_master_is_decoded_once(
    run: Run, shoot: Path, tmp_path: Path, wanted: tuple[object, ...]
) -> None:
    one, two = tmp_path / "one" / "job", tmp_path / "two" / "job"
    for job in (one, two):
        job.parent.mkdir()
    with counted(one):
        run("plan", shoot, *wanted, "--job", one, "--export")
    assert decodes(one) == ["ilse.jpg", "jorn.jpg", "marit.jpg"]
    LAST.let_go()
    with counted(two):
        run("plan", shoot, *wanted, "--job", two)
        run("export", "--job", two)
    assert len(decodes(two)) == 6


def test_processes_decode_each_master_once_too(
    run: Run,
    shoot: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    wanted: tuple[object, ...],
) -> None:
    monkeypatch.setattr("cropper.batch.crews.Processes", CountingProcesses)
    one, two = tmp_path / "one" / "job", tmp_path / "two"
    one.parent.mkdir()
    assert run("plan", shoot, *wanted, "--job", one, "--export", "--workers", 2).exit_code == 0
    assert sorted(decodes(one)) == ["ilse.jpg", "jorn.jpg", "marit.jpg"]
    assert delivered(one) == in_two_runs(run, two, shoot, *wanted)


def test_a_set_is_finished_when_all_of_it_is_planned(
    run: Run, shoot: Path, tmp_path: Path, wanted: tuple[object, ...]
) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    words = (*sorted(shoot.iterdir())[:2], *wanted, "--set", "knitwear")
    assert run("plan", *words, "--job", one, "--export").exit_code == 0
    assert delivered(one) == in_two_runs(run, two, *words)
    assert sum(name.endswith(".jpg") for name in delivered(one)) == 2


def test_what_an_ended_run_had_finished_is_taken_over_by_the_next_export(
    run: Run, shoot: Path, tmp_path: Path, wanted: tuple[object, ...]
) -> None:
    job, two = tmp_path / "one" / "job", tmp_path / "two"
    job.parent.mkdir()
    made_ready(job, shoot)
    assert len(waiting(job)) == 6
    LAST.let_go()
    with counted(job):
        assert run("export", "--job", job).exit_code == 0
    assert decodes(job) == []
    assert not (job / STAGE).exists()
    assert delivered(job) == in_two_runs(run, two, shoot, *wanted)


def test_what_waits_damaged_or_as_a_link_is_made_anew(
    run: Run, shoot: Path, tmp_path: Path, wanted: tuple[object, ...]
) -> None:
    job, two, secret = tmp_path / "one", tmp_path / "two", tmp_path / "secret"
    made_ready(job, shoot)
    secret.write_bytes(waiting(job)[1].read_bytes())
    waiting(job)[0].write_bytes(b"torn")
    one = waiting(job)[1]
    one.unlink()
    one.symlink_to(secret)
    waiting(job)[2].unlink()
    assert run("export", "--job", job).exit_code == 0
    assert secret.exists()
    assert not any(one.is_symlink() for one in (job / "deliverables").rglob("*"))
    assert delivered(job) == in_two_runs(run, two, shoot, *wanted)


@pytest.mark.parametrize("told", [b"", b"[]", b"[{}]", b"{", b"[[" * 5000])
def test_a_tale_of_what_waits_that_makes_no_sense_is_passed_over(
    told: bytes, run: Run, shoot: Path, tmp_path: Path
) -> None:
    job = tmp_path / "one"
    made_ready(job, shoot)
    for one in (job / STAGE).glob("*/told.json"):
        one.write_bytes(told)
    assert run("export", "--job", job).exit_code == 0
    assert sum(name.endswith(".jpg") for name in delivered(job)) == 6


def test_nothing_is_finished_through_a_link_that_leads_elsewhere(
    run: Run, shoot: Path, tmp_path: Path, wanted: tuple[object, ...]
) -> None:
    job, elsewhere = tmp_path / "job", tmp_path / "elsewhere"
    for one in (job, elsewhere):
        one.mkdir()
    (elsewhere / "theirs.txt").write_text("theirs", encoding="utf-8")
    (job / STAGE).symlink_to(elsewhere)
    assert run("plan", shoot, *wanted, "--job", job, "--export").exit_code == 0
    assert [one.name for one in elsewhere.iterdir()] == ["theirs.txt"]
    assert sum(name.endswith(".jpg") for name in delivered(job)) == 6


def test_a_version_s_name_never_leads_out_of_the_stage(tmp_path: Path) -> None:
    for name in ("../../x", "/etc/x", "a\0b", "x" * 300, "~"):
        assert stage_of(tmp_path, name).parent == tmp_path / STAGE


def test_files_reach_another_disk_whole(
    run: Run, shoot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job, far = tmp_path / "one", tmp_path / "far"
    made_ready(job, shoot)
    link, rename = os.link, Path.replace

    def refuse(source: Any) -> None:
        if STAGE in str(source):
            raise OSError(errno.EXDEV, "Invalid cross-device link")

    def linked(source: Any, target: Any, **how: Any) -> None:
        refuse(source)
        link(source, target, **how)

    def renamed(source: Path, target: Any) -> Path:
        if STAGE not in str(target):
            refuse(source)
        return rename(source, target)

    monkeypatch.setattr(os, "link", linked)
    monkeypatch.setattr(Path, "replace", renamed)
    monkeypatch.setattr(Path, "hardlink_to", lambda path, source: linked(source, path))
    LAST.let_go()
    with counted(job):
        assert run("export", "--job", job, "--to", far).exit_code == 0
    assert decodes(job) == []
    assert len(list(far.glob("*.jpg"))) == 6


def test_a_second_run_looks_at_nothing_and_writes_nothing(
    run: Run, shoot: Path, tmp_path: Path, looker: DrawnLooker, wanted: tuple[object, ...]
) -> None:
    job = tmp_path / "job"
    run("plan", shoot, *wanted, "--job", job, "--export")
    looker.looked.clear()
    with counted(job):
        done = run("plan", shoot, *wanted, "--job", job, "--export")
    assert (looker.looked, decodes(job)) == ([], [])
    assert "(0 written now)" in done.stdout


def test_a_master_that_cannot_be_opened_stops_no_other(
    run: Run, shoot: Path, tmp_path: Path, wanted: tuple[object, ...]
) -> None:
    (shoot / "broken.jpg").write_bytes(b"no picture")
    done = run("plan", shoot, *wanted, "--job", tmp_path / "job", "--export")
    assert done.exit_code == 6
    assert "6 files in" in done.stdout


def test_eyes_that_were_not_found_give_5_whatever_the_export_says(
    run: Run, draw: Draw, tmp_path: Path, looker: DrawnLooker, wanted: tuple[object, ...]
) -> None:
    del looker
    draw("two/ilse.jpg", size=(400, 500))
    nobody = draw("two/nobody.jpg", size=(400, 500))
    assert run("plan", nobody.parent, *wanted, "--job", tmp_path / "job", "--export").exit_code == 5


def test_json_is_the_manifest_and_events_tell_of_both(
    run: Run, shoot: Path, tmp_path: Path, wanted: tuple[object, ...]
) -> None:
    told = json.loads(
        run("plan", shoot, *wanted, "--job", tmp_path / "a", "--export", "--json").stdout
    )
    assert len(told["delivered"]) == 6
    lines = run("plan", shoot, *wanted, "--job", tmp_path / "b", "--export", "--json-lines").stdout
    events = [json.loads(one) for one in lines.splitlines()]
    assert [one.get("doing") for one in events if one["event"] == "begin"] == [
        "Planning",
        "Exporting",
    ]
    assert sum(one["event"] == "through" for one in events) == 3 + 6


def test_a_run_stopped_while_planning_exports_nothing_and_the_next_decodes_no_master_again(
    run: Run,
    shoot: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    wanted: tuple[object, ...],
) -> None:
    job = tmp_path / "one" / "job"
    job.parent.mkdir()
    until = Stop.until

    def only_one(stop: Stop, tasks: Any) -> Any:
        for task in until(stop, tasks):
            yield task
            stop.asked = True

    monkeypatch.setattr(Stop, "until", only_one)
    with counted(job):
        assert run("plan", shoot, *wanted, "--job", job, "--export").exit_code == 130
        assert not (job / "deliverables").exists()
        monkeypatch.setattr(Stop, "until", until)
        assert run("plan", "--job", job, "--export").exit_code == 0
    assert decodes(job) == ["ilse.jpg", "jorn.jpg", "marit.jpg"]
    assert sum(name.endswith(".jpg") for name in delivered(job)) == 6


def test_words_at_fault_stop_the_run_before_any_master_is_opened(
    run: Run, shoot: Path, tmp_path: Path, looker: DrawnLooker, wanted: tuple[object, ...]
) -> None:
    job = tmp_path / "job"
    job.mkdir()
    (job / "words.toml").write_text("copyright = 3\n", encoding="utf-8")
    assert run("plan", shoot, *wanted, "--job", job, "--export").exit_code == 3
    assert looker.looked == []


def test_a_disk_that_is_full_while_finishing_ahead_costs_the_plan_nothing(
    shoot: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any, **__: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("cropper.deliverable.writing._written_aside", full)
        made_ready(tmp_path / "job", shoot)
    assert waiting(tmp_path / "job") == []
    assert run("export", "--job", tmp_path / "job").exit_code == 0
