"""A word stands for one crop; the history goes back and forth."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from cropper.destination.destination import Destination, ShapeRange
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.approving import said, standing, unsaid, why_withheld
from cropper.job.plan import PHOTOGRAPHER, Choice, ChoiceState, Plan, PlannedMaster, Word
from cropper.proposal.proposal import Answer, Proposal, Verdict
from cropper.review.desk import as_found
from cropper.review.history import History, step_of
from cropper.subject.subject import Finding

NOW = datetime(2026, 3, 4, 5, 6, tzinfo=UTC)


def a_proposal(x: int = 0) -> Proposal:
    return Proposal(
        destination="story",
        crop=Crop(PixelBox(x, 0, x + 90, 160)),
        kind="as asked",
        shot="bust",
        orientation="upright",
        measures=(),
        cost=0.0,
        verdict=Verdict.HOLDS,
        reasons=("It {holds}, [all] of it.",),
        delivered=Size(1080, 1920),
        enlargement=1.0,
        effective_ppi=None,
    )


def a_master(version: str) -> PlannedMaster:
    answer = Answer(destination="story", proposals=(a_proposal(), a_proposal(7)))
    return PlannedMaster(
        file=f"{version}.jpg",
        path=f"{version}.jpg",
        sha256="0" * 64,
        width=300,
        height=200,
        version=version,
        finding=Finding(size=Size(300, 200)),
        answers=(answer,),
        choices={"story": Choice(index=0, at=NOW)},
    )


def a_plan(*versions: str) -> Plan:
    shape = ShapeRange(Fraction(9, 16), Fraction(9, 16))
    return Plan(
        program_version="0",
        made_at=NOW,
        destinations=(Destination(name="story", title="Story", shape=shape),),
        masters=tuple(a_master(one) for one in versions),
    )


def test_a_word_stands_until_another_crop_counts_and_again_when_it_comes_back() -> None:
    master = said(a_master("a"), "story", Word.APPROVED, " fine ", NOW)
    assert standing(master, "story").approved
    assert master.approvals["story"].note == "fine"

    moved = master.with_choice("story", Choice(index=1, at=NOW))
    assert not standing(moved, "story").approved
    assert "waits for a look" in why_withheld(moved, "story", approved_only=True)
    assert standing(moved.with_choice("story", Choice(index=0, at=NOW)), "story").approved


def test_a_choice_whose_ground_moved_is_not_approved_until_it_is_looked_at() -> None:
    master = said(a_master("a"), "story", Word.APPROVED, "", NOW)
    again = master.with_choice("story", Choice(index=0, at=NOW, state=ChoiceState.LOOK_AGAIN))
    assert not standing(again, "story").approved

    looked = said(again, "story", Word.APPROVED, "", NOW)

    assert standing(looked, "story").approved
    assert looked.choices["story"].state is ChoiceState.CHOSEN


def test_what_leaves_depends_on_the_word() -> None:
    master = a_master("a")
    assert why_withheld(master, "story", approved_only=False) == ""
    assert why_withheld(master, "story", approved_only=True) == "It is not approved yet."

    refused = said(master, "story", Word.REFUSED, "soft", NOW)
    held = said(master, "story", Word.HELD, "", NOW)

    assert why_withheld(refused, "story", approved_only=False) == "You refused it. Note: soft"
    assert why_withheld(held, "story", approved_only=False) == ""
    assert why_withheld(held, "story", approved_only=True) == "You hold it back."
    assert why_withheld(unsaid(refused, "story"), "story", approved_only=False) == ""


def test_steps_of_one_gesture_are_one_and_a_new_step_ends_what_could_be_redone() -> None:
    first = a_plan("a", "b")
    indexes = (1, 0, 1)
    plans = [first]
    for index in indexes:
        master = plans[-1].master("a")
        assert master is not None
        choice = Choice(index=index, chosen_by=PHOTOGRAPHER, at=NOW)
        plans.append(plans[-1].with_master(master.with_choice("story", choice)))
    history = History()
    for before, after in pairwise(plans):
        history.add(replace(step_of(before, after, ["a"], label="moved"), gesture="g"))
    step = history.to_undo(plans[-1], "a")
    assert step is not None
    assert history.to_undo(plans[-1], "b") is None
    assert step.taken_back(plans[-1], as_found, NOW) == first
    assert step.done_again(first, as_found, NOW) == plans[-1]

    history.undone(step)
    assert history.to_undo(first) is None
    assert history.to_redo(first, "a") == step
    history.add(step_of(first, plans[1], ["a"], label="chose"))
    assert history.to_redo(first) is None


def test_a_torn_or_foreign_line_of_the_kept_steps_is_passed_over(tmp_path: Path) -> None:
    first = a_plan("a")
    master = first.master("a")
    assert master is not None
    choice = Choice(index=1, chosen_by=PHOTOGRAPHER, at=NOW)
    after = first.with_master(master.with_choice("story", choice))
    file = tmp_path / "review" / "steps.jsonl"
    History(file).add(step_of(first, after, ["a"], label="chose"))
    with file.open("a") as lines:
        lines.write('[1]\n{"back": "x"}\n{"step": {"label"')

    again = History(file).to_undo(after)

    assert again is not None
    assert again.taken_back(after, as_found, NOW) == first
