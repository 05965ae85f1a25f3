"""The soft rules of docs/composition.md: each one's excess, before weight, cap and square.

What a rule does not ask for is 0; only ``body`` may be negative.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from cropper.destination.destination import Across, KeepClear
from cropper.destination.shots import DEPTHS
from cropper.geometry import Extent
from cropper.subject.subject import Subject
from tests.oracle.boxes import (
    Boxes,
    Floats,
    covering,
    live_areas,
    primary,
    share_under,
    shared,
)
from tests.oracle.case import Case
from tests.oracle.hard import HALF_FACE, worst
from tests.oracle.limbs import limb_cost, limbs_of


def over(excess: Floats) -> Floats:
    """Only what is above 0."""
    positive: Floats = np.maximum(excess, 0.0)
    return positive


def beyond(value: Floats, least: float, most: float) -> Floats:
    """Distance of ``value`` from least..most, 0 inside."""
    return over(np.maximum(least - value, value - most))


# --- about the size alone ------------------------------------------------------------------


def kept(case: Case, boxes: Boxes) -> Floats:
    return 1 - boxes.w * boxes.h / case.greatest


def orientation(case: Case, boxes: Boxes) -> Floats:
    if case.master.width > case.master.height:
        return (boxes.w < boxes.h).astype(np.float64)
    return (boxes.w > boxes.h).astype(np.float64)


def pixels(case: Case, boxes: Boxes) -> Floats:
    return over(needed_over_there(case, boxes) - 1) / 0.05


def needed_over_there(case: Case, boxes: Boxes) -> Floats:
    """How many times the pixels are needed that are there; 0: nothing is needed."""
    wide, longer = least_pixels(case)
    return np.maximum(float(wide) / boxes.w, float(longer) / np.maximum(boxes.w, boxes.h))


def least_pixels(case: Case) -> tuple[Fraction, Fraction]:
    """The least width and the least long side that the destination asks for."""
    asked = case.destination
    wide, longer = Fraction(0), Fraction(0)
    if asked.delivered is not None:
        wide = Fraction(asked.delivered.width) / asked.greatest_enlargement
    elif asked.long_edge_px is not None and not asked.may_be_smaller:
        longer = Fraction(asked.long_edge_px) / asked.greatest_enlargement
    inches = asked.width_in_inches()
    if asked.least_ppi is not None and inches is not None:
        wide = max(wide, asked.least_ppi * inches)
    return wide, longer


def head_k(case: Case, boxes: Boxes) -> Floats:
    """k: lowest chin to the highest hair top, as a share of the seen height."""
    chin = max(one.chin.at.y for one in case.people)
    return (chin - case.tallest.hair_top.at.y) / primary(case.destination, boxes).high


def head_small(case: Case, boxes: Boxes) -> Floats:
    least = case.destination.head_height[0] if case.destination.head_height else 0.0
    return over(least - head_k(case, boxes)) / 0.15


def head_large(case: Case, boxes: Boxes) -> Floats:
    most = case.destination.head_height[1] if case.destination.head_height else np.inf
    return over(head_k(case, boxes) - most) / 0.15


def head_on_target(case: Case, boxes: Boxes) -> Floats:
    band = case.destination.head_share
    if band is None:
        return np.zeros(1)
    k = case.mean_head / primary(case.destination, boxes).high
    return beyond(k, band.least, band.most) / 0.05


# --- down ----------------------------------------------------------------------------------


def chin_room(case: Case, boxes: Boxes) -> list[Floats]:
    """Room below each chin, in its heads."""
    bottom = primary(case.destination, boxes).bottom
    return [(bottom - one.chin.at.y) / one.head_height_px for one in case.people]


def chin(case: Case, boxes: Boxes) -> Floats:
    return over(worst([(0.12 - room) / 0.12 for room in chin_room(case, boxes)]))


def body(case: Case, boxes: Boxes) -> Floats:
    least: Floats = np.minimum.reduce(chin_room(case, boxes))
    return least / 0.3


def eye_height(case: Case, boxes: Boxes) -> Floats:
    """e."""
    frame = primary(case.destination, boxes)
    return (case.eyes.y - frame.top) / frame.high


def eyes_low(case: Case, boxes: Boxes) -> Floats:
    return over(eye_height(case, boxes) - 0.45) / 0.09


def eyes_high(case: Case, boxes: Boxes) -> Floats:
    return over(0.28 - eye_height(case, boxes)) / 0.09


def eye_line(case: Case, boxes: Boxes) -> Floats:
    away: Floats = np.abs(eye_height(case, boxes) - 1 / 3)
    return away / 0.12


def eye_line_asked(case: Case, boxes: Boxes) -> Floats:
    band = case.destination.eye_line
    if band is None:
        return np.zeros(1)
    scale = max(band.least - band.limit_least, band.limit_most - band.most, 0.01)
    return beyond(eye_height(case, boxes), band.least, band.most) / scale


def depth(case: Case, boxes: Boxes) -> Floats:
    """d: heads between the tallest one's skull top and the bottom of the frame."""
    bottom = primary(case.destination, boxes).bottom
    return (bottom - case.tallest.skull_top.at.y) / case.mean_head


