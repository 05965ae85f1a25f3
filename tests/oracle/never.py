"""Tier 0 of docs/composition.md: each named never-rule on arrays of boxes.

Every function answers, box by box, whether the rule holds. Readings chosen where the page leaves
room are listed in :mod:`tests.oracle.checker`.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np

from cropper.destination.destination import CoveredZone, Destination, KeepClear
from cropper.destination.shots import Shot
from cropper.geometry import Extent
from cropper.subject.subject import Subject
from tests.oracle.boxes import (
    Boxes,
    Disc,
    Flags,
    Rect,
    edge,
    nested,
    part,
    primary,
    rectangle,
    seen,
    whole_or_absent,
)
from tests.oracle.case import Case

EYES_CLEAR = 0.08
CHIN_CLEAR = 0.04


def inside(case: Case, boxes: Boxes) -> Flags:
    within = (boxes.x0 >= 0) & (boxes.y0 >= 0)
    within &= boxes.x0 + boxes.w <= case.master.width
    return within & (boxes.y0 + boxes.h <= case.master.height)


def pixels(case: Case, boxes: Boxes) -> Flags:
    sizes = sorted(set(zip(boxes.w.tolist(), boxes.h.tolist(), strict=True)))
    enough = {size for size in sizes if _enough_pixels(case.destination, *size)}
    pairs = zip(boxes.w.tolist(), boxes.h.tolist(), strict=True)
    return np.fromiter((pair in enough for pair in pairs), dtype=np.bool_, count=len(boxes))


def _enough_pixels(destination: Destination, w: int, h: int) -> bool:
    most = destination.greatest_enlargement
    inches = destination.width_in_inches()
    if destination.delivered is not None:
        enlarged = Fraction(destination.delivered.width, w)
    elif destination.long_edge_px is not None and not destination.may_be_smaller:
        enlarged = Fraction(destination.long_edge_px, max(w, h))
    else:
        enlarged = Fraction(0)
    if enlarged > most:
        return False
    if destination.least_ppi is None or inches is None:
        return True
    return w / inches >= destination.least_ppi


def eyes(case: Case, boxes: Boxes) -> Flags:
    held = np.ones(len(boxes), dtype=np.bool_)
    for frame in seen(case.destination, boxes):
        for one in case.principals:
            for eye in (one.left_eye, one.right_eye):
                room = EYES_CLEAR * one.head_height_px
                held &= _has_room(frame, eye.x, eye.y, room)
    return held


def _has_room(frame: Rect | Disc, x: float, y: float, room: float) -> Flags:
    if isinstance(frame, Disc):
        return np.hypot(x - frame.x, y - frame.y) <= frame.radius - room
    across = (x - frame.left >= room) & (frame.right - x >= room)
    return across & (y - frame.top >= room) & (frame.bottom - y >= room)


def chin(case: Case, boxes: Boxes) -> Flags:
    held = np.ones(len(boxes), dtype=np.bool_)
    if case.destination.framing[0] is Shot.EXTREME_CLOSE_UP:
        return held
    for frame in seen(case.destination, boxes):
        for one in case.principals:
            at, room = one.chin.at, CHIN_CLEAR * one.head_height_px
            if isinstance(frame, Disc):
                held &= _has_room(frame, at.x, at.y, room)
            else:
                held &= (at.x >= frame.left) & (at.x <= frame.right)
                held &= (at.y >= frame.top) & (frame.bottom - at.y >= room)
    return held


def gutter(case: Case, boxes: Boxes) -> Flags:
    held = np.ones(len(boxes), dtype=np.bool_)
    fold = case.destination.gutter
    if fold is None or fold.margin == 0:
        return held
    trim = case.destination.trim
    wide = trim.x1 - trim.x0
    start = edge(boxes.x0, boxes.w, trim.x0 + (fold.at - fold.margin) * wide)
    end = edge(boxes.x0, boxes.w, trim.x0 + (fold.at + fold.margin) * wide)
    for one in case.principals:
        held &= ~((one.head_box.x0 < end) & (one.head_box.x1 > start))
    return held


def kept_clear(zone: CoveredZone, one: Subject) -> Extent | None:
    """The box of ``one`` that ``zone`` must not meet; None if it is empty."""
    head = one.head_height_px
    if zone.keep_clear is KeepClear.EYES:
        left, right = one.left_eye.x - 0.12 * head, one.right_eye.x + 0.12 * head
        top = one.brows.at.y
        bottom = max(one.left_eye.y, one.right_eye.y) + 0.08 * head
    elif zone.keep_clear is KeepClear.FACE:
        left, right = one.eyes.x - 0.36 * head, one.eyes.x + 0.36 * head
        top, bottom = one.hairline.at.y, one.chin.at.y
    else:
        left, right = one.head_box.x0, one.head_box.x1
        top = one.hairline.at.y if zone.hair_may_enter else one.hair_top.at.y
        bottom = one.chin.at.y
    return Extent(left, top, right, bottom) if left < right and top < bottom else None


def zones(case: Case, boxes: Boxes) -> Flags:
    held = np.ones(len(boxes), dtype=np.bool_)
    for zone in case.destination.covered:
        cover = part(boxes, nested(zone.box, case.destination.trim))
        for one in case.principals:
            clear = kept_clear(zone, one)
            if clear is None:
                continue
            meets = (cover.left < clear.x1) & (cover.right > clear.x0)
            held &= ~(meets & (cover.top < clear.y1) & (cover.bottom > clear.y0))
    return held


def bystanders(case: Case, boxes: Boxes) -> Flags:
    held = np.ones(len(boxes), dtype=np.bool_)
    for frame in seen(case.destination, boxes):
        for other in case.bystanders:
            held &= whole_or_absent(frame, other.head_box)
    return held


def heads_whole(case: Case, boxes: Boxes) -> Flags:
    held = np.ones(len(boxes), dtype=np.bool_)
    if len(case.principals) < 2:
        return held
    for frame in seen(case.destination, boxes):
        for one in case.principals:
            if isinstance(frame, Disc):
                held &= _has_room(frame, one.head_box.x0, one.eyes.y, 0.0)
                held &= _has_room(frame, one.head_box.x1, one.eyes.y, 0.0)
            else:
                held &= (one.head_box.x0 >= frame.left) & (one.head_box.x1 <= frame.right)
    return held


def one_head(case: Case, boxes: Boxes) -> Flags:
    share, band = case.destination.head_share, case.destination.eye_line
    if share is None:
        return np.ones(len(boxes), dtype=np.bool_)
    if len(case.principals) > 1:
        return np.zeros(len(boxes), dtype=np.bool_)
    frame = rectangle(primary(case.destination, boxes))
    k = case.heads_mean / frame.high
    held: Flags = (k >= share.limit_least) & (k <= share.limit_most)
    if band is not None:
        e = (case.principals[0].eyes.y - frame.top) / frame.high
        held &= (e >= band.limit_least) & (e <= band.limit_most)
    return held


Rule = Callable[[Case, Boxes], Flags]


def _but_in_full(rule: Rule) -> Rule:
    """``rule``, except for a full frame: that owes its pixels alone."""

    def held(case: Case, boxes: Boxes) -> Flags:
        if case.destination.full_frame:
            return np.ones(len(boxes), dtype=np.bool_)
        return rule(case, boxes)

    return held


NEVER: dict[str, Rule] = {
    "inside": _but_in_full(inside),
    "eyes": _but_in_full(eyes),
    "chin": _but_in_full(chin),
    "pixels": pixels,
    "gutter": _but_in_full(gutter),
    "zones": _but_in_full(zones),
    "bystanders": _but_in_full(bystanders),
    "heads whole": _but_in_full(heads_whole),
    "one head": _but_in_full(one_head),
}
"""The named never-rules, in an order that is quick to sieve by."""
