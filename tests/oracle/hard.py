"""The hard rules of docs/composition.md: by how many heads a box misses each.

At or below 0 nothing is missed.
"""

from __future__ import annotations

import numpy as np

from cropper.geometry import Extent
from cropper.subject.subject import EyesState, Origin, Subject
from tests.oracle.boxes import Boxes, Floats, Rect, covering, one_box, primary, seen, shared
from tests.oracle.case import Case, tilt

EYES_CLEAR = 0.08
HALF_FACE = 0.36


def worst(each: list[Floats]) -> Floats:
    """The greatest, box by box."""
    greatest: Floats = each[0]
    for one in each[1:]:
        greatest = np.maximum(greatest, one)
    return greatest


def eyes_down(case: Case, boxes: Boxes) -> Floats:
    missed = []
    for frame in held(case, boxes):
        for one in case.people:
            head, (high, low) = one.head_height_px, heights(one)
            above = margin(high, head)
            below = margin(case.master.height - low, head)
            missed += [(frame.top - high + above) / head, (low + below - frame.bottom) / head]
    return worst(missed)


def eyes_across(case: Case, boxes: Boxes) -> Floats:
    missed = []
    for frame in held(case, boxes):
        for one in case.people:
            head, first, last = one.head_height_px, one.left_eye.x, one.right_eye.x
            before = margin(first, head)
            after = margin(case.master.width - last, head)
            missed += [(frame.left - first + before) / head, (last + after - frame.right) / head]
    return worst(missed)


def held(case: Case, boxes: Boxes) -> list[Rect]:
    """The frames that must hold the eyes: every seen one; of two or more people the primary."""
    if len(case.people) > 1:
        return [primary(case.destination, boxes)]
    return list(seen(case.destination, boxes))


def margin(beyond: float, head: float) -> float:
    """The room that a pupil keeps to an edge, where the master has ``beyond`` px past it."""
    return min(EYES_CLEAR * head, max(beyond, 0.0))


def eyes_in_circle(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    x, y = (frame.left + frame.right) / 2, (frame.top + frame.bottom) / 2
    missed = []
    for one in case.people:
        high, low = heights(one)
        across = np.maximum(np.abs(one.left_eye.x - x), np.abs(one.right_eye.x - x))
        down = np.maximum(np.abs(high - y), np.abs(low - y))
        missed.append((np.hypot(across, down) - frame.wide / 2) / one.head_height_px)
    return worst(missed) + EYES_CLEAR


def heights(one: Subject) -> tuple[float, float]:
    """y of the higher and of the lower pupil."""
    return min(one.left_eye.y, one.right_eye.y), max(one.left_eye.y, one.right_eye.y)


def face(case: Case, boxes: Boxes) -> Floats:
    frame = primary(case.destination, boxes)
    w, h = max(case.allowed, key=lambda size: size[0] * size[1])
    most = primary(case.destination, one_box(0, 0, w, h)).high[0]
    missed = [np.zeros(1)]
    for one in case.people:
        lip = one.chin.at.y + 0.2 * (one.skull_top.at.y - one.chin.at.y)
        if lip - one.brows.at.y > most:  # no crop of the shape holds that face
            continue
        missed += [
            (frame.top - one.brows.at.y) / one.head_height_px,
            (lip - frame.bottom) / one.head_height_px,
        ]
    return worst(missed)


def gutter(case: Case, boxes: Boxes) -> Floats:
    fold = case.destination.gutter
    if fold is None:
        return np.zeros(1)
    frame = primary(case.destination, boxes)
    at, margin = frame.left + float(fold.at) * frame.wide, float(fold.margin) * frame.wide
    return HALF_FACE + worst(
        [(margin - np.abs(one.eyes.x - at)) / one.head_height_px for one in case.people]
    )


def zones(case: Case, boxes: Boxes) -> Floats:
    missed = []
    for zone in case.destination.covered:
        for one in case.people:
            head, (high, low) = one.head_height_px, heights(one)
            eyes = Extent(
                one.left_eye.x - 0.12 * head,
                high - 0.08 * head,
                one.right_eye.x + 0.12 * head,
                low + 0.08 * head,
            )
            cover = covering(case.destination, boxes, zone, eyes)
            across = shared(cover.left, cover.right, eyes.x0, eyes.x1)
            down = shared(cover.top, cover.bottom, eyes.y0, eyes.y1)
            missed.append(np.minimum(across, down) / head)
    return worst(missed)


def template_head(case: Case, boxes: Boxes) -> Floats:
    band = case.destination.head_share
    if band is None:
        return np.zeros(1)
    k = case.mean_head / primary(case.destination, boxes).high
    missed: Floats = np.maximum(band.limit_least - k, k - band.limit_most) / k
    return missed


def template_eyes(case: Case, boxes: Boxes) -> Floats:
    band = case.destination.eye_line
    if band is None:
        return np.zeros(1)
    frame = primary(case.destination, boxes)
    e = (case.eyes.y - frame.top) / frame.high
    off: Floats = np.maximum(band.limit_least - e, e - band.limit_most)
    return off * frame.high / case.mean_head


def pose(case: Case, boxes: Boxes) -> Floats:  # noqa: ARG001 - the same for every box
    return np.full(1, 0.5 if any(wrong_pose(one) for one in case.people) else 0.0)


def wrong_pose(one: Subject) -> bool:
    """Whether the pose spoils an identity picture."""
    known = one.eyes_state is EyesState.OPEN and one.eyes_from in {Origin.FOUND, Origin.HAND}
    turned = abs(one.turn) > 0.15
    return not known or tilt(one) > 5 or turned or (one.mouth_open or 0.0) > 0.5
