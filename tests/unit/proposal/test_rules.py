"""Each rule on one box, against the table of docs/composition.md worked out by hand.

One person in a master of 3000 x 4000: head 700 px, pupils at x 1402 and 1598, y 1600; skull top
1250, chin 1950, hair top 1208, hairline 1390, brows 1530; head box 1234..1766.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from cropper.destination.destination import (
    Across,
    Band,
    CoveredZone,
    Destination,
    Frame,
    Gutter,
    KeepClear,
    LiveArea,
)
from cropper.destination.shots import Shot
from cropper.geometry import Crop, Extent, NormalBox, PixelBox, Point, Size
from cropper.proposal.measuring import measure
from cropper.proposal.proposal import Measure
from cropper.proposal.rules import RULES, rule_named
from cropper.subject.subject import EyesState, Finding, Joint
from tests.unit.proposal.people import bystander, destination, found, person

SITTER = person(1500, 1600, 700)
ALONE = found(3000, 4000, SITTER)
PAIR = found(3000, 4000, SITTER, person(2500, 1600, 700))
EVERYWHERE = (Fraction(0), Fraction(1))


def measured(finding: Finding, asked: Destination, box: PixelBox, rule: str) -> Measure:
    told = measure(finding, asked, Crop(box)).measures
    return next(one for one in told if one.rule == rule)


def at(x0: int, y0: int, width: int, height: int) -> PixelBox:
    return PixelBox(x0, y0, x0 + width, y0 + height)


def strip(top: Fraction, bottom: Fraction, keep: KeepClear) -> CoveredZone:
    return CoveredZone("strip", NormalBox(Fraction(0), top, Fraction(1), bottom), keep)


SQUARE = destination("1")
PASS = destination("1", head_share=Band(0.5, 0.6, 0.4, 0.7), eye_line=Band(0.4, 0.5, 0.3, 0.6))
HALF = Fraction(1, 2)
NARROW = LiveArea("narrow", NormalBox(Fraction(1, 4), Fraction(0), Fraction(3, 4), Fraction(1)))
ROUND = destination("1", frame=Frame.CIRCLE, head_height=(0.5, 0.75))
CASES = {
    "eyes kept down": (SQUARE, at(1000, 1600, 1000, 1000), 0.08),
    "eyes kept across": (SQUARE, at(1402, 1100, 1000, 1000), 0.08),
    # the circle's middle 190 px above the eyes, radius 200: |(98, 190)| = 213.8
    "eyes kept in the circle": (ROUND, at(1300, 1210, 400, 400), 13.785 / 700 + 0.08),
    "face kept": (SQUARE, at(1000, 740, 1000, 1000), 0.1),  # lower lip at 1810
    "gutter": (replace(SQUARE, gutter=Gutter(HALF, Fraction(1, 40))), at(500, 1000, 2000, 2000),
               (50 + 252) / 700),
    # the strip ends at 1600; the eyes' box begins at 1600 - 56
    "zones over eyes": (replace(SQUARE, covered=(strip(Fraction(0), HALF, KeepClear.EYES),)),
                        at(1000, 1100, 1000, 1000), 0.08),
    "head in the template": (PASS, at(500, 1000, 2000, 2000), (0.4 - 0.35) / 0.35),
    "eyes in the template": (PASS, at(1000, 800, 1000, 1000), (0.8 - 0.6) * 1000 / 700),
    "identity pose": (PASS, at(1000, 1100, 1000, 1000), 0.0),
    "kept": (SQUARE, at(0, 500, 1500, 1500), 0.75),
    "orientation": (destination("3/2", turnable=True), at(0, 500, 1500, 1000), 1.0),
    "pixels": (destination("1", delivered=Size(1100, 1100)), at(1000, 1100, 1000, 1000), 2.0),
    "lateral": (SQUARE, at(1150, 1100, 1000, 1000), 1.0),  # u = .35, the master's own .5
    "chin": (SQUARE, at(1000, 992, 1000, 1000), 0.5),  # .06 heads of room
    "body": (SQUARE, at(1000, 1100, 1000, 1000), 1100 / 700 / 0.3),
    "eyes low": (SQUARE, at(1000, 1060, 1000, 1000), 1.0),
    "eyes high": (SQUARE, at(1000, 1410, 1000, 1000), 1.0),
    "eye line": (SQUARE, at(1000, 1100, 1000, 1000), (0.5 - 1 / 3 - (1 / 3 - 0.333)) / 0.12),
    "eye line asked": (destination("1", eye_line=Band(0.3, 0.35, 0.2, 0.4)),
                       at(1000, 1150, 1000, 1000), 1.0),
    "crown cut": (SQUARE, at(1000, 1300, 1000, 1000), 1.0),
    "crown": (SQUARE, at(1000, 1229, 1000, 1000), 35 / 70),  # clear 41 px up, meant 35 px down
    "headroom little": (SQUARE, at(1000, 1188, 1000, 1000), 0.5),
    "headroom": (SQUARE, at(1000, 978, 1000, 1000), 1.0),
    "headroom asked": (destination("1", headroom=Band(0.05, 0.1, 0.0, 0.2)),
                       at(1000, 1028, 1000, 1000), 1.0),
    "sides": (SQUARE, at(1367, 1100, 1000, 1000), 1.0),  # 133 of 532 px outside
    "covered face": (replace(SQUARE, covered=(strip(Fraction(0), Fraction(43, 100),
                                                    KeepClear.FACE),)),
                     at(1000, 1100, 1000, 1000), (1530 - 1390) / 560 / 0.25),
    "live area": (replace(SQUARE, live_areas=(NARROW,)), at(1099, 1100, 1100, 1100),
                  126 / 504 / 0.25),  # the face 1248..1752, the area from 1374
    "head small": (ROUND, at(500, 600, 2000, 2000), (0.5 - 0.371) / 0.15),
    "head large": (ROUND, at(1050, 1150, 900, 900), (742 / 900 - 0.75) / 0.15),
    "circle across": (ROUND, at(1075, 1079, 1000, 1000), 75 / 500 / 0.15),
    "circle down": (ROUND, at(1000, 1154, 1000, 1000), 75 / 500 / 0.15),
    "head on target": (PASS, at(800, 900, 1400, 1400), 0.0),
}  # fmt: skip


@pytest.mark.parametrize("rule", CASES)
def test_a_rule_is_missed_by_as_much_as_the_page_says(rule: str) -> None:
    asked, box, excess = CASES[rule]
    told = measured(ALONE, asked, box, rule)
    record = rule_named(rule)
    assert told.excess == pytest.approx(excess, abs=1e-4)
    if record.hard:
        assert told.cost == pytest.approx(100 * (1 + excess) if excess else 0, abs=0.1)
    else:
        counted = excess if record.linear else excess**2
        assert told.cost == pytest.approx(record.weight * min(counted, record.cap), abs=1e-3)


def test_a_shot_size_is_asked_for_in_heads_below_the_skull_top() -> None:
    asked = destination("1", framing=(Shot.HALF_LENGTH, Shot.HALF_LENGTH))
    told = measured(ALONE, asked, at(1000, 1250, 1000, 1000), "framing")
    assert told.value == pytest.approx(1000 / 700)
    assert told.excess > 0
    assert "less of the body" in told.sentence


def test_the_worst_person_of_a_group_counts_at_the_sides() -> None:
    told = measured(PAIR, SQUARE, at(1000, 600, 1633, 1633), "sides of the group")
    assert told.excess == pytest.approx(1.0)  # of the second head 133 of 532 px are outside


def test_an_edge_through_an_elbow_counts_fully_and_one_between_joints_not() -> None:
    arm = (
        Joint("left_shoulder", Point(1300, 2200), 1.0),
        Joint("left_elbow", Point(1300, 3000), 1.0),
    )
    armed = found(3000, 4000, replace(SITTER, joints=arm))
    assert measured(armed, SQUARE, at(1000, 2000, 1000, 1000), "joints").excess == 1
    assert measured(armed, SQUARE, at(1000, 1600, 1000, 1000), "joints").excess == 0


@pytest.mark.parametrize(("right", "excess"), [(2234, 0.0), (2500, 1.0), (2766, 0.0)])
def test_another_head_costs_most_when_it_is_cut_in_half(right: int, excess: float) -> None:
    beside = found(3000, 4000, SITTER, bystander(person(2500, 1600, 700)))
    told = measured(beside, SQUARE, at(right - 1200, 900, 1200, 1200), "bystanders")
    assert told.excess == pytest.approx(excess)


def test_a_body_without_a_head_is_another_head_as_high_as_its_upper_quarter() -> None:
    standing = replace(ALONE, bodies=(Extent(2234, 1200, 2766, 3200),))
    told = measured(standing, SQUARE, at(1300, 900, 1200, 1200), "bystanders")
    assert told.excess == pytest.approx(1.0)


def test_where_nobody_is_known_four_tenths_of_the_free_height_lie_above() -> None:
    nobody = replace(ALONE, subjects=())
    assert measured(nobody, SQUARE, at(0, 400, 3000, 3000), "place down").excess == 0
    assert measured(nobody, SQUARE, at(0, 850, 3000, 3000), "place down").excess == pytest.approx(
        1.0, abs=0.01
    )


def test_a_destination_may_ask_for_room_in_front_of_a_turned_head() -> None:
    turned = found(3000, 4000, person(1500, 1600, 700, turn=0.8))
    asked = destination("1", across=Across.LEAD)
    assert measured(turned, asked, at(1140, 1100, 1000, 1000), "lateral").excess == 0  # u = .36
    assert measured(turned, asked, at(1000, 1100, 1000, 1000), "lateral").excess > 0.6


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ({"eyes_state": EyesState.CLOSED}, "not clearly open"),
        ({"right_eye": Point(1598, 1630)}, "tilted"),
        ({"turn": 0.2}, "turned to the side"),
        ({"mouth_open": 0.7}, "mouth is open"),
    ],
)
def test_an_identity_picture_tells_what_an_authority_would_send_back(
    fault: dict[str, object], said: str
) -> None:
    faulty = found(3000, 4000, replace(SITTER, **fault))  # type: ignore[arg-type]
    told = measured(faulty, PASS, at(1000, 1100, 1000, 1000), "identity pose")
    assert told.excess == 0.5
    assert said in told.sentence


def test_what_the_masters_edge_forces_on_every_place_of_a_size_costs_nothing() -> None:
    tight = found(1000, 1500, person(500, 300, 700))  # hair above the master
    told = measured(tight, SQUARE, at(0, 0, 1000, 1000), "headroom little")
    assert told.excess == 0
    low = found(1000, 1000, person(500, 700, 400))
    assert measured(low, SQUARE, at(0, 0, 1000, 1000), "eyes low").excess == 0


def test_rules_come_hard_first_then_by_weight_each_under_its_own_name() -> None:
    assert len({one.name for one in RULES}) == len(RULES)
    order = [(not one.hard, -one.weight) for one in RULES]
    assert order == sorted(order)
    with pytest.raises(KeyError):
        rule_named("no such rule")


@pytest.mark.parametrize("rule", RULES, ids=lambda one: one.name)
def test_every_rule_names_its_source_and_says_what_it_asks(rule: object) -> None:
    for field in ("title", "source", "unit"):
        assert getattr(rule, field)
