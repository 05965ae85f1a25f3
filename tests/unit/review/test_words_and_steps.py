"""A word stands for one crop; the history goes back and forth."""

from __future__ import annotations

from datetime import UTC, datetime
from fractions import Fraction
from itertools import pairwise

from cropper.destination.destination import Destination, ShapeRange
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.approving import said, standing, unsaid, why_withheld
from cropper.job.plan import Choice, ChoiceState, Plan, PlannedMaster, Word
from cropper.proposal.proposal import Answer, Proposal, Verdict
from cropper.review.history import History, Step
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
        cost=(0,) * 8,
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


def test_steps_of_one_gesture_are_one_and_a_new_deed_ends_what_could_be_redone() -> None:
    plans = [a_plan(*"abcdef"[:count]) for count in range(1, 5)]
    history = History()
    for before, after in pairwise(plans):
        history.add(Step(label="moved", before=before, after=after, gesture="g"))
    assert history.to_undo is not None
    assert (history.to_undo.before, history.to_undo.after) == (plans[0], plans[-1])

    history.undone()
    assert history.to_undo is None
    assert history.to_redo is not None
    history.add(Step(label="chose", before=plans[0], after=plans[1]))
    assert history.to_redo is None
