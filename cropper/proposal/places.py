"""Where a crop of each size may lie: the open interval on each axis, and the places worth trying.

Never-rules about eyes, chin and master leave one interval per axis and size. Inside it the optimum
of each rule lies at an end, a target, or where a tolerance, a joint, a zone or a neighbour begins:
those places are tried, and a grid between them. When an axis is short every place is tried.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cropper.destination.shots import Shot
from cropper.proposal import house
from cropper.proposal.graded import band_of_u, cut_places
from cropper.proposal.scene import Scene, Seen

Whole = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sizes:
    """Candidate sizes, and where the primary frame's edges lie from the crop's corner (px)."""

    w: Floats
    h: Floats
    left: Floats
    top: Floats
    right: Floats
    bottom: Floats

    def pick(self, keep: NDArray[np.bool_]) -> Sizes:
        """The sizes for which ``keep`` is true."""
        return Sizes(
            self.w[keep],
            self.h[keep],
            self.left[keep],
            self.top[keep],
            self.right[keep],
            self.bottom[keep],
        )


@dataclass(frozen=True, slots=True)
class Span:
    """Least and greatest whole place of the crop's corner on one axis, per size."""

    least: Floats
    most: Floats


def sizes_of(scene: Scene, widths: Whole, heights: Whole) -> Sizes:
    """Make candidate sizes ready: the primary frame of each, the circle's square included."""
    w, h = widths.astype(np.float64), heights.astype(np.float64)
    seen = scene.seen[0]
    left, top, right, bottom = seen.x0 * w, seen.y0 * h, seen.x1 * w, seen.y1 * h
    if scene.circle:
        radius = np.minimum(right - left, bottom - top) / 2
        mid_x, mid_y = (left + right) / 2, (top + bottom) / 2
        left, right, top, bottom = mid_x - radius, mid_x + radius, mid_y - radius, mid_y + radius
    return Sizes(w, h, left, top, right, bottom)


def span_down(scene: Scene, sizes: Sizes) -> Span:
    """Where y0 may lie: eyes and chin in every seen frame, the crop in the master."""
    least, most = np.zeros_like(sizes.h), scene.size.height - sizes.h
    for seen in scene.seen:
        top, bottom = _ring_rows(sizes, seen)
        for person in scene.people:
            room = house.EYE_ROOM_HEADS * person.head
            high = min(person.left_y, person.right_y) - room
            low = max(person.left_y, person.right_y) + room
            if scene.destination.framing[0] is not Shot.EXTREME_CLOSE_UP:
                high = min(high, person.chin_y)
                low = max(low, person.chin_y + house.CHIN_ROOM_HEADS * person.head)
            least = np.maximum(least, low - bottom)
            most = np.minimum(most, high - top)
    return Span(np.ceil(least), np.floor(most))


def span_across(scene: Scene, sizes: Sizes) -> Span:
    """Where x0 may lie, as :func:`span_down`; in a group the heads stay whole."""
    least, most = np.zeros_like(sizes.w), scene.size.width - sizes.w
    for seen in scene.seen:
        left, right = _ring_columns(sizes, seen)
        for person in scene.people:
            room = house.EYE_ROOM_HEADS * person.head
            near, far = person.left_x - room, person.right_x + room
            if scene.destination.framing[0] is not Shot.EXTREME_CLOSE_UP:
                near, far = min(near, person.chin_x), max(far, person.chin_x)
            if scene.group and not seen.round:
                near, far = min(near, person.box.x0), max(far, person.box.x1)
            least = np.maximum(least, far - right)
            most = np.minimum(most, near - left)
    return Span(np.ceil(least), np.floor(most))


def _ring_rows(sizes: Sizes, seen: Seen) -> tuple[Floats, Floats]:
    if seen.round:
        return sizes.top, sizes.bottom
    return seen.y0 * sizes.h, seen.y1 * sizes.h


def _ring_columns(sizes: Sizes, seen: Seen) -> tuple[Floats, Floats]:
    if seen.round:
        return sizes.left, sizes.right
    return seen.x0 * sizes.w, seen.x1 * sizes.w


