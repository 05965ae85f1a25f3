"""What the planner answers for plain scenes: kinds, verdicts, no crop and the ways out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from cropper.destination.destination import (
    Band,
    CoveredZone,
    Frame,
    Gutter,
    KeepClear,
    LiveArea,
    ShapeRange,
)
from cropper.destination.shots import Shot
from cropper.geometry import Crop, NormalBox, PixelBox, Size
from cropper.proposal.measuring import measure
from cropper.proposal.planning import propose, propose_all
from cropper.proposal.proposal import TIERS, Verdict
from tests.unit.proposal.people import bystander, destination, found, person

LOOSE = found(3000, 4000, person(1500, 1600, 700))


def rule(proposal: object, name: str) -> object:
    return next(one for one in proposal.measures if one.rule == name)  # type: ignore[attr-defined]


def test_a_loose_upright_portrait_gets_a_crop_where_every_rule_holds() -> None:
    best = propose(LOOSE, destination()).best
    assert best is not None
    assert best.verdict is Verdict.HOLDS
    assert best.cost[:7] == (0, 0, 0, 0, 0, 0, 0)
    assert "Every rule holds." in best.reasons


def test_the_eye_line_headroom_and_middle_are_where_the_handbooks_put_them() -> None:
    best = propose(LOOSE, destination()).best
    assert best is not None
    values = {one.rule: one.value for one in best.measures}
    assert values["eye line"] is not None
    assert values["headroom"] is not None
    assert values["across"] is not None
    assert 0.303 - 0.002 <= values["eye line"] <= 0.363 + 0.002
    assert 0.03 - 0.002 <= values["headroom"] <= 0.12 + 0.002
    assert 0.48 - 0.002 <= values["across"] <= 0.52 + 0.002


def test_proposals_are_at_most_three_best_first_and_differ_in_kind() -> None:
    answer = propose(LOOSE, destination())
    kinds = [one.kind for one in answer.proposals]
    assert 2 <= len(kinds) <= 3
    assert len(set(kinds)) == len(kinds)
    assert answer.proposals[0].cost == min(one.cost for one in answer.proposals)
    boxes = [one.crop.box for one in answer.proposals]
    assert all(a.overlap(b) <= 0.9 for i, a in enumerate(boxes) for b in boxes[:i])


def test_a_turned_head_gets_room_in_front() -> None:
    looking_right = found(4000, 3000, person(2000, 1200, 600, turn=0.7))
    best = propose(looking_right, destination("16/9")).best
    assert best is not None
    across = rule(best, "across")
    assert across.value < 0.41  # type: ignore[attr-defined]


def test_a_three_to_one_header_from_a_tight_upright_head_is_no_crop_with_its_amount() -> None:
    tight = found(1000, 1500, person(500, 700, 700))
    answer = propose(tight, destination("3/1"))
    assert answer.best is None
    assert answer.no_crop is not None
    conflict = answer.no_crop.conflicts[0]
    needed = 3 * (0.5 + 0.08 + 0.04) * 700 - 1000  # 3 x (eye to chin with both rooms) - width
    assert conflict.short_px == pytest.approx(needed, abs=8)
    kinds = [way.kind for way in answer.no_crop.ways_out]
    assert kinds[:3] == ["border", "backdrop", "shoot"]


def test_the_amount_that_is_short_is_enough_when_it_is_added() -> None:
    tight = found(1000, 1500, person(500, 700, 700))
    answer = propose(tight, destination("3/1"))
    assert answer.no_crop is not None
    short = answer.no_crop.conflicts[0].short_px
    wider = found(1000 + short, 1500, person(500 + short // 2, 700, 700))
    narrower = found(1000 + short - 12, 1500, person(500 + short // 2 - 6, 700, 700))
    assert propose(wider, destination("3/1")).best is not None
    assert propose(narrower, destination("3/1")).best is None


def test_too_few_pixels_are_told_with_how_many_are_missing() -> None:
    small = found(800, 1000, person(400, 400, 200))
    answer = propose(small, destination(delivered=Size(1080, 1350)))
    assert answer.no_crop is not None
    assert answer.no_crop.conflicts[0].short_px == 280
    assert "280 px short" in answer.no_crop.sentence
    assert "1080 px wide" in answer.no_crop.sentence


def test_demands_that_do_not_fit_together_are_told_as_one_list() -> None:
    strip = CoveredZone(
        name="words below",
        box=NormalBox(Fraction(0), Fraction(4, 10), Fraction(1), Fraction(1)),
        keep_clear=KeepClear.FACE,
        hair_may_enter=True,
    )
    answer = propose(found(1000, 1000, person(500, 400, 700)), destination("1/1", covered=(strip,)))
    assert answer.no_crop is not None
    assert "with room to spare and the covered zones kept clear do not" in answer.no_crop.sentence


def test_a_crown_that_the_master_cut_is_not_called_cut_on_purpose() -> None:
    tight = found(1600, 1700, person(800, 400, 900))
    best = propose(tight, destination()).best
    assert best is not None
    assert "the crown outside the master" in best.reasons[0]


def test_a_crown_cut_past_the_limit_is_not_called_cut_on_purpose() -> None:
    wide = found(3000, 4000, person(1500, 1600, 1500))
    best = propose(wide, destination("3/1")).best
    assert best is not None
    assert rule(best, "crown").verdict is Verdict.BREAKS  # type: ignore[attr-defined]
    assert best.reasons[0].endswith("the crown cut.")


def test_room_that_is_short_in_width_and_in_height_is_told_as_one_amount() -> None:
    strips = tuple(
        CoveredZone(
            name=name,
            box=NormalBox(Fraction(0), top, Fraction(1), bottom),
            keep_clear=KeepClear.FACE,
            hair_may_enter=True,
        )
        for name, top, bottom in (
            ("words above", Fraction(0), Fraction(3, 10)),
            ("words below", Fraction(6, 10), Fraction(1)),
        )
    )
    between = destination("1/1", covered=strips)
    answer = propose(found(1000, 1000, person(500, 400, 700)), between)
    assert answer.no_crop is not None
    short = answer.no_crop.conflicts[0].short_px
    assert short > 0
    assert f"{short} px" in answer.no_crop.sentence
    middle = person(500 + short // 2, 400 + short // 2, 700)
    assert propose(found(1000 + short, 1000 + short, middle), between).best is not None
    wide = person(500 + short // 2, 400, 700)
    assert propose(found(1000 + short, 1000, wide), between).best is None


def test_a_head_too_small_for_an_identity_picture_is_told_with_the_pixels_it_lacks() -> None:
    small = found(3000, 4000, person(1500, 1600, 300))
    share = Band(0.7111, 0.8, 0.6, 0.8889)
    template = destination("35/45", head_share=share, delivered=Size(826, 1062))
    answer = propose(small, template)
    assert answer.no_crop is not None
    widest = 300 / 0.6 * 35 / 45  # of the frames in which 300 px are the least share
    assert answer.no_crop.conflicts[0].short_px == pytest.approx(826 - widest, abs=1)
    assert "300 px high" in answer.no_crop.sentence
    assert "638" in answer.no_crop.sentence  # 826 / (35/45) x .6


def test_nobody_found_proposes_nothing_and_says_how_to_go_on() -> None:
    answer = propose(replace(LOOSE, subjects=(), problem="nobody was found"), destination())
    assert answer.best is None
    assert answer.no_crop is not None
    assert "--eyes" in answer.no_crop.ways_out[0].sentence


def test_a_bystander_is_left_out_whole() -> None:
    scene = found(4000, 3000, person(1500, 1300, 500), bystander(person(2150, 1300, 400)))
    best = propose(scene, destination("16/9")).best
    assert best is not None
    box, other = best.crop.box, scene.subjects[1].head_box
    outside = box.x1 <= other.x0 or box.x0 >= other.x1 or box.y1 <= other.y0
    inside = box.x0 <= other.x0 and box.x1 >= other.x1 and box.y1 >= other.y1
    assert outside or inside


def test_a_circle_keeps_the_eyes_and_chin_within_its_arc() -> None:
    best = propose(LOOSE, destination("1/1", frame=Frame.CIRCLE)).best
    assert best is not None
    middle, radius = best.crop.box.centre, best.crop.box.width / 2
    subject = LOOSE.subjects[0]
    for point in (subject.left_eye, subject.right_eye, subject.chin.at):
        assert middle.to(point) < radius


def test_covered_zones_stay_clear_of_the_face() -> None:
    lid = CoveredZone(
        "lid",
        NormalBox(Fraction(0), Fraction(0), Fraction(1), Fraction(1, 4)),
        KeepClear.HEAD,
        False,
    )
    best = propose(LOOSE, destination(covered=(lid,))).best
    assert best is not None
    box = best.crop.box
    assert box.y0 + box.height / 4 <= LOOSE.subjects[0].hair_top.at.y


def test_never_rules_hold_in_every_live_area() -> None:
    middle = LiveArea(
        "small", NormalBox(Fraction(3, 10), Fraction(0), Fraction(7, 10), Fraction(1))
    )
    scene = found(6000, 3000, person(3000, 1200, 900))
    best = propose(scene, destination("3/1", live_areas=(middle,))).best
    assert best is not None
    live = middle.box.of(best.crop.box)
    assert live.x0 < scene.subjects[0].left_eye.x
    assert live.x1 > scene.subjects[0].right_eye.x


def test_a_spread_offers_both_pages_and_keeps_the_gutter_free() -> None:
    scene = found(6000, 4000, person(3000, 1500, 800))
    spread = destination("7/5", gutter=Gutter(Fraction(1, 2), Fraction(1, 40)))
    answer = propose(scene, spread)
    sides = set()
    for one in answer.proposals:
        box, head = one.crop.box, scene.subjects[0].head_box
        fold = box.x0 + box.width / 2
        assert head.x1 <= fold - box.width / 40 or head.x0 >= fold + box.width / 40
        sides.add(scene.subjects[0].eyes.x < fold)
    assert sides == {True, False}


def test_an_identity_picture_of_two_people_is_no_crop() -> None:
    pair = found(4000, 3000, person(1500, 1300, 500), person(2500, 1300, 500))
    share = Band(0.71, 0.8, 0.6, 0.89)
    answer = propose(pair, destination("35/45", head_share=share))
    assert answer.best is None
    assert answer.no_crop is not None
    assert "one person" in answer.no_crop.sentence


def test_an_identity_picture_has_the_head_share_it_asks() -> None:
    share = Band(0.7111, 0.8, 0.6, 0.8889)
    best = propose(LOOSE, destination("35/45", head_share=share)).best
    assert best is not None
    k = 700 / best.crop.box.height
    assert 0.7111 - 0.005 <= k <= 0.8 + 0.005


def test_an_uncropped_frame_is_the_whole_master() -> None:
    whole = destination(shape="1/1", full_frame=True)
    whole = replace(whole, shape=ShapeRange(Fraction(1, 10), Fraction(10)))
    answer = propose(LOOSE, whole)
    assert [one.crop.box for one in answer.proposals] == [PixelBox(0, 0, 3000, 4000)]


def test_a_standing_figure_is_not_turned_on_its_side_for_a_tie() -> None:
    figure = found(2000, 3000, person(1000, 1200, 380))
    print_size = destination("2/3", turnable=True, framing=(Shot.CLOSE_UP, Shot.HALF_LENGTH))
    best = propose(figure, print_size).best
    assert best is not None
    assert best.orientation == "upright"


def test_a_row_too_wide_for_a_tall_frame_says_to_name_fewer_principals() -> None:
    row = found(5000, 1500, *(person(600 + 950 * i, 700, 350) for i in range(5)))
    answer = propose(row, destination("9/16"))
    assert answer.no_crop is not None
    assert "principals" in {way.kind for way in answer.no_crop.ways_out}


def test_a_crown_outside_the_master_may_stand_at_its_edge() -> None:
    close = found(2000, 2500, person(1000, 900, 2300))
    best = propose(close, destination(framing=(Shot.CLOSE_UP, Shot.BUST))).best
    assert best is not None
    assert rule(best, "crown").verdict is Verdict.HOLDS  # type: ignore[attr-defined]


def test_every_destination_is_answered_in_order() -> None:
    wanted = [destination(name="a"), destination("1/1", name="b")]
    assert [one.destination for one in propose_all(LOOSE, wanted)] == ["a", "b"]


# --- crops that somebody else made -----------------------------------------------------------


def test_a_crop_that_cuts_the_chin_breaks_a_never_rule() -> None:
    told = measure(LOOSE, destination(), Crop(PixelBox(900, 900, 1900, 1900)))
    assert told.verdict is Verdict.BREAKS
    assert told.cost[TIERS.index("never")] >= 1000
    assert rule(told, "chin").verdict is Verdict.BREAKS  # type: ignore[attr-defined]
    assert told.proposed_by == "photographer"


def test_a_limit_within_the_points_error_is_uncertain() -> None:
    unsure = found(3000, 4000, person(1500, 1600, 700, sigma=0.08))
    told = measure(unsure, destination(), Crop(PixelBox(700, 1190, 2300, 3190)))
    assert rule(told, "headroom").verdict is Verdict.UNCERTAIN  # type: ignore[attr-defined]


def test_a_straightened_crop_is_measured_in_its_own_axes() -> None:
    level = propose(LOOSE, destination()).best
    assert level is not None
    turned = measure(LOOSE, destination(), Crop(level.crop.box, straighten_deg=5.0))
    values = {one.rule: one.value for one in turned.measures}
    assert values["across"] is not None
    assert values["across"] != pytest.approx(0.5, abs=0.001)


def test_a_straightened_crop_whose_corner_leaves_the_master_breaks() -> None:
    told = measure(LOOSE, destination("3/4"), Crop(PixelBox(0, 0, 3000, 4000), straighten_deg=3.0))
    assert rule(told, "inside").verdict is Verdict.BREAKS  # type: ignore[attr-defined]


def test_the_same_scene_gets_the_same_answer() -> None:
    assert propose(LOOSE, destination()) == propose(LOOSE, destination())
