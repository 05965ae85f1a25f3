"""``cropper adjust``: crops changed by hand in words, over restarts and later plans."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from PIL import Image

from cropper.cli.main import cropper
from cropper.errors import EXIT_CANNOT, EXIT_DONE, EXIT_MISUSED, EXIT_NEEDS_YOUR_EYE
from cropper.job.approving import said, standing
from cropper.job.plan import PlannedMaster, Word
from cropper.job.store import JobFolder
from cropper.job.undo_journal import FILE
from tests.integration.conftest import DrawnLooker, Run

PLACES = "story,square-post,full-frame"


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two pictures with eyes and one without, for three destinations; planned once."""
    at = tmp_path_factory.mktemp("planned")
    for name in NAMES:
        Image.new("RGB", (1600, 2000), "#8a8f94").save(at / name, comment=name)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("cropper.job.running.MasterLooker", DrawnLooker)
        patch.setattr("cropper.job.looking.MasterLooker", DrawnLooker)
        words = ["plan", *(str(at / name) for name in NAMES), "--for", PLACES]
        done = CliRunner().invoke(cropper, [*words, "--job", str(at / "job")])
    assert done.exit_code == EXIT_NEEDS_YOUR_EYE, done.output
    return at


@pytest.fixture
def job(planned: Path, tmp_path: Path, looker: DrawnLooker) -> Path:
    """A copy of it."""
    assert looker.name
    shutil.copytree(planned, tmp_path, dirs_exist_ok=True)
    return tmp_path / "job"


NAMES = ("ilse.jpg", "shawl.jpg", "nobody.jpg")


def master(job: Path, version: str) -> PlannedMaster:
    found = JobFolder(job).must_read().master(version)
    assert found is not None
    return found


def crop(job: Path, version: str = "ilse", destination: str = "story") -> Any:
    chosen = master(job, version).chosen(destination)
    assert chosen is not None
    return chosen.crop


def told(run: Run, job: Path, *words: object, code: int = EXIT_DONE) -> dict[str, Any]:
    done = run("adjust", "--job", job, "--json", *words)
    assert done.exit_code == code, done.output
    parsed: dict[str, Any] = json.loads(done.stdout)
    return parsed


def test_one_crop_is_made_tighter_and_told_in_percent_pixels_and_a_verdict(
    job: Path, run: Run
) -> None:
    before = crop(job).box
    done = run("adjust", "--job", job, "ilse:story", "--tighter", "10%")
    assert done.exit_code == EXIT_DONE, done.output
    after = crop(job).box
    assert after.height == pytest.approx(0.9 * before.height, abs=1)
    words = " ".join(done.stdout.split())
    assert "10.0 % tighter" in words
    assert f"{before.width} x {before.height} to {after.width} x {after.height} px" in words
    assert any(word in words for word in ("good", "fine", "check", "problem"))
    assert crop(job, "shawl").box == before  # the other picture stays


def test_a_destination_is_changed_over_all_pictures_with_eyes_or_without(
    job: Path, run: Run
) -> None:
    told(run, job, "story", "--tighter", "20%")
    before = {name: crop(job, name) for name in ("ilse", "shawl", "nobody")}
    done = told(run, job, "story", "--eyes-higher", "3%")
    assert [one["version"] for one in done["changed"]] == ["ilse", "shawl", "nobody"]
    for name, was in before.items():
        now = crop(job, name)
        assert now.box.y0 - was.box.y0 == pytest.approx(0.03 * was.box.height, abs=1)
        assert now.box.size == was.box.size
    assert "from the top (48 px higher)" in done["changed"][0]["changed"]
    assert "picture 3.0 % higher" in done["changed"][2]["changed"].lower()


def test_a_group_of_destinations_is_changed_and_the_whole_picture_is_left_alone(
    job: Path, run: Run
) -> None:
    done = told(run, job, "all", "--tighter", "5%")
    assert {one["destination"] for one in done["changed"]} == {"story", "square-post"}
    assert {one["destination"] for one in done["skipped"]} == {"full-frame"}


def test_planning_again_keeps_what_was_changed(job: Path, run: Run, tmp_path: Path) -> None:
    told(run, job, "ilse:story", "--tighter", "10%")
    kept = crop(job)
    run(
        "plan",
        tmp_path / "ilse.jpg",
        "--job",
        job,
        "--for",
        "story",
        "--eyes",
        "700,700",
        "820,700",
    )
    assert crop(job) == kept