def places_down(scene: Scene, sizes: Sizes, span: Span, grid: int) -> Floats:
    """Whole y0 worth trying, shape (sizes, places), every one inside ``span``."""
    high = sizes.bottom - sizes.top
    ys = [person.eye_y for person in scene.people]
    middle = (min(ys) + max(ys)) / 2
    marks = [middle - e * high - sizes.top for e in _eye_marks(scene)]
    tops: list[Floats | float] = []
    tallest = scene.tallest
    own = scene.destination.headroom
    bands = (own.least, own.most) if own else (0.03, 0.06, 0.09, 0.12)
    tops += [tallest.hair_y - r * high for r in bands]
    for person in scene.people:
        least = house.CLEAR_LEAST_IN_CIRCLE if scene.circle else house.CLEAR_LEAST
        tops.append(person.hair_y - np.maximum(least * high, person.crown_sigma))
        for start, end in cut_places(person):
            tops += [max(start, 0.0), end, (max(start, 0.0) + end) / 2]
    marks += [top - sizes.top for top in tops]
    for zone in scene.zones:
        if zone.holds_headroom_down:
            marks += [top - zone.y1 * sizes.h for top in tops]
        for box in zone.boxes:
            marks += [box.y0 - zone.y1 * sizes.h, box.y1 - zone.y0 * sizes.h]
    marks += [bottom - sizes.bottom for bottom in _bottom_marks(scene)]
    for box in scene.bystanders:
        for seen in scene.seen:
            for edge in (seen.y0, seen.y1):
                marks += [box.y0 - edge * sizes.h, box.y1 - edge * sizes.h]
    return _tried(marks, span, grid)


def _eye_marks(scene: Scene) -> list[float]:
    own = scene.destination.eye_line
    if own is not None:
        return [own.least, (own.least + own.most) / 2, own.most]
    marks = [house.EYE_LINES[0].least, 1 / 3, house.EYE_LINES[0].most]
    if scene.wanted[1] > house.LOOSE_ABOVE_HEADS:
        marks += [end for band in house.EYE_LINES[1:] for end in (band.least, band.most)]
    return marks


def _bottom_marks(scene: Scene) -> list[float]:
    tallest = scene.tallest
    marks = [tallest.skull_y + d * scene.mean_head for d in scene.wanted if np.isfinite(d)]
    for person in scene.people:
        marks += [person.skull_y + end * person.head for end in house.NECK_HEADS]
    for limb in scene.limbs:
        room = house.JOINT_ROOM_HEADS * limb.head
        marks += [y + sign * room for _, y, _ in limb.joints for sign in (-1, 1)]
    return marks


def places_across(scene: Scene, sizes: Sizes, span: Span, grid: int) -> Floats:
    """Whole x0 worth trying, shape (sizes, places), every one inside ``span``."""
    wide = sizes.right - sizes.left
    xs = [person.eye_x for person in scene.people]
    middle = (min(xs) + max(xs)) / 2
    least, most = band_of_u(scene)
    targets = [least, (least + most) / 2, most]
    fold = scene.destination.gutter
    if fold is not None:
        targets += [1 - most, 1 - (least + most) / 2, 1 - least]
    marks = [middle - u * wide - sizes.left for u in targets]
    for person in scene.people:
        marks += [person.box.x0 - sizes.left, person.box.x1 - sizes.right]
        if fold is not None:
            seen = scene.seen[0]
            trim = (seen.x1 - seen.x0) * sizes.w
            for sign, edge in ((-1, person.box.x1), (1, person.box.x0)):
                at = seen.x0 * sizes.w + (float(fold.at) + sign * float(fold.margin)) * trim
                marks.append(edge - at)
    for zone in scene.zones:
        for box in zone.boxes:
            marks += [box.x0 - zone.x1 * sizes.w, box.x1 - zone.x0 * sizes.w]
    for box in scene.bystanders:
        for seen in scene.seen:
            for edge in (seen.x0, seen.x1):
                marks += [box.x0 - edge * sizes.w, box.x1 - edge * sizes.w]
    return _tried(marks, span, grid)


def _tried(marks: list[Floats], span: Span, grid: int) -> Floats:
    reach = float((span.most - span.least).max(initial=0.0))
    if reach < grid:
        return np.minimum(span.least[:, None] + np.arange(reach + 1), span.most[:, None])
    steps = np.linspace(0.0, 1.0, grid)
    even = np.rint(span.least[:, None] + (span.most - span.least)[:, None] * steps)
    exact = np.stack([np.broadcast_to(mark, span.least.shape) for mark in marks], axis=1)
    every = np.concatenate([np.floor(exact), np.ceil(exact), even], axis=1)
    return np.asarray(np.clip(every, span.least[:, None], span.most[:, None]))
