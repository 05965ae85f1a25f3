"""A job folder that the first design wrote (plan format 3, masters' format 2) opens as it was.

``jobs_of_old/format_3`` was written by that program: one invented person, a portfolio picture
whose second proposal was chosen, and a page header without a crop.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from cropper.destination.destination import Across
from cropper.job.codec import MASTER_FORMAT
from cropper.job.plan import FORMAT, ChoiceState, Plan
from cropper.job.store import JobFolder
from cropper.proposal.proposal import Verdict

OLD = Path(__file__).parent / "jobs_of_old" / "format_3"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return Path(shutil.copytree(OLD, tmp_path / "job"))


@pytest.fixture
def plan(job: Path) -> Plan:
    return JobFolder(job).must_read()


def test_what_was_chosen_is_still_chosen(plan: Plan) -> None:
    (master,) = plan.masters
    choice = master.choices["portfolio"]
    assert (choice.index, choice.state) == (1, ChoiceState.CHOSEN)
    chosen = master.chosen("portfolio")
    assert chosen is not None
    told = json.loads(next((OLD / "planned").glob("??/*.json")).read_text("utf-8"))
    answers = told["master"]["answers"]
    box = answers[0]["proposals"][1]["crop"]["box"]
    assert (chosen.crop.box.x0, chosen.crop.box.y1) == (box["x0"], box["y1"])
    assert master.answers[1].no_crop is not None


def test_eight_tiers_become_one_cost(plan: Plan) -> None:
    for answer in plan.masters[0].answers:
        for one in answer.proposals:
            assert isinstance(one.cost, float)
            assert one.verdict in set(Verdict)


def test_shot_sizes_that_stood_everywhere_are_no_demand_any_more(plan: Plan) -> None:
    for one in plan.destinations:
        assert one.framing is None
        assert one.across is Across.MASTER


def test_the_next_write_makes_it_of_today_and_says_the_same(job: Path, plan: Plan) -> None:
    folder = JobFolder(job)
    with folder.held():
        folder.in_today_s_format()
        folder.write(folder.must_read())
    head = json.loads((job / "plan.json").read_text("utf-8"))
    assert head["format"] == FORMAT
    assert JobFolder(job).must_read().masters == plan.masters
    assert MASTER_FORMAT > 2