def test_a_crop_that_was_approved_is_told_to_be_another_now(job: Path, run: Run) -> None:
    folder = JobFolder(job)
    with folder.held():
        plan = folder.must_read()
        one = said(master(job, "ilse"), "story", Word.APPROVED, "", datetime.now(UTC))
        folder.write(plan.with_master(one))
    done = told(run, job, "story", "--tighter", "10%")
    ilse, shawl, _ = (one["changed"] for one in done["changed"])
    assert "you had approved the crop before, not this one" in ilse
    assert "approved" not in shawl
    told(run, job, "--undo")
    assert standing(master(job, "ilse"), "story").approved


def test_a_set_is_assigned_anew_when_one_of_its_crops_is_changed(
    job: Path, run: Run, tmp_path: Path
) -> None:
    rivals = (tmp_path / "ilse.jpg", tmp_path / "shawl.jpg")
    run("plan", *rivals, "--set", "knitwear", "--job", job)
    (before,) = JobFolder(job).must_read().sets
    first = before.best["story"]
    assert first is not None
    done = told(run, job, f"{first}:story", "--eyes-right", "45%")
    (after,) = JobFolder(job).must_read().sets
    assert after.best["story"] not in {first, None}
    assert f"Set 'knitwear': story goes to '{after.best['story']}' now" in done["notes"][0]
    told(run, job, "--undo")
    (again,) = JobFolder(job).must_read().sets
    assert again.best["story"] == first


def test_reset_takes_the_program_s_proposal_again(job: Path, run: Run) -> None:
    before = crop(job)
    told(run, job, "ilse:story", "--tighter", "10%")
    done = told(run, job, "ilse:story", "--reset")
    assert crop(job) == before
    assert not master(job, "ilse").choices["story"].by_hand
    assert "program's own" in done["changed"][0]["changed"]


def test_a_frozen_crop_stays_when_its_eyes_move_and_its_destination_is_changed(
    job: Path, run: Run, tmp_path: Path
) -> None:
    frozen = crop(job)
    done = told(run, job, "ilse:story", "--freeze")
    assert done["changed"][0]["frozen"]
    run(
        "plan",
        tmp_path / "ilse.jpg",
        "--job",
        job,
        "--for",
        "story",
        "--eyes",
        "700,900",
        "820,900",
    )
    assert crop(job) == frozen
    done = told(run, job, "story", "--tighter", "10%")
    assert crop(job) == frozen
    (skipped,) = done["skipped"]
    assert skipped["version"] == "ilse"
    assert "--unfreeze" in skipped["why"]
    done = told(run, job, "ilse:story", "--tighter", "10%", code=EXIT_CANNOT)
    assert not done["changed"]


def test_unfreezing_gives_a_crop_that_nobody_chose_back_to_the_program(job: Path, run: Run) -> None:
    before = master(job, "ilse").choices["story"]
    told(run, job, "ilse:story", "--freeze")
    assert master(job, "ilse").choices["story"].by_hand
    told(run, job, "ilse:story", "--unfreeze")
    after = master(job, "ilse").choices["story"]
    assert (after.index, after.chosen_by, after.frozen) == (before.index, "cropper", False)


def test_unfreezing_a_crop_by_hand_leaves_it_yours(job: Path, run: Run) -> None:
    told(run, job, "ilse:story", "--tighter", "10%", "--freeze")
    kept = crop(job)
    told(run, job, "ilse:story", "--unfreeze")
    after = master(job, "ilse").choices["story"]
    assert (crop(job), after.by_hand, after.frozen) == (kept, True, False)
    told(run, job, "ilse:story", "--unfreeze")  # again changes nothing, and is no fault


def test_undo_takes_back_one_call_after_another_whole(job: Path, run: Run) -> None:
    before = [master(job, name).choices["story"] for name in ("ilse", "shawl", "nobody")]
    told(run, job, "story", "--tighter", "10%")
    between = [crop(job, name) for name in ("ilse", "shawl", "nobody")]
    told(run, job, "story", "--eyes-higher", "1%", "--freeze")
    done = told(run, job, "--undo")
    assert done["label"] == "undo: story: eyes higher 1%, freeze"
    assert [crop(job, name) for name in ("ilse", "shawl", "nobody")] == between
    told(run, job, "--undo")
    assert [master(job, name).choices["story"] for name in ("ilse", "shawl", "nobody")] == before
    nothing = run("adjust", "--job", job, "--undo")
    assert nothing.exit_code == EXIT_CANNOT
    assert "nothing to undo" in nothing.stderr


