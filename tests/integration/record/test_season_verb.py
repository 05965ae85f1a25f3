"""A season from the terminal: wished for, proposed, looked at, accepted, planned anew."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import vobject

from tests.integration.record.test_record_verbs import job, taken, typed  # noqa: F401 - fixtures

FROM = ("--from", "2199-01-07")  # a Monday


@pytest.fixture
def proposal(taken: Path, tmp_path: Path) -> Path:  # noqa: F811
    file = tmp_path / "season.json"
    plan = tmp_path / "season.toml"
    plan.write_text('gap_days = 7\n[outlets.my-pages]\ntakes = ["page-header"]\ndays = ["tue"]\n')
    words = ("--job", taken.parent, "--plan", plan, *FROM, "--weeks", 13, "--to", file)
    typed("record", "release", "Ilse Marrow", "unlimited")
    done = typed("season", "propose", *words)
    assert done.exit_code == 0, done.output
    assert "No better choice exists." in done.output
    return file


def test_a_season_is_proposed_accepted_once_and_planned(proposal: Path) -> None:
    runs = json.loads(proposal.read_text())["runs"]
    assert {(one["version"], one["outlet"]) for one in runs} == {
        (version, outlet) for version in ("hood", "roll") for outlet in ("my-pages", "mill-shop")
    }
    assert not json.loads(typed("record", "runs", "--json").stdout), "proposed is not recorded"
    accepted = typed("season", "accept", proposal)
    assert (accepted.exit_code, "4 of 4 runs are planned now." in accepted.output) == (0, True)
    again = typed("season", "accept", proposal)
    assert "0 of 4 runs are planned now. 4 were recorded already." in again.output
    assert {one["state"] for one in json.loads(typed("record", "runs", "--json").stdout)} == {
        "planned"
    }


def test_what_was_recorded_since_is_told_when_a_season_is_accepted(proposal: Path) -> None:
    typed("record", "bar", "hood", "--why", "withdrawn")
    accepted = typed("season", "accept", proposal)
    assert accepted.exit_code == 4
    assert "'hood' at 'my-pages' was not recorded" in accepted.output
    assert "2 of 4 runs are planned now." in accepted.output


def test_a_proposal_is_drawn_and_goes_to_the_calendar(proposal: Path, tmp_path: Path) -> None:
    until = ("--until", "2199-05-01")
    typed("timeline", "--to", tmp_path / "page", "--season", proposal, *FROM, *until)
    page = (tmp_path / "page.html").read_text()
    assert page.count("<td>proposed</td>") == 4
    typed("season", "show", proposal, "--calendar", tmp_path / "season.ics")
    read = vobject.readOne((tmp_path / "season.ics").read_text())
    told = {(one.status.value, one.summary.value.split(":")[0]) for one in read.vevent_list}
    assert told == {("TENTATIVE", "Proposed")}
    assert "hood" in typed("season", "show", proposal).output


def test_slips_in_the_plan_and_in_names_are_told(taken: Path, tmp_path: Path) -> None:  # noqa: F811
    del taken
    plan, to = tmp_path / "season.toml", ("--to", tmp_path / "season.json")
    assert f"{plan} is written" in typed("season", "propose", "--plan", plan, *to).output
    assert typed("season", "propose", "--plan", plan, *to).exit_code == 2, "no job, nothing taken"
    for text, code, said in (
        ("weeks = 99", 3, "weeks"),
        ("week = 9", 3, "week"),
        ('[outlets.my-pages]\ndays = ["moonday"]', 3, "moonday"),
        ("[outlets.moon]", 2, "mill-shop, my-pages"),
        ("[suits.moon]\nmy-pages = 2", 2, "moon"),
        ("weeks = ", 3, "cannot be read"),
    ):
        plan.write_text(text)
        done = typed("season", "propose", "--plan", plan, *to)
        assert (done.exit_code, said in done.output) == (code, True), done.output
    plan.write_text("{}")
    assert typed("season", "accept", plan).exit_code == 1
