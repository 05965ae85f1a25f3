"""The table of docs/composition.md: every rule, when it speaks, what it weighs, where it moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import numpy as np

from cropper.destination.destination import Across, KeepClear
from tests.oracle import hard, soft
from tests.oracle.boxes import Boxes, Floats, live_areas, one_box
from tests.oracle.case import Case
from tests.oracle.limbs import limbs_of


class Moves(Enum):
    """What a rule's measure depends on beside the size of a box."""

    NOT = 0
    DOWN = 1
    ACROSS = 2
    BOTH = 3


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table. ``weight`` of None: hard."""

    name: str
    excess: Callable[[Case, Boxes], Floats]
    moves: Moves
    speaks: Callable[[Case], bool]
    weight: float | None = None
    forced: bool = False
    linear: bool = False
    cap: float = 6.0

    def adds(self, excess: Floats) -> Floats:
        """What ``excess``, less what is forced, adds to the sum."""
        if self.weight is None:
            return np.where(excess > 0, 100 * (1 + excess), 0.0)
        over = np.maximum(excess, 0.0)
        capped: Floats = np.minimum(over if self.linear else over**2, self.cap)
        return self.weight * capped


def whole_master(case: Case) -> bool:
    return case.destination.full_frame


def people(case: Case) -> bool:
    return bool(case.people) and not whole_master(case)


def one(case: Case) -> bool:
    return len(case.people) == 1 and not whole_master(case)


def group(case: Case) -> bool:
    return len(case.people) > 1 and not whole_master(case)


def crops(case: Case) -> bool:
    return not whole_master(case)


def circle(case: Case) -> bool:
    return people(case) and case.round


def no_eye_line(case: Case) -> bool:
    return people(case) and case.destination.eye_line is None


def one_no_eye_line(case: Case) -> bool:
    return one(case) and case.destination.eye_line is None


def eye_line(case: Case) -> bool:
    return people(case) and case.destination.eye_line is not None


def no_headroom(case: Case) -> bool:
    return people(case) and case.destination.headroom is None


def headroom(case: Case) -> bool:
    return people(case) and case.destination.headroom is not None


def template(case: Case) -> bool:
    return people(case) and case.destination.head_share is not None


def template_eyes(case: Case) -> bool:
    return template(case) and eye_line(case)


def head_height(case: Case) -> bool:
    return people(case) and case.destination.head_height is not None


def framing(case: Case) -> bool:
    return people(case) and case.destination.framing is not None


def gutter(case: Case) -> bool:
    return people(case) and case.destination.gutter is not None


def zones(case: Case) -> bool:
    return people(case) and bool(case.destination.covered)


def face_zones(case: Case) -> bool:
    return zones(case) and any(
        zone.keep_clear is not KeepClear.EYES for zone in case.destination.covered
    )


def areas(case: Case) -> bool:
    return people(case) and bool(live_areas(case.destination, one_box(0, 0, 1, 1)))


def limbs(case: Case) -> bool:
    return people(case) and any(limbs_of(person) for person in case.people)


def others(case: Case) -> bool:
    return crops(case) and bool(case.others)


def nobody(case: Case) -> bool:
    return crops(case) and not case.people


def not_free(case: Case) -> bool:
    return crops(case) and case.destination.across is not Across.FREE


def either_way(case: Case) -> bool:
    shape = case.destination.shape
    return crops(case) and (case.destination.turnable or shape.least < 1 < shape.most)


def delivers(case: Case) -> bool:
    return any(soft.least_pixels(case))


NOT, DOWN, ACROSS, BOTH = Moves.NOT, Moves.DOWN, Moves.ACROSS, Moves.BOTH

RULES = (
    Rule("eyes kept down", hard.eyes_down, DOWN, people),
    Rule("eyes kept across", hard.eyes_across, ACROSS, people),
    Rule("eyes kept in the circle", hard.eyes_in_circle, BOTH, circle),
    Rule("face kept", hard.face, DOWN, people),
    Rule("gutter", hard.gutter, ACROSS, gutter),
    Rule("zones over eyes", hard.zones, BOTH, zones),
    Rule("head in the template", hard.template_head, NOT, template),
    Rule("eyes in the template", hard.template_eyes, DOWN, template_eyes),
    Rule("identity pose", hard.pose, NOT, template),
    Rule("kept", soft.kept, NOT, crops, 1, linear=True),
    Rule("orientation", soft.orientation, NOT, either_way, 0.5),
    Rule("pixels", soft.pixels, NOT, delivers, 0.2),
    Rule("lateral", soft.lateral, ACROSS, not_free, 0.2, forced=True),
    Rule("chin", soft.chin, DOWN, people, 0.12, forced=True),
    Rule("body", soft.body, DOWN, people, 0.1, forced=True),
    Rule("eyes low", soft.eyes_low, DOWN, no_eye_line, 0.2, forced=True),
    Rule("eyes high", soft.eyes_high, DOWN, one_no_eye_line, 0.2, forced=True),
    Rule("eye line", soft.eye_line, DOWN, one_no_eye_line, 0.02, forced=True),
    Rule("eye line asked", soft.eye_line_asked, DOWN, eye_line, 1, forced=True),
    Rule("framing", soft.framing, DOWN, framing, 0.5),
    Rule("crown cut", soft.crown_cut, DOWN, people, 0.3, forced=True),
    Rule("crown", soft.crown, DOWN, people, 0.05),
    Rule("headroom little", soft.headroom_little, DOWN, no_headroom, 0.05, forced=True, cap=4),
    Rule("headroom", soft.headroom, DOWN, no_headroom, 0.15, forced=True),
    Rule("slack", soft.slack, DOWN, no_headroom, 0.05),
    Rule("headroom asked", soft.headroom_asked, DOWN, headroom, 0.3),
    Rule("sides", soft.sides, ACROSS, one, 0.4, forced=True),
    Rule("sides of the group", soft.sides, ACROSS, group, 1),
    Rule("joints", soft.joints, BOTH, limbs, 0.25, linear=True),
    Rule("covered face", soft.covered_face, BOTH, face_zones, 0.15),
    Rule("bystanders", soft.bystanders, BOTH, others, 0.2, linear=True),
    Rule("live area", soft.live_area, ACROSS, areas, 0.3),
    Rule("head small", soft.head_small, NOT, head_height, 2),
    Rule("head large", soft.head_large, NOT, head_height, 0.7),
    Rule("circle across", soft.circle_across, ACROSS, circle, 0.08),
    Rule("circle down", soft.circle_down, DOWN, circle, 0.08),
    Rule("head on target", soft.head_on_target, NOT, template, 2),
    Rule("place down", soft.place_down, DOWN, nobody, 0.2),
)
LEFT_OUT = 0.5
"""What each principal who is left out adds."""


def speaking(case: Case, moves: Moves) -> list[Rule]:
    """The rules of that kind that have something to say."""
    return [rule for rule in RULES if rule.moves is moves and rule.speaks(case)]
