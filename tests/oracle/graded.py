"""Tiers 1 to 7 of docs/composition.md on arrays of boxes.

Each tier's function returns its sum of weight x excess^2 (``kept`` its thousandths); the table
GRADED at the end gives them in order, quantised. Readings chosen where the page leaves room are
listed in :mod:`tests.oracle.checker`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from cropper.destination.destination import Across, Frame, KeepClear
from cropper.destination.shots import DEPTHS, Shot
from cropper.subject.subject import Subject
from tests.oracle.boxes import (
    Boxes,
    Disc,
    Flags,
    Floats,
    Rect,
    Whole,
    nested,
    part,
    primary,
    rectangle,
)
from tests.oracle.case import Case
from tests.oracle.limbs import limb_cost, limbs_of, squared


def top_above(case: Case, boxes: Boxes, x: float) -> Floats:
    """Where the sky ends above ``x``: the frame's top, the lowest zone there, or the arc."""
    frame = primary(case.destination, boxes)
    if isinstance(frame, Disc):
        reach = frame.radius**2 - (x - frame.x) ** 2
        return np.where(reach >= 0, frame.y - np.sqrt(np.maximum(reach, 0.0)), frame.y)
    top = frame.top
    for zone in case.destination.covered:
        hard = zone.keep_clear is KeepClear.HEAD and not zone.hair_may_enter
        if not hard or zone.box.y0 != 0:
            continue
        cover = part(boxes, nested(zone.box, case.destination.trim))
        over = (cover.left <= x) & (x <= cover.right)
        top = np.where(over, np.maximum(top, cover.bottom), top)
    return top


def depth(case: Case, boxes: Boxes) -> Floats:
    """d: heads between the tallest person's skull top and the bottom of the primary frame."""
    bottom = rectangle(primary(case.destination, boxes)).bottom
    return (bottom - case.tallest.skull_top.at.y) / case.heads_mean


def beyond(value: Floats, least: Floats | float, most: Floats | float) -> Floats:
    """Distance of ``value`` from the band least..most, 0 inside it."""
    return np.maximum(np.maximum(least - value, value - most), 0.0)


def called_for(case: Case, one: Subject) -> bool:
    """Whether a cut through this crown was asked for, or made by the master itself."""
    asked = case.destination.framing[0] in {Shot.BIG_CLOSE_UP, Shot.EXTREME_CLOSE_UP}
    return asked or crown_outside(one)


def crown_outside(one: Subject) -> bool:
    """Whether the master itself has cut this crown."""
    return one.hair_top.at.y < 0 or not one.crown_in_frame


def framing(case: Case, boxes: Boxes) -> Floats:
    frame = rectangle(primary(case.destination, boxes))
    share = case.destination.head_share
    if share is not None:
        return squared(beyond(case.heads_mean / frame.high, share.least, share.most) / 0.05)
    tightest, loosest = case.destination.framing
    least: float = DEPTHS[tightest].least
    most: Floats | float = DEPTHS[loosest].most
    if len(case.principals) > 1:
        left = min(one.head_box.x0 for one in case.principals)
        right = max(one.head_box.x1 for one in case.principals)
        across_all = (right - left + 0.5 * case.heads_mean) * (frame.high / frame.wide)
        most = np.maximum(most, across_all / case.heads_mean)
    off = np.maximum(beyond(depth(case, boxes), least, most), _forced(case, frame, least, most))
    return squared(0.25 * np.ceil(off / 0.25 - 1e-9) / 0.5)


def _forced(case: Case, frame: Rect, least: float, most: Floats | float) -> Floats:
    """What the size alone is off the band least..most, in heads, wherever it is placed."""
    mean, top = case.heads_mean, case.tallest
    hair = (top.skull_top.at.y - top.hair_top.at.y) / mean
    cut = (top.brows.at.y - 0.12 * top.head_height_px - top.hair_top.at.y) / mean
    too_deep = frame.high / mean - (most + hair) / 0.8
    too_tight = (least + hair - cut) - frame.high / mean
    return np.maximum(np.maximum(too_deep, too_tight), 0.0)


def crown_of(case: Case, boxes: Boxes, one: Subject) -> tuple[Floats, Flags]:
    """One person's crown: its cost, and whether that is the cost of a cut."""
    head, hair = one.head_height_px, one.hair_top.at.y
    top = top_above(case, boxes, one.hair_top.at.x)
    high = rectangle(primary(case.destination, boxes)).high
    air = 0.04 if case.destination.frame is Frame.CIRCLE else 0.02
    clear_to = hair - np.maximum(air * high, one.hair_top.sigma_px)
    below_hair, above_brows = hair + 0.08 * head, one.brows.at.y - 0.12 * head
    hairline = one.hairline.at.y
    cuts = [
        (below_hair, min(above_brows, hairline - 0.05 * head)),
        (max(below_hair, hairline + 0.05 * head), above_brows),
    ]
    if crown_outside(one):
        cuts.append((-np.inf, 0.05 * head))
    whole = squared(np.maximum(top - clear_to, 0.0) / (0.1 * head))
    away = np.full(len(boxes), np.inf)
    for start, end in cuts:
        if start <= end:
            away = np.minimum(away, beyond(top, start, end))
    by_cut = squared(away / (0.1 * head)) + (0.0 if called_for(case, one) else 0.25)
    return np.minimum(whole, by_cut), by_cut < whole


def crown(case: Case, boxes: Boxes) -> Floats:
    total = np.zeros(len(boxes))
    for one in case.principals:
        total += crown_of(case, boxes, one)[0]
    return total


