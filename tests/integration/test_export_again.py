"""A second export: what lies there stays listed, moves, or is set aside for a reason in writing."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.integration.conftest import Draw, DrawnLooker, Run

SQUARE, TALL = "ilse_square-post_1080x1080.jpg", "ilse_tall-post_1080x1350.jpg"


def manifest(folder: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    return told


def files(folder: Path) -> dict[str, str]:
    """Every picture below a folder with its digest, taken here and not from the manifest."""
    return {
        one.relative_to(folder).as_posix(): hashlib.sha256(one.read_bytes()).hexdigest()
        for one in folder.rglob("*.jpg")
    }


def listed(folder: Path) -> dict[str, str]:
    return {one["file"]: one["sha256"] for one in manifest(folder)["delivered"]}


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path, looker: DrawnLooker) -> Path:
    """An exported job: one master for two destinations."""
    del looker  # in place before anything is planned
    job = tmp_path / "job"
    run("plan", draw("shoot/ilse.jpg"), "--for", "square-post,tall-post", "--job", job)
    run("export", "--job", job)
    assert set(files(job / "deliverables")) == {SQUARE, TALL}
    return job


@pytest.fixture
def made(job: Path) -> Path:
    return job / "deliverables"


@pytest.fixture
def unplugged(job: Path) -> Path:
    """The folder of masters, on a disk that is not connected just now."""
    away = job.parent / "away"
    (job.parent / "shoot").rename(away)
    return away


@pytest.mark.usefixtures("unplugged")
def test_an_export_while_the_masters_are_away_keeps_every_row(
    run: Run, job: Path, made: Path
) -> None:
    before = files(made)
    told = run("export", "--job", job)
    assert told.exit_code == 6
    assert "ilse" in told.stderr
    assert "2 files" in told.stderr
    assert listed(made) == before == files(made)
    assert manifest(made)["not_delivered"] == []
    assert run("verify", "--job", job).exit_code == 0


@pytest.mark.usefixtures("unplugged")
def test_a_manifest_that_was_emptied_once_is_whole_again_without_the_masters(
    run: Run, job: Path, made: Path
) -> None:
    told = manifest(made) | {"delivered": []}
    (made / "manifest.json").write_text(json.dumps(told))
    verified = run("verify", "--job", job)
    assert verified.exit_code == 6
    assert SQUARE in verified.stdout
    run("verify", "--job", job, "--repair")
    assert listed(made) == files(made)


@pytest.mark.usefixtures("unplugged")
def test_a_file_that_cannot_be_made_anew_keeps_the_row_of_its_earlier_crop(
    run: Run, job: Path, made: Path
) -> None:
    run("plan", "--job", job, "--crop", "ilse:square-post=10,10,1410,1410")
    told = run("export", "--job", job)
    assert told.exit_code == 6
    rows = {one["destination"]: one for one in manifest(made)["delivered"]}
    assert rows["square-post"]["crop"] != [10, 10, 1410, 1410]
    (missing,) = manifest(made)["not_delivered"]
    assert missing["destination"] == "square-post"
    assert "earlier" in missing["reason"]
    assert run("verify", "--job", job).exit_code == 0


@pytest.mark.usefixtures("unplugged")
def test_a_lost_ledger_and_lost_masters_together_cost_no_row(
    run: Run, job: Path, made: Path
) -> None:
    (job / "exported.json").unlink()
    run("export", "--job", job)
    assert listed(made) == files(made)


def test_what_a_run_was_not_asked_about_stays_listed(run: Run, job: Path, made: Path) -> None:
    told = run("export", "--job", job, "--only", "tall-post")
    assert told.exit_code == 0
    assert listed(made) == files(made)
    assert set(listed(made)) == {SQUARE, TALL}
    assert run("verify", "--job", job).exit_code == 0


def test_an_export_that_was_stopped_keeps_the_rows_it_did_not_come_to(
    run: Run, job: Path, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr("cropper.batch.exporting.in_turn", lambda _orders: iter(()))
        run("export", "--job", job)
    assert listed(made) == files(made)


def test_folders_for_recipients_come_and_go_by_moving(run: Run, job: Path, made: Path) -> None:
    flat = files(made)
    masters = job.parent / "shoot"
    masters.rename(job.parent / "away")  # moving needs no master

    told = run("export", "--job", job, "--by-recipient")
    assert told.exit_code == 6  # the master could not be looked at
    sorted_ = files(made)
    assert all("/" in one for one in sorted_)
    assert sorted(sorted_.values()) == sorted(flat.values())
    assert listed(made) == sorted_

    (job.parent / "away").rename(masters)
    assert run("export", "--job", job).exit_code == 0
    assert files(made) == sorted_  # a layout stays until another is asked for

    assert run("export", "--job", job, "--flat").exit_code == 0
    assert files(made) == flat == listed(made)
    assert not [one for one in made.iterdir() if one.is_dir() and one.name != "texts"]
    assert run("verify", "--job", job).exit_code == 0


def test_what_the_plan_no_longer_gives_is_set_aside_and_the_manifest_says_why(
    run: Run, job: Path, made: Path, draw: Draw
) -> None:
    before = files(made)
    rival = draw("shoot/rival.jpg", 5)
    run("plan", rival, job.parent / "shoot/ilse.jpg", "--for", "square-post", "--job", job)
    run("plan", rival, job.parent / "shoot/ilse.jpg", "--set", "wool", "--job", job)

    told = run("export", "--job", job)

    gone = before.keys() - files(made).keys()
    if gone:  # whichever of the two the rules prefer
        assert "Moved aside" in told.stderr
    assert listed(made) == files(made)
    assert run("verify", "--job", job).exit_code == 0


def test_a_refused_crop_leaves_the_folder_and_nothing_is_thrown_away(
    run: Run, job: Path, made: Path
) -> None:
    from datetime import UTC, datetime  # noqa: PLC0415

    from cropper.job.approving import said  # noqa: PLC0415
    from cropper.job.plan import Word  # noqa: PLC0415
    from cropper.job.store import JobFolder  # noqa: PLC0415

    before = files(made)
    folder = JobFolder(job)
    with folder.held():
        plan = folder.must_read()
        master = plan.master("ilse")
        assert master is not None
        now = datetime.now(UTC)
        folder.write(plan.with_master(said(master, "square-post", Word.REFUSED, "no", now)))

    told = run("export", "--job", job)

    assert "Moved aside" in told.stderr
    assert set(files(made)) == {TALL} == set(listed(made))
    (missing,) = manifest(made)["not_delivered"]
    assert "refused" in missing["reason"]
    (aside,) = (job / "set_aside").rglob("*.jpg")
    assert hashlib.sha256(aside.read_bytes()).hexdigest() == before[SQUARE]
    assert run("verify", "--job", job).exit_code == 0
    assert run("export", "--job", job).exit_code == 0


def test_a_file_that_somebody_changed_is_not_set_aside(run: Run, job: Path, made: Path) -> None:
    (made / SQUARE).write_bytes(b"retouched by hand")
    run("export", "--job", job, "--by-recipient")
    assert (made / SQUARE).read_bytes() == b"retouched by hand"
    assert run("verify", "--job", job).exit_code == 6


def test_a_stranger_s_picture_among_the_deliverables_is_not_passed_over(
    run: Run, job: Path, made: Path
) -> None:
    shutil.copy(made / SQUARE, made / "ilse_square-post_1080x1080-2.jpg")
    told = run("verify", "--job", job)
    assert told.exit_code == 6
    assert "1080x1080-2.jpg" in told.stdout


def test_files_that_vanish_while_an_export_runs_are_not_reported_as_written(
    run: Run, job: Path, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from cropper.job import exporting  # noqa: PLC0415

    shutil.rmtree(made)
    note = exporting._note

    def noted_and_gone(run_: Any, one: Any) -> None:
        note(run_, one)
        if one.name == SQUARE:
            (made / SQUARE).unlink()

    with monkeypatch.context() as patched:
        patched.setattr(exporting, "_note", noted_and_gone)
        told = run("export", "--job", job)
    assert told.exit_code == 6
    assert "while the export ran" in told.stderr
    assert set(listed(made)) == {TALL}


def test_a_job_folder_that_vanishes_while_an_export_runs_is_said(
    run: Run, job: Path, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from cropper.job import exporting  # noqa: PLC0415

    shutil.rmtree(made)
    note = exporting._note

    def noted_and_gone(run_: Any, one: Any) -> None:
        note(run_, one)
        shutil.rmtree(job)

    monkeypatch.setattr(exporting, "_note", noted_and_gone)
    told = run("export", "--job", job)
    assert told.exit_code == 1
    assert "Error: " in told.stderr


def test_another_job_s_folder_is_refused_before_anything_is_written(
    run: Run, job: Path, draw: Draw, tmp_path: Path
) -> None:
    second, shared = tmp_path / "second", tmp_path / "shared"
    run("plan", draw("other/ilse.jpg", 7), "--for", "square-post", "--job", second)
    run("export", "--job", job, "--to", shared)
    before = {one.name: one.read_bytes() for one in shared.iterdir() if one.is_file()}

    told = run("export", "--job", second, "--to", shared)

    assert told.exit_code == 1
    assert "another job" in told.stderr
    assert "--to" in told.stderr
    assert {one.name: one.read_bytes() for one in shared.iterdir() if one.is_file()} == before
    assert run("export", "--job", job, "--to", shared).exit_code == 0


def test_a_manifest_of_a_newer_program_is_neither_believed_nor_replaced(
    run: Run, job: Path, made: Path
) -> None:
    text = json.dumps(manifest(made) | {"format": 99})
    (made / "manifest.json").write_text(text)
    for verb in ("verify", "export"):
        told = run(verb, "--job", job)
        assert told.exit_code == 1, verb
        assert "newer program" in told.stderr
    assert (made / "manifest.json").read_text() == text


def test_an_older_manifest_without_a_job_s_name_is_taken_over(
    run: Run, job: Path, made: Path
) -> None:
    told = manifest(made) | {"format": 2}
    told.pop("job")
    (made / "manifest.json").write_text(json.dumps(told))
    assert run("export", "--job", job).exit_code == 0
    assert manifest(made)["job"]
    assert listed(made) == files(made)


def test_a_set_that_cannot_be_assigned_just_now_keeps_what_lies_there(
    run: Run, job: Path, made: Path, draw: Draw
) -> None:
    shoot = job.parent / "shoot"
    run("plan", draw("shoot/rival.jpg", 5), "--for", "square-post,tall-post", "--job", job)
    run("plan", shoot, "--set", "wool", "--job", job)
    run("export", "--job", job, "--with-problems")
    before = files(made)
    (job / "outlets.toml").write_text(
        '[outlets.pages]\nkind = "stream"\naudience = "all"\n'
        '[outlets.mill]\nkind = "placed"\naudience = "mill"\n'
        '[destinations]\nsquare-post = "pages"\ntall-post = "pages"\n'
        '[fixed]\nsquare-post = "ilse"\ntall-post = "rival"\n'
    )
    assert run("plan", "--job", job).exit_code == 4

    told = run("export", "--job", job, "--with-problems")

    assert told.exit_code == 4
    assert files(made) == before == listed(made)
    assert manifest(made)["not_delivered"]
    assert run("verify", "--job", job).exit_code == 0
