"""Groups: everybody where the shape can hold them, else neighbours, and whom they leave out."""

from __future__ import annotations

from cropper.proposal.groups import best_part
from cropper.proposal.planning import propose
from cropper.proposal.proposal import Verdict
from tests.unit.proposal.people import bystander, destination, found, person

ROW = found(5000, 1500, *(person(600 + 950 * n, 480, 350) for n in range(5)))
PAIR = found(4000, 3000, person(1500, 1300, 500), person(2500, 1300, 500))


def test_a_shape_that_can_hold_everybody_does() -> None:
    best = propose(ROW, destination("3")).best
    assert best is not None
    assert best.leaves_out == 0
    assert best.verdict in {Verdict.HOLDS, Verdict.BENDS}
    assert "5 people" in best.reasons[0]


def test_a_shape_that_cannot_hold_a_row_holds_neighbours_and_says_whom_it_leaves_out() -> None:
    best = propose(ROW, destination("4/5")).best
    assert best is not None
    assert best.leaves_out > 0
    assert best.verdict is Verdict.UNCERTAIN
    assert best.reasons[0].startswith("Leaves out ")
    box = best.crop.box
    inside = [box.x0 < one.eyes.x < box.x1 for one in ROW.subjects]
    assert sum(inside) == 5 - best.leaves_out
    assert "True, False, True" not in str(inside)


def test_each_person_left_out_costs_half_a_point() -> None:
    part = best_part(ROW, destination("4/5"))
    assert part is not None
    scene, found_box = part
    left_out = 5 - len(scene.people)
    best = propose(ROW, destination("4/5")).best
    assert best is not None
    assert best.cost >= 0.5 * left_out
    assert found_box.cost >= 0


def test_where_people_are_left_out_the_whole_master_with_a_border_is_offered() -> None:
    answer = propose(ROW, destination("3/2"))
    assert answer.best is not None
    assert answer.best.leaves_out > 0
    assert answer.proposals[1].kind == "the whole master with a border"
    assert answer.proposals[1].leaves_out == 0


def test_a_part_of_a_group_is_offered_beside_the_whole() -> None:
    row = found(4500, 1500, *(person(700 + 1500 * n, 700, 350) for n in range(3)))
    parts = [one for one in propose(row, destination("16/9")).proposals if one.leaves_out]
    assert parts
    for one in parts:
        box = one.crop.box
        outside = [who for who in row.subjects if not box.x0 < who.eyes.x < box.x1]
        assert len(outside) == one.leaves_out


def test_a_bystander_is_left_out_whole_or_kept_whole() -> None:
    beside = found(4000, 3000, person(1500, 1300, 500), bystander(person(2900, 1300, 400)))
    best = propose(beside, destination("4/5")).best
    assert best is not None
    box, other = best.crop.box, beside.subjects[1].head_box
    assert box.x1 <= other.x0 or box.x1 >= other.x1
