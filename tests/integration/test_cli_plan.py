"""``cropper plan``: what it remembers, what it does again, and how it exits."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from filelock import FileLock

from cropper.job import sets
from cropper.job.plan import ChoiceState, Plan, PlannedSet, WaitingMaster
from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, DrawnLooker, Run

SCHEMAS = Path(__file__).parents[2] / "cropper" / "schemas"
pytestmark = pytest.mark.usefixtures("looker")


def planned(job: Path) -> Plan:
    return JobFolder(job).must_read()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return tmp_path / "job"


def test_a_plan_holds_what_was_found_proposed_and_chosen(run: Run, draw: Draw, job: Path) -> None:
    result = run("plan", draw("ilse.jpg"), "--for", "square-post,tall-post", "--job", job)

    assert result.exit_code == 0, result.output
    plan = planned(job)
    (master,) = plan.masters
    assert master.version == "ilse"
    assert [one.destination for one in master.answers] == ["square-post", "tall-post"]
    assert master.choices["tall-post"].index == 0
    assert master.choices["tall-post"].chosen_by == "cropper"
    assert master.located(job).samefile(job.parent / "ilse.jpg")
    assert "tall-post" in result.stdout


def test_the_plan_file_keeps_to_its_shipped_schema(run: Run, draw: Draw, job: Path) -> None:
    run("plan", draw("ilse.jpg"), "--for", "all", "--job", job)

    (master_file,) = (job / "planned").glob("??/*.json")
    for name, file in (("plan", job / "plan.json"), ("planned-master", master_file)):
        schema = json.loads((SCHEMAS / f"{name}.schema.json").read_text())
        jsonschema.Draft202012Validator(schema).validate(json.loads(file.read_text("utf-8")))


def test_a_box_stands_on_one_line_of_a_master_s_file(run: Run, draw: Draw, job: Path) -> None:
    run("plan", draw("ilse.jpg"), "--for", "square-post", "--job", job)

    (master_file,) = (job / "planned").glob("??/*.json")
    lines = master_file.read_text().splitlines()
    assert any('"box": {"x0":' in line and line.rstrip(",").endswith("}") for line in lines)


def test_planning_again_looks_at_nothing_and_leaves_the_file_alone(
    run: Run, draw: Draw, job: Path, looker: DrawnLooker
) -> None:
    picture = draw("ilse.jpg")
    run("plan", picture, "--for", "square-post", "--job", job)
    before = (job / "plan.json").read_bytes(), (job / "plan.json").stat().st_mtime_ns
    looker.looked.clear()

    assert run("plan", picture, "--for", "square-post", "--job", job).exit_code == 0
    assert run("plan", "--job", job).exit_code == 0

    assert looker.looked == []
    assert before == ((job / "plan.json").read_bytes(), (job / "plan.json").stat().st_mtime_ns)


def test_a_run_killed_before_its_last_word_leaves_nobody_waiting_for_ever(
    run: Run, draw: Draw, job: Path
) -> None:
    run("plan", draw("ilse.jpg"), "--for", "square-post", "--job", job)
    folder, plan = JobFolder(job), planned(job)
    waiting = WaitingMaster(file="ilse.jpg", path="../ilse.jpg", version="ilse", place=0)
    with folder.held():
        folder.write_head(replace(plan, waiting=(waiting,)))

    assert run("plan", "--job", job).exit_code == 0

    assert json.loads((job / "plan.json").read_text(encoding="utf-8"))["waiting"] == []


def test_new_masters_and_destinations_join_those_planned_before(
    run: Run, draw: Draw, job: Path, looker: DrawnLooker
) -> None:
    first, second = draw("one.jpg", 1), draw("two.jpg", 2)
    run("plan", first, "--for", "square-post", "--job", job)
    run("plan", second, "--for", "tall-post", "--job", job)

    plan = planned(job)
    asked = {one.version: [a.destination for a in one.answers] for one in plan.masters}
    assert asked == {"one": ["square-post"], "two": ["tall-post"]}
    assert looker.looked == ["one.jpg", "two.jpg"]


def test_a_crop_by_hand_survives_and_asks_to_be_looked_at_when_its_ground_moves(
    run: Run, draw: Draw, job: Path
) -> None:
    picture = draw("ilse.jpg")
    crop = ("--crop", "square-post=100,50,1500,1450")
    assert run("plan", picture, "--for", "square-post", "--job", job, *crop).exit_code == 0
    assert run("plan", "--job", job).exit_code == 0

    result = run("plan", picture, "--job", job, "--eyes", "750,700", "860,700")

    assert result.exit_code == 5
    assert "look again" in result.stderr
    choice = planned(job).masters[0].choices["square-post"]
    assert choice.hand is not None
    box = choice.hand.crop.box
    assert (box.x0, box.y0, box.x1, box.y1) == (100, 50, 1500, 1450)
    assert (choice.chosen_by, choice.state) == ("photographer", ChoiceState.LOOK_AGAIN)


def test_a_pick_is_kept_and_a_pick_of_nothing_is_refused(run: Run, draw: Draw, job: Path) -> None:
    picture = draw("ilse.jpg")
    run("plan", picture, "--for", "square-post", "--job", job)
    count = len(planned(job).masters[0].answers[0].proposals)
    assert count > 1, "this picture should allow more than one kind of crop"

    assert run("plan", "--job", job, "--choose", "square-post=2").exit_code == 0
    assert run("plan", "--job", job).exit_code == 0
    assert planned(job).masters[0].choices["square-post"].index == 1

    refused = run("plan", "--job", job, "--choose", "square-post=9")
    assert refused.exit_code == 2
    assert f"proposals 1 to {count}" in refused.stderr
    assert planned(job).masters[0].choices["square-post"].index == 1


@pytest.mark.parametrize(
    ("crop", "said"),
    [
        ("square-post=0,0,1000,900", "has not the shape"),
        ("square-post=900,0,1700,800", "reaches past"),
        ("square-post=10,10,5,5", "is no box"),
        ("square-post=1,2,3", "is no box"),
        ("square-post", "is not understood"),
        ("somewhere=0,0,10,10", "is not planned"),
    ],
)
def test_a_crop_that_cannot_be_is_misuse(
    run: Run, draw: Draw, job: Path, crop: str, said: str
) -> None:
    result = run("plan", draw("a.jpg"), "--for", "square-post", "--job", job, "--crop", crop)
    assert result.exit_code == 2
    assert said in result.stderr


def test_two_masters_with_one_name_are_told_apart_and_it_is_said(
    run: Run, draw: Draw, job: Path
) -> None:
    one, two = draw("monday/ilse.jpg", 1), draw("tuesday/ilse.jpg", 2)

    result = run("plan", one, two, "--for", "square-post", "--job", job)

    assert [m.version for m in planned(job).masters] == ["ilse", "ilse-2"]
    assert "is called 'ilse-2' here" in result.stderr


def test_eyes_that_are_not_found_are_said_and_the_others_go_on(
    run: Run, draw: Draw, job: Path
) -> None:
    nobody, somebody = draw("nobody.jpg", 1), draw("somebody.jpg", 2)

    result = run("plan", nobody, somebody, "--for", "square-post", "--job", job, "--json")

    assert result.exit_code == 5
    told: dict[str, Any] = json.loads(result.stdout)
    verdicts = {one["version"]: one["destinations"][0]["verdict"] for one in told["masters"]}
    assert verdicts["nobody"] == "uncertain"
    assert verdicts["somebody"] != "uncertain"
    assert all(one["destinations"][0]["crop"] for one in told["masters"])
    assert "--eyes" in result.stderr


def test_eyes_placed_by_hand_make_a_crop_and_are_kept(run: Run, draw: Draw, job: Path) -> None:
    nobody = draw("nobody.jpg")
    eyes = ("--eyes", "860,700", "740,705")

    first = run("plan", nobody, "--for", "square-post", "--job", job, *eyes)
    again = run("plan", nobody, "--for", "tall-post", "--job", job)

    assert (first.exit_code, again.exit_code) == (0, 0)
    (person,) = planned(job).masters[0].finding.subjects
    assert person.left_eye.x == 740
    assert str(person.eyes_from) == "hand"


def test_marks_are_about_one_picture(run: Run, draw: Draw, job: Path) -> None:
    one, two = draw("one.jpg", 1), draw("two.jpg", 2)
    result = run("plan", one, two, "--for", "square-post", "--job", job, "--eyes", "1,1", "9,1")
    assert result.exit_code == 2


def test_a_master_that_changed_is_looked_at_again_and_the_hand_crop_stays(
    run: Run, draw: Draw, job: Path, looker: DrawnLooker
) -> None:
    picture = draw("ilse.jpg", 1)
    run("plan", picture, "--for", "square-post,tall-post", "--job", job)
    run("plan", "--job", job, "--crop", "square-post=0,0,1600,1600")
    looker.looked.clear()
    draw("ilse.jpg", 2)

    result = run("plan", "--job", job)

    assert looker.looked == ["ilse.jpg"]
    assert result.exit_code == 5
    master = planned(job).masters[0]
    assert master.choices["square-post"].state is ChoiceState.LOOK_AGAIN
    assert master.choices["tall-post"].state is ChoiceState.PROPOSED


def test_only_the_destination_that_changed_is_proposed_again(
    run: Run, draw: Draw, job: Path, tmp_path: Path
) -> None:
    picture, own = draw("ilse.jpg"), tmp_path / "own"
    own.mkdir()
    preset = own / "mine.toml"
    table = '[panel]\ntitle = "Panel"\nsize_px = [{}]\n'
    preset.write_text(table.format("800, 1000"))
    words = ("--for", "panel,tall-post", "--job", job, "--presets", own)
    assert run("plan", picture, *words).exit_code == 0
    before = dict(planned(job).masters[0].basis)

    preset.write_text(table.format("800, 800"))
    assert run("plan", picture, *words).exit_code == 0

    after = dict(planned(job).masters[0].basis)
    assert after["tall-post"] == before["tall-post"]
    assert after["panel"] != before["panel"]


def test_rivals_get_one_place_each_and_the_reason_is_told(run: Run, draw: Draw, job: Path) -> None:
    one, two = draw("roll-neck.jpg", 1), draw("shawl.jpg", 2, (2000, 1600))

    result = run("plan", one, two, "--set", "wool", "--for", "social", "--job", job)

    (wool,) = planned(job).sets
    assert wool.assigned
    assert set(wool.versions) == {"roll-neck", "shawl"}
    assert set(wool.best) == {d.name for d in planned(job).destinations}
    assert len(wool.matrix) == 2 * len(wool.best)
    assert "Set 'wool'" in result.stdout


def test_fixed_points_that_contradict_each_other_clash(run: Run, draw: Draw, job: Path) -> None:
    one, two = draw("roll-neck.jpg", 1), draw("shawl.jpg", 2)
    outlets = job.parent / "mine.toml"
    outlets.write_text(
        '[outlets.pages]\nkind = "stream"\naudience = "followers"\n'
        '[destinations]\nsquare-post = "pages"\ntall-post = "pages"\n'
        '[fixed]\nsquare-post = "roll-neck"\ntall-post = "shawl"\n'
    )
    words = ("--set", "wool", "--for", "square-post,tall-post", "--job", job)

    result = run("plan", one, two, *words, "--outlets", outlets)

    assert result.exit_code == 4
    assert "Rivals clash" in result.stderr
    assert len(planned(job).masters) == 2, "the plan itself is kept"


def test_a_faulty_outlets_file_is_a_preset_at_fault(run: Run, draw: Draw, job: Path) -> None:
    job.mkdir()
    (job / "outlets.toml").write_text("[outlets.pages]\nkind = 'river'\n")
    result = run("plan", draw("a.jpg"), "--for", "square-post", "--job", job)
    assert result.exit_code == 3
    assert "outlets.toml" in result.stderr


def test_a_folder_that_another_run_holds_is_left_alone(run: Run, draw: Draw, job: Path) -> None:
    picture = draw("a.jpg")
    run("plan", picture, "--for", "square-post", "--job", job)
    before = (job / "plan.json").read_bytes()

    with FileLock(job / "job.lock"):
        result = run("plan", picture, "--for", "tall-post", "--job", job)

    assert result.exit_code == 1
    assert "another run of cropper" in result.stderr
    assert (job / "plan.json").read_bytes() == before


def test_no_destination_and_no_master_are_misuse_and_make_no_folder(
    run: Run, draw: Draw, job: Path
) -> None:
    assert run("plan", draw("a.jpg"), "--job", job).exit_code == 2
    assert run("plan", "--for", "square-post", "--job", job).exit_code == 2
    assert run("plan", draw("a.jpg"), "--for", "the-moon", "--job", job).exit_code == 2
    assert not job.exists()


def test_explaining_gives_reasons_and_ways_out_in_sentences(
    run: Run, draw: Draw, job: Path
) -> None:
    far_too_small, nobody = draw("small.jpg", size=(200, 250)), draw("nobody.jpg")
    said = run("plan", far_too_small, nobody, "--for", "square-post", "--job", job, "--explain")
    assert "Far too few pixels: needs 940 px, has 200." in said.stdout
    assert "Way out: " in said.stdout
    assert "place the eyes by hand" in said.stdout


def test_only_a_set_whose_ground_moved_is_assigned_again(
    run: Run, draw: Draw, job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("--for", "square-post,tall-post", "--job", job)
    for name in ("wool", "felt"):
        pair = (draw(f"{name}-neck.jpg", 1), draw(f"{name}-hood.jpg", 2))
        assert run("plan", *pair, "--set", name, *words).exit_code == 0
    before = planned(job)
    placed: list[str] = []
    really = sets._placed

    def counted(one: PlannedSet, *rest: Any, **named: Any) -> PlannedSet:
        placed.append(one.name)
        return really(one, *rest, **named)

    monkeypatch.setattr(sets, "_placed", counted)
    run("plan", "--job", job)
    assert placed == []
    run("plan", "--job", job, "--choose", "felt-hood:tall-post=1")
    assert placed == ["felt"]
    (job / "outlets.toml").write_text(
        '[outlets.pages]\nkind = "stream"\naudience = "followers"\n'
        '[destinations]\nsquare-post = "pages"\n'
    )
    run("plan", "--job", job)
    assert sorted(placed[1:]) == ["felt", "wool"]
    assert planned(job).rivals.get("wool") != before.rivals.get("wool")
