"""What the planner answers for plain scenes: the first crop, different ones beside it, or none."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from cropper.destination.destination import (
    Across,
    Band,
    CoveredZone,
    Finish,
    Frame,
    Gutter,
    KeepClear,
    LiveArea,
    ShapeRange,
    Surround,
)
from cropper.geometry import NormalBox, PixelBox, Size
from cropper.proposal.planning import propose, propose_all
from cropper.proposal.proposal import Proposal, Verdict
from cropper.subject.subject import EyesState, Finding
from tests.unit.proposal.people import destination, found, person

LOOSE = found(3000, 4000, person(1500, 1600, 700))
SHARE = Band(0.7111, 0.8, 0.6, 0.8889)
PASS = destination("35/45", head_share=SHARE, across=Across.CENTRE)
ANY_SHAPE = ShapeRange(Fraction(1, 10), Fraction(10))


def best_of(finding: Finding, shape: str = "4/5", **changes: object) -> Proposal:
    best = propose(finding, destination(shape, **changes)).best
    assert best is not None
    return best


def test_a_master_that_already_holds_the_composition_keeps_its_own_frame() -> None:
    framed = found(2400, 3000, person(1200, 1000, 600))
    best = best_of(framed)
    assert best.crop.box == PixelBox(0, 0, 2400, 3000)
    assert best.verdict is Verdict.HOLDS
    assert best.cost == 0


def test_a_crop_keeps_the_masters_own_place_across() -> None:
    aside = found(4500, 3000, person(1500, 1200, 600))
    box = best_of(aside).crop.box
    assert (1500 - box.x0) / box.width == pytest.approx(1 / 3, abs=0.001)


def test_a_square_stands_on_the_head_where_the_destination_asks_for_the_middle() -> None:
    aside = found(4500, 3000, person(1500, 1200, 600))
    box = best_of(aside, "1", across=Across.CENTRE).crop.box
    assert (1500 - box.x0) / box.width == pytest.approx(0.5, abs=0.001)


def test_lead_room_is_left_in_front_of_a_turned_head() -> None:
    aside = found(6000, 3000, person(3000, 1200, 600, turn=0.7))
    box = best_of(aside, across=Across.LEAD).crop.box
    assert 0.33 <= (3000 - box.x0) / box.width <= 0.40


def test_slack_air_above_the_hair_is_cut_before_the_body() -> None:
    best = best_of(LOOSE)
    assert best.crop.box.width == 3000
    assert best.crop.box.y0 > 0


def test_a_print_lies_as_the_master_does_and_a_square_master_stands() -> None:
    asked = destination("3/2", turnable=True)
    for size, way in (((2000, 3000), "upright"), ((3000, 2000), "on its side")):
        one = found(*size, person(size[0] / 2, size[1] * 0.4, 380))
        best = propose(one, asked).best
        assert best is not None
        assert best.orientation == way
    square = found(3000, 3000, person(1500, 1200, 600))
    answer = propose(square, asked)
    assert answer.best is not None
    assert answer.best.orientation == "upright"
    assert "on its side" in {one.kind for one in answer.proposals}


# --- always an answer ------------------------------------------------------------------------


@pytest.mark.parametrize("shape", ["1/3", "9/16", "4/5", "1", "16/9", "3"])
@pytest.mark.parametrize("head", [150, 700, 1400])
def test_every_shape_of_every_head_has_an_answer(shape: str, head: float) -> None:
    assert propose(found(1600, 2000, person(800, 900, head)), destination(shape)).best


def test_a_poor_crop_is_shown_to_be_checked_and_ways_out_stand_beside_it() -> None:
    tight = found(800, 1000, person(400, 480, 1100))
    answer = propose(tight, destination("2"))
    assert answer.best is not None
    assert answer.best.verdict is Verdict.UNCERTAIN
    assert answer.best.reasons[0] == "The shape is too low for the whole face."
    assert answer.proposals[1].fill is not Surround.NOTHING


def test_a_frame_that_its_own_finish_fills_comes_first_where_the_crop_is_poor() -> None:
    tight = found(800, 1000, person(400, 480, 1100))
    finish = Finish(fill=Surround.BORDER, border_colour="#e8e2d9")
    best = propose(tight, destination("2", finish=finish)).best
    assert best is not None
    assert best.fill is Surround.BORDER
    assert best.fill_colour == "#e8e2d9"


def test_nobody_found_is_a_crop_to_check_that_keeps_the_masters_composition() -> None:
    nobody = replace(LOOSE, subjects=(), problem="Nobody was found.")
    best = best_of(nobody)
    assert best.verdict is Verdict.UNCERTAIN
    assert best.crop.box == PixelBox(0, 100, 3000, 3850)


@pytest.mark.parametrize("across", list(Across))
def test_nobody_found_is_answered_wherever_the_head_should_stand(across: Across) -> None:
    box = best_of(replace(LOOSE, subjects=()), "1", across=across).crop.box
    assert box == PixelBox(0, 400, 3000, 3400)


def test_a_full_frame_never_needs_eyes() -> None:
    whole = replace(destination(full_frame=True), shape=ANY_SHAPE)
    for finding in (LOOSE, replace(LOOSE, subjects=())):
        (one,) = propose(finding, whole).proposals
        assert one.crop.box == PixelBox(0, 0, 3000, 4000)
        assert one.verdict is Verdict.HOLDS


@pytest.mark.parametrize(
    ("needed", "verdict"),
    [(800, Verdict.HOLDS), (836, Verdict.BENDS), (880, Verdict.BREAKS), (2390, Verdict.BREAKS)],
)
def test_too_few_pixels_grade_a_crop_and_do_not_hide_it(needed: int, verdict: Verdict) -> None:
    small = found(800, 1000, person(400, 400, 200))
    best = best_of(small, delivered=Size(needed, needed * 5 // 4))
    assert best.verdict is verdict
    if verdict is Verdict.BREAKS:
        assert f"Needs {needed} px, has 800." in best.reasons


def test_three_times_too_few_pixels_are_no_crop_and_told_with_how_many_are_missing() -> None:
    small = found(800, 1000, person(400, 400, 200))
    no_crop = propose(small, destination(delivered=Size(2400, 3000))).no_crop
    assert no_crop is not None
    assert no_crop.sentence == "Far too few pixels: needs 2400 px, has 800."
    assert no_crop.conflicts[0].short_px == 1600


# --- alternatives ----------------------------------------------------------------------------


@pytest.mark.parametrize("shape", ["9/16", "4/5", "1", "16/9", "3"])
def test_alternatives_are_different_answers_under_different_names(shape: str) -> None:
    proposals = propose(LOOSE, destination(shape)).proposals
    assert 2 <= len(proposals) <= 4
    assert len({one.kind for one in proposals}) == len(proposals)
    for at, one in enumerate(proposals):
        for other in proposals[:at]:
            assert (
                one.crop.box.overlap(other.crop.box) < (0.85 if "type" in one.kind else 0.7)
                or one.fill is not other.fill
                or one.orientation != other.orientation
                or one.leaves_out != other.leaves_out
            )


def test_a_tighter_crop_is_offered_where_the_master_allows() -> None:
    proposals = propose(LOOSE, destination()).proposals
    tighter = next(one for one in proposals if one.kind == "head and shoulders")
    assert 700 / tighter.crop.box.height == pytest.approx(0.45, abs=0.04)
    close = found(1600, 2000, person(800, 900, 900))
    assert "face" in {one.kind for one in propose(close, destination()).proposals}


def test_a_looser_crop_is_offered_where_the_first_left_room() -> None:
    round_one = destination("1", frame=Frame.CIRCLE, head_height=(0.5, 0.75))
    first, *others = propose(LOOSE, round_one).proposals
    looser = next(one for one in others if one.kind == "looser")
    assert looser.crop.box.width >= 1.25 * first.crop.box.width - 1


def test_room_for_type_is_offered_on_both_sides_of_a_head_in_a_lying_frame() -> None:
    wide = found(6400, 3000, person(3200, 1200, 700))
    kinds = {one.kind: one for one in propose(wide, destination("16/9")).proposals}
    for kind, u in (("room for type at the left", 0.68), ("room for type at the right", 0.32)):
        box = kinds[kind].crop.box
        assert (3200 - box.x0) / box.width == pytest.approx(u, abs=0.08)


# --- what destinations state -----------------------------------------------------------------


def test_no_covered_zone_lies_over_the_eyes() -> None:
    lid = CoveredZone(
        "lid", NormalBox(Fraction(0), Fraction(0), Fraction(1), Fraction(1, 3)), KeepClear.EYES
    )
    tight = found(1200, 2000, person(600, 500, 600))
    box = best_of(tight, "9/16", covered=(lid,)).crop.box
    assert box.y0 + box.height / 3 <= 500


def test_eyes_stay_inside_every_live_area() -> None:
    middle = LiveArea(
        "small", NormalBox(Fraction(3, 10), Fraction(0), Fraction(7, 10), Fraction(1))
    )
    scene = found(6000, 3000, person(1500, 1200, 900))
    live = middle.box.of(best_of(scene, "3", live_areas=(middle,)).crop.box)
    assert live.x0 < scene.subjects[0].left_eye.x
    assert live.x1 > scene.subjects[0].right_eye.x


def test_no_face_lies_in_the_fold_of_a_spread() -> None:
    scene = found(6000, 4000, person(3000, 1500, 800))
    spread = destination("7/5", gutter=Gutter(Fraction(1, 2), Fraction(1, 40)))
    for one in propose(scene, spread).proposals:
        if one.fill is Surround.NOTHING:
            box = one.crop.box
            off = abs(3000 - (box.x0 + box.width / 2))
            assert off >= box.width / 40 + 0.36 * 800 - 1


def test_the_eyes_stand_inside_a_circle_and_the_head_near_its_middle() -> None:
    best = best_of(LOOSE, "1", frame=Frame.CIRCLE, head_height=(0.5, 0.75))
    middle, radius = best.crop.box.centre, best.crop.box.width / 2
    for eye in (LOOSE.subjects[0].left_eye, LOOSE.subjects[0].right_eye):
        assert middle.to(eye) < radius
    assert 0.45 <= 742 / best.crop.box.height <= 0.8


# --- identity pictures -----------------------------------------------------------------------


def test_an_identity_picture_has_the_head_share_it_asks_and_is_alone() -> None:
    (one,) = propose(LOOSE, PASS).proposals
    assert 0.7111 - 0.005 <= 700 / one.crop.box.height <= 0.8 + 0.005
    assert one.verdict is Verdict.HOLDS


def test_an_identity_picture_with_closed_eyes_is_never_good() -> None:
    closed = replace(LOOSE, subjects=(replace(LOOSE.subjects[0], eyes_state=EyesState.CLOSED),))
    best = propose(closed, PASS).best
    assert best is None or best.verdict is Verdict.BREAKS


@pytest.mark.parametrize("count", [0, 2])
def test_an_identity_picture_of_nobody_or_of_two_is_no_crop(count: int) -> None:
    people = (person(800, 1600, 500), person(2200, 1600, 500))[:count]
    answer = propose(found(3000, 4000, *people), PASS)
    assert answer.best is None
    assert answer.no_crop is not None
    assert "identity picture" in answer.no_crop.sentence


def test_an_identity_picture_outside_its_template_is_no_crop() -> None:
    tight = found(1000, 1200, person(500, 600, 1150))  # no frame in which the head is .89 or less
    answer = propose(tight, PASS)
    assert answer.best is None
    assert answer.no_crop is not None
    assert "template" in answer.no_crop.sentence


# --- the whole -------------------------------------------------------------------------------


def test_every_destination_is_answered_in_order() -> None:
    wanted = [destination(name="a"), destination("1", name="b")]
    assert [one.destination for one in propose_all(LOOSE, wanted)] == ["a", "b"]


def test_the_same_scene_gets_the_same_answer() -> None:
    assert propose(LOOSE, destination("3")) == propose(LOOSE, destination("3"))
