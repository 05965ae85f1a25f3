"""Verdicts and sentences of crops: the planner's, the photographer's, and those made elsewhere."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from cropper.destination.destination import ShapeRange
from cropper.geometry import Crop, Extent, PixelBox, Size
from cropper.proposal.measuring import measure, shot_of
from cropper.proposal.planning import propose
from cropper.proposal.proposal import Proposal, Verdict
from cropper.subject.subject import Finding, Origin
from tests.unit.proposal.people import destination, found, person

LOOSE = found(3000, 4000, person(1500, 1600, 700))
PAIR = found(4000, 3000, person(1500, 1300, 500), person(2700, 1300, 500))
GOOD = PixelBox(500, 850, 2500, 3350)


def told(finding: Finding, box: PixelBox, **changes: Any) -> Proposal:
    return measure(finding, destination(**changes), Crop(box))


def verdict_of(one: Proposal, rule: str) -> Verdict:
    return next(each.verdict for each in one.measures if each.rule == rule)


def test_a_crop_that_misses_nothing_an_eye_sees_is_good() -> None:
    best = told(LOOSE, GOOD)
    assert best.verdict is Verdict.HOLDS
    assert best.proposed_by == "photographer"
    assert len(best.reasons) == 1


def test_a_crop_that_cuts_an_eye_off_is_a_problem_and_says_so() -> None:
    cut = told(LOOSE, PixelBox(1500, 1000, 2700, 2500))
    assert cut.verdict is Verdict.BREAKS
    assert cut.cost > 100
    assert "An eye is cut or too near an edge." in cut.reasons


def test_a_crop_that_cuts_the_mouth_off_is_a_problem_and_says_so() -> None:
    cut = told(LOOSE, PixelBox(900, 500, 1900, 1750))
    assert cut.verdict is Verdict.BREAKS
    assert "Cuts the mouth off." in cut.reasons


def test_a_hard_rule_missed_within_the_points_error_is_to_be_checked() -> None:
    sure, unsure = (found(3000, 4000, person(1500, 1600, 700, sigma=s)) for s in (0.01, 0.1))
    box = PixelBox(900, 500, 1900, 1775)  # .05 heads above the lower lip
    assert verdict_of(told(sure, box), "face kept") is Verdict.BREAKS
    assert verdict_of(told(unsure, box), "face kept") is Verdict.UNCERTAIN


def test_hair_cut_a_little_is_fine_and_told_in_percent() -> None:
    cut = told(LOOSE, PixelBox(1100, 1258, 1900, 2258))
    assert cut.verdict is Verdict.BENDS
    assert "Cuts the hair 5 % of the height below its top." in cut.reasons


def test_what_adds_less_than_an_eye_sees_is_not_told() -> None:
    wide = told(LOOSE, PixelBox(560, 850, 2560, 3350))  # .47 across for .5: adds .008
    assert wide.verdict is Verdict.HOLDS
    lateral = next(one for one in wide.measures if one.rule == "lateral")
    assert 0 < lateral.cost < 0.02


@pytest.mark.parametrize("origin", [Origin.ESTIMATED, Origin.NONE])
def test_eyes_that_are_only_estimated_are_to_be_checked(origin: Origin) -> None:
    guessed = replace(LOOSE, subjects=(replace(LOOSE.subjects[0], eyes_from=origin),))
    doubtful = told(guessed, GOOD)
    assert doubtful.verdict is Verdict.UNCERTAIN
    assert doubtful.reasons[0].startswith("The eyes are only estimated")


def test_somebody_whose_head_was_not_found_is_to_be_checked() -> None:
    standing = replace(LOOSE, bodies=(Extent(2600, 900, 2990, 3900),))
    assert told(standing, GOOD).verdict is Verdict.UNCERTAIN


def test_where_nobody_was_found_every_crop_is_to_be_checked() -> None:
    nobody = replace(LOOSE, subjects=(), problem="Nobody was found.")
    empty = told(nobody, GOOD)
    assert empty.verdict is Verdict.UNCERTAIN
    assert empty.reasons[0] == "Nobody was found."


def test_a_crop_that_leaves_somebody_out_says_so() -> None:
    one = told(PAIR, PixelBox(1000, 600, 2100, 1975))
    assert one.leaves_out == 1
    assert one.verdict is Verdict.UNCERTAIN
    assert one.reasons[0] == "Leaves out one person."


def test_a_drawn_crop_without_anybodys_eyes_is_measured_for_everybody() -> None:
    feet = told(PAIR, PixelBox(1000, 2000, 1800, 3000))
    assert feet.leaves_out == 0
    assert feet.verdict is Verdict.BREAKS


def test_a_crop_past_the_master_is_a_problem() -> None:
    past = told(LOOSE, PixelBox(-100, 1000, 1900, 3500))
    assert verdict_of(past, "inside") is Verdict.BREAKS
    turned = measure(LOOSE, destination("3/4"), Crop(PixelBox(0, 0, 3000, 4000), straighten_deg=3))
    assert verdict_of(turned, "inside") is Verdict.BREAKS


def test_a_straightened_crop_is_measured_in_its_own_axes() -> None:
    values = [
        next(each.value for each in one.measures if each.rule == "lateral")
        for one in (
            measure(LOOSE, destination(), Crop(GOOD, straighten_deg=turn)) for turn in (0.0, 5.0)
        )
    ]
    assert values[0] == pytest.approx(0.5)
    assert values[1] != pytest.approx(0.5, abs=0.005)


@pytest.mark.parametrize(
    ("needed", "verdict"),
    [(2000, Verdict.HOLDS), (2050, Verdict.BENDS), (2090, Verdict.BENDS), (2150, Verdict.BREAKS)],
)
def test_a_few_pixels_too_few_are_fine_and_more_are_a_problem(
    needed: int, verdict: Verdict
) -> None:
    one = told(LOOSE, GOOD, delivered=Size(needed, needed * 5 // 4))
    assert one.verdict is verdict
    if verdict is not Verdict.HOLDS:
        assert f"Needs {needed} px, has 2000." in one.reasons


def test_a_demand_for_ppi_is_told_with_what_it_needs() -> None:
    page = (Fraction(254), Fraction(3175, 10))
    one = told(LOOSE, GOOD, page_mm=page, least_ppi=Fraction(240), ppi=Fraction(300))
    assert one.verdict is Verdict.BREAKS
    assert "Needs 2400 px for 240 ppi, has 2000." in one.reasons


def test_the_whole_master_is_told_as_uncropped_whoever_stands_at_its_edge() -> None:
    whole = replace(destination(full_frame=True), shape=ShapeRange(Fraction(1, 10), Fraction(10)))
    edge = found(3000, 4000, person(20, 1600, 700))
    one = propose(edge, whole).best
    assert one is not None
    assert one.verdict is Verdict.HOLDS
    assert one.reasons == ("The whole picture, uncropped.",)


def test_a_crop_is_told_in_at_most_two_sentences() -> None:
    for shape in ("9/16", "4/5", "1", "16/9", "3"):
        for one in propose(PAIR, destination(shape)).proposals:
            assert 1 <= len(one.reasons) <= 2
            assert all(said.endswith(".") for said in one.reasons)


def test_a_shot_is_named_by_its_depth_below_the_skull_top() -> None:
    assert shot_of(1.7).value == "close-up"
    assert shot_of(7.5).value == "full length"