def test_undo_leaves_alone_what_was_changed_after_that(job: Path, run: Run) -> None:
    told(run, job, "story", "--tighter", "10%")
    planned = run("plan", "--job", job, "--crop", "ilse:story=350,100,1295,1780")
    assert planned.exit_code in {EXIT_DONE, EXIT_NEEDS_YOUR_EYE}, planned.output
    chosen = crop(job)
    done = told(run, job, "--undo")
    assert crop(job) == chosen
    assert [one["version"] for one in done["changed"]] == ["shawl", "nobody"]
    assert "changed again after that" in done["skipped"][0]["why"]


def test_an_undo_that_speaks_of_a_change_that_never_came_to_be_changes_nothing(
    job: Path, run: Run
) -> None:
    before = crop(job)
    told(run, job, "ilse:story", "--tighter", "10%")
    journal = (job / FILE).read_bytes()
    told(run, job, "--undo")
    (job / FILE).write_bytes(journal)  # as a run that was killed before it wrote the plan
    done = told(run, job, "--undo")
    assert crop(job) == before
    assert not done["changed"]


def test_a_damaged_journal_stops_undo_with_a_sentence(job: Path, run: Run) -> None:
    told(run, job, "ilse:story", "--tighter", "10%")
    turned = (job / FILE).read_text().replace('"straighten_deg": 0.0', '"straighten_deg": NaN')
    assert "NaN" in turned
    foreign = ("{", '{"format": 1, "steps": [{"label": 3}]}', "null", '{"format": 2}', "[" * 9999)
    for text in (*foreign, turned):
        (job / FILE).write_text(text)
        done = run("adjust", "--job", job, "--undo")
        assert done.exit_code == EXIT_CANNOT
        assert done.stderr.startswith("Error: ")


def test_the_journal_keeps_a_bounded_number_of_steps(
    job: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cropper.job.undo_journal.STEPS_KEPT", 3)
    for number in range(4):
        told(run, job, "ilse:story", "--unfreeze" if number % 2 else "--freeze")
    steps = json.loads((job / FILE).read_text())["steps"]
    assert [one["label"].split()[-1] for one in steps] == ["unfreeze", "freeze", "unfreeze"]


def test_as_far_as_the_edge_allows_is_said_and_no_further_is_a_1(job: Path, run: Run) -> None:
    told(run, job, "ilse:story", "--tighter", "10%")
    loose = told(run, job, "ilse:story", "--looser", "400%")
    assert "edge allows no more" in loose["changed"][0]["changed"]
    stuck = run("adjust", "--job", job, "ilse:story", "--looser", "10%")
    assert stuck.exit_code == EXIT_CANNOT
    assert "story stays as it is for ilse: the picture's edge allows no more" in stuck.stderr


def test_a_crop_that_fills_its_picture_becomes_tighter_so_that_the_eyes_can_move(
    job: Path, run: Run
) -> None:
    run("adjust", "--job", job, "ilse:story", "--looser", "400%")
    done = told(run, job, "ilse:story", "--eyes-higher", "2%")
    assert "tighter so that the eyes can stand there" in done["changed"][0]["changed"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere", "--tighter", "5%"), "no destination 'nowhere'"),
        (("nobody-knows:story", "--tighter", "5%"), "no version 'nobody-knows'"),
        (("story",), "nothing is to be changed"),
        (("--tighter", "5%"), "which crops are meant"),
        (("story", "--tighter", "5%", "--looser", "5%"), "contradict"),
        (("story", "--reset", "--eyes-left", "5%"), "contradict"),
        (("story", "--eyes-on-third", "--eyes-lower", "2%"), "contradict"),
        (("story", "--undo"), "Give it alone"),
        (("story", "--tighter", "0.1"), "write the %"),
        (("story", "--tighter", "95%"), "at most 90%"),
        (("story", "--tighter", "ten"), "such as 10%"),
        (("story", "--tighter", "nan"), "such as 10%"),
        (("story", "--straighten", "nan"), "straighten"),
        (("story", "--straighten", "40"), "straighten"),
    ],
)
def test_words_that_do_not_fit_are_refused_and_nothing_changes(
    job: Path, run: Run, words: tuple[str, ...], said: str
) -> None:
    before = crop(job)
    done = run("adjust", "--job", job, *words)
    assert done.exit_code == EXIT_MISUSED, done.output
    assert said in done.stderr
    assert crop(job) == before
    assert not (job / FILE).exists()