def framing(case: Case, boxes: Boxes) -> Floats:
    if case.destination.framing is None:
        return np.zeros(1)
    tightest, loosest = case.destination.framing
    d = depth(case, boxes)
    return beyond(d, DEPTHS[tightest].least, DEPTHS[loosest].most) / 0.5


def crown_whole(one: Subject) -> bool:
    """Whether the master has all of the hair."""
    return one.crown_in_frame and one.hair_top.at.y >= 0


def crown_cut(case: Case, boxes: Boxes) -> Floats:
    top = primary(case.destination, boxes).top
    cut = [top > one.hair_top.at.y for one in case.people if crown_whole(one)]
    return np.logical_or.reduce(cut).astype(np.float64) if cut else np.zeros(1)


def crown(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    away = []
    for one in case.people:
        head, hair, hairline = one.head_height_px, one.hair_top.at.y, one.hairline.at.y
        air = np.minimum(0.02 * frame.high, max(hair, 0.0))
        off = over(frame.top - (hair - air))
        below, above = hair + 0.08 * head, one.brows.at.y - 0.12 * head
        cuts = [
            (below, min(above, hairline - 0.05 * head)),
            (max(below, hairline + 0.05 * head), above),
        ]
        if not crown_whole(one):
            cuts.append((-np.inf, 0.05 * head))
        for start, end in cuts:
            if start <= end:
                off = np.minimum(off, beyond(frame.top, start, end))
        away.append(off / (0.1 * head))
    return worst(away)


def room_above(case: Case, boxes: Boxes) -> Floats:
    """r."""
    frame = primary(case.destination, boxes)
    return (case.tallest.hair_top.at.y - frame.top) / frame.high


def headroom_little(case: Case, boxes: Boxes) -> Floats:
    r, high = room_above(case, boxes), primary(case.destination, boxes).high
    wanted = np.minimum(0.04, max(case.tallest.hair_top.at.y, 0.0) / high)
    return np.where(r < 0, 0.0, over(wanted - r) / 0.04)


def headroom(case: Case, boxes: Boxes) -> Floats:
    return over(room_above(case, boxes) - 0.15) / 0.08


def slack(case: Case, boxes: Boxes) -> Floats:
    cut_figure = depth(case, boxes) < 7
    return np.where(cut_figure, over(room_above(case, boxes) - 0.25) / 0.08, 0.0)


def headroom_asked(case: Case, boxes: Boxes) -> Floats:
    band = case.destination.headroom
    if band is None:
        return np.zeros(1)
    return beyond(room_above(case, boxes), band.least, band.most) / 0.08


def circle_down(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    off: Floats = np.abs(case.union.centre.y - (frame.top + frame.bottom) / 2)
    return off / (frame.high / 2) / 0.15


def place_down(case: Case, boxes: Boxes) -> Floats:
    off: Floats = np.abs(boxes.y0 - 0.4 * (case.master.height - boxes.h))
    return off / boxes.h / 0.15


# --- across --------------------------------------------------------------------------------


def lateral(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    x, least, most = wanted_across(case)
    return beyond((x - frame.left) / frame.wide, least, most) / 0.15


def wanted_across(case: Case) -> tuple[float, float, float]:
    """The x that has a wanted place, and the least and the most of that place."""
    rule, wide = case.destination.across, case.master.width
    if not case.people:
        return wide / 2, 0.5, 0.5
    if rule is Across.CENTRE:
        one_head = case.destination.head_share is not None
        return (case.eyes.x if one_head else case.union.centre.x), 0.5, 0.5
    own = case.eyes.x / wide
    if rule is Across.LEAD and len(case.people) == 1:
        return case.eyes.x, *lead(own, case.people[0].turn)
    return case.eyes.x, own, own


def lead(own: float, turn: float) -> tuple[float, float]:
    """Where one person's eyes belong who looks out of the frame: least and most of u."""
    share = min(max((abs(turn) - 0.25) / 0.25, 0.0), 1.0)
    least, most = (0.33, 0.40) if turn > 0 else (0.60, 0.67)
    if turn > 0:
        least = min(least, own)
    else:
        most = max(most, own)
    return own + share * (least - own), own + share * (most - own)


def sides(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    heads = [one.head_box for one in case.people]
    return worst(
        [
            (over(frame.left - box.x0) + over(box.x1 - frame.right)) / box.width / 0.25
            for box in heads
        ]
    )


def live_area(case: Case, boxes: Boxes) -> Floats:
    lost = []
    for area in live_areas(case.destination, boxes):
        for one in case.people:
            half = HALF_FACE * one.head_height_px
            left, right = one.eyes.x - half, one.eyes.x + half
            inside = over(shared(area.left, area.right, left, right))
            lost.append((2 * half - inside) / (2 * half) / 0.25)
    return worst(lost)


def circle_across(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    off: Floats = np.abs(case.union.centre.x - (frame.left + frame.right) / 2)
    return off / (frame.wide / 2) / 0.15


# --- both ways -----------------------------------------------------------------------------


def joints(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    total = np.zeros(1)
    for one in case.people:
        for limb in limbs_of(one):
            total = total + limb_cost(frame, limb, one.head_height_px)
    quarters: Floats = 0.25 * np.floor(4 * total + 0.5)
    return quarters


def covered_face(case: Case, boxes: Boxes) -> Floats:
    shares = []
    for one in case.people:
        total = np.zeros(1)
        for zone in case.destination.covered:
            box = kept_box(one, zone.keep_clear, hair_may_enter=zone.hair_may_enter)
            if box is not None:
                total = total + share_under(covering(case.destination, boxes, zone, box), box)
        shares.append(total / 0.25)
    return worst(shares)


def kept_box(one: Subject, keep: KeepClear, *, hair_may_enter: bool) -> Extent | None:
    """What of ``one`` a zone keeps clear; None where that is the eyes, or nothing at all."""
    head = one.head_box
    half, hairline, low = HALF_FACE * one.head_height_px, one.hairline.at.y, one.chin.at.y
    if keep is KeepClear.EYES:
        return None
    if keep is KeepClear.FACE:
        edges = (one.eyes.x - half, hairline, one.eyes.x + half, low)
    else:
        edges = (head.x0, hairline if hair_may_enter else one.hair_top.at.y, head.x1, low)
    return Extent(*edges) if edges[0] < edges[2] and edges[1] < edges[3] else None


def bystanders(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    total = np.zeros(1)
    for box, weight in case.others:
        inside = share_under(frame, box)
        total = total + weight * 4 * inside * (1 - inside)
    return total