def eye_line(case: Case, boxes: Boxes) -> Floats:
    frame = rectangle(primary(case.destination, boxes))
    heights = [one.eyes.y for one in case.principals]
    highest = (min(heights) - frame.top) / frame.high
    lowest = (max(heights) - frame.top) / frame.high
    if len(heights) > 1:
        off = np.maximum(np.maximum(0.15 - highest, lowest - 0.55), 0.0)
        return squared(off / 0.05)
    own = case.destination.eye_line
    if own is not None:
        scale = max(own.least - own.limit_least, own.limit_most - own.most, 0.01)
        return squared(beyond(highest, own.least, own.most) / scale)
    d = depth(case, boxes)
    shots = [d <= 2.75, d <= 3.85, d <= 6]
    least = np.select(shots, [0.303, 0.15, 0.12], 0.08)
    most = np.select(shots, [0.363, 0.35, 0.30], 0.25)
    return squared(beyond(highest, least, most) / np.where(d <= 2.75, 0.087, 0.05))


def headroom(case: Case, boxes: Boxes) -> Floats:
    frame = rectangle(primary(case.destination, boxes))
    hair = case.tallest.hair_top.at
    room = (hair.y - top_above(case, boxes, hair.x)) / frame.high
    own = case.destination.headroom
    if own is None:
        least: Floats | float = np.where(depth(case, boxes) <= 2.75, 0.03, 0.06)
        most = 0.12
    else:
        least, most = own.least, own.most
    low = np.maximum(least - room, 0.0) / 0.08
    high = np.maximum(room - most, 0.0) / 0.08
    decided = crown_of(case, boxes, case.tallest)[1]
    cut = 0.0 if called_for(case, case.tallest) else 1.0
    return np.where(decided, cut, squared(low) + 1.5 * squared(high))


def joints(case: Case, boxes: Boxes) -> Floats:
    frame = rectangle(primary(case.destination, boxes))
    total = np.zeros(len(boxes))
    for one in case.principals:
        neck = (frame.bottom - one.skull_top.at.y) / one.head_height_px
        total += squared(np.maximum(np.minimum(neck - 1.18, 1.42 - neck), 0.0) / 0.12)
        for limb in limbs_of(one):
            total += limb_cost(frame, limb, one.head_height_px)
    quarters: Floats = 0.25 * np.floor(4 * total + 0.5)
    return quarters + squared(np.maximum(off_across(case, boxes)[1] - 1, 0.0))


def off_across(case: Case, boxes: Boxes) -> tuple[Floats, Floats]:
    """u, and its distance from the target (on a spread the nearer page's), in scales of .15."""
    frame = rectangle(primary(case.destination, boxes))
    places = [one.eyes.x for one in case.principals]
    u = ((min(places) + max(places)) / 2 - frame.left) / frame.wide
    rule = case.destination.across
    if len(places) > 1:
        least, most = (0.0, 1.0) if rule is Across.FREE else (0.46, 0.54)
    elif case.destination.gutter is not None:
        return u, np.minimum(beyond(u, 0.23, 0.27), beyond(u, 0.73, 0.77)) / 0.15
    else:
        least, most = across_band(rule, case.principals[0].turn)
    return u, beyond(u, least, most) / 0.15


def across(case: Case, boxes: Boxes) -> Floats:
    u, off = off_across(case, boxes)
    total = squared(off)
    if len(case.principals) > 1:
        return total
    frame, one = rectangle(primary(case.destination, boxes)), case.principals[0]
    past = np.maximum(frame.left - one.head_box.x0, 0.0)
    past = past + np.maximum(one.head_box.x1 - frame.right, 0.0)
    total += squared(past / one.head_box.width / 0.25)
    if case.destination.gutter is not None:
        away = ((u > 0.5) & (one.turn > 0.25)) | ((u < 0.5) & (one.turn < -0.25))
        total += 0.25 * away.astype(np.float64)
    return total


def across_band(rule: Across, turn: float) -> tuple[float, float]:
    """Target band of u for one person."""
    if rule is Across.FREE:
        return 0.0, 1.0
    if rule is Across.CENTRE:
        return 0.48, 0.52
    share = min(max((abs(turn) - 0.25) / 0.25, 0.0), 1.0)
    least, most = (0.33, 0.40) if turn > 0 else (0.60, 0.67)
    return 0.48 + share * (least - 0.48), 0.52 + share * (most - 0.52)


def kept(case: Case, boxes: Boxes) -> Whole:
    """1 - w h / greatest, in thousandths, rounded half up in whole numbers throughout."""
    if case.destination.full_frame:
        return np.zeros(len(boxes), dtype=np.int64)
    lost = case.greatest - boxes.w * boxes.h
    rounded: Whole = (2000 * lost + case.greatest) // (2 * case.greatest)
    return rounded


def thousandths(total: Floats) -> Whole:
    """floor(1000 x sum + .5)."""
    rounded: Floats = np.floor(1000 * total + 0.5)
    return rounded.astype(np.int64)


def _tier(sums: Callable[[Case, Boxes], Floats]) -> Callable[[Case, Boxes], Whole]:
    """``sums`` in thousandths; 0 for a full frame, which nothing is asked of but its pixels."""

    def cost(case: Case, boxes: Boxes) -> Whole:
        if case.destination.full_frame:
            return np.zeros(len(boxes), dtype=np.int64)
        return thousandths(sums(case, boxes))

    return cost


GRADED: dict[str, Callable[[Case, Boxes], Whole]] = {
    "framing": _tier(framing),
    "crown": _tier(crown),
    "eye_line": _tier(eye_line),
    "headroom": _tier(headroom),
    "joints": _tier(joints),
    "across": _tier(across),
    "kept": kept,
}
"""The graded tiers in their order."""
