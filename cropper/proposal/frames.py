"""Seen frames of many boxes at once, and what is measured on them.

Boxes come as broadcastable float arrays (x0, y0, w, h): a vertical measure on (sizes, places, 1)
and a horizontal one on (sizes, 1, places) cost no more than they must. Pixels of the master.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cropper.proposal.scene import Scene, Seen, Zone

Floats = NDArray[np.float64]


class Boxes(NamedTuple):
    """Whole-pixel boxes as broadcastable float arrays."""

    x0: Floats
    y0: Floats
    w: Floats
    h: Floats


class Frame(NamedTuple):
    """A seen frame in master pixels, as broadcastable arrays."""

    left: Floats
    top: Floats
    right: Floats
    bottom: Floats

    @property
    def width(self) -> Floats:
        """Seen width, px."""
        return self.right - self.left

    @property
    def height(self) -> Floats:
        """Seen height, px."""
        return self.bottom - self.top


class Circle(NamedTuple):
    """The seen circle in master pixels."""

    x: Floats
    y: Floats
    radius: Floats


def frame_of(boxes: Boxes, seen: Seen) -> Frame:
    """Where a seen frame lies in the master."""
    return Frame(
        boxes.x0 + seen.x0 * boxes.w,
        boxes.y0 + seen.y0 * boxes.h,
        boxes.x0 + seen.x1 * boxes.w,
        boxes.y0 + seen.y1 * boxes.h,
    )


def circle_of(frame: Frame) -> Circle:
    """The circle inscribed in a frame's shorter side."""
    return Circle(
        (frame.left + frame.right) / 2,
        (frame.top + frame.bottom) / 2,
        np.minimum(frame.width, frame.height) / 2,
    )


def primary(scene: Scene, boxes: Boxes, seen: Seen | None = None) -> Frame:
    """The frame that graded rules are measured on; in a circle, its bounding square."""
    frame = frame_of(boxes, seen or scene.seen[0])
    if not scene.circle:
        return frame
    ring = circle_of(frame)
    return Frame(
        ring.x - ring.radius, ring.y - ring.radius, ring.x + ring.radius, ring.y + ring.radius
    )


def top_above(scene: Scene, boxes: Boxes, frame: Frame, hair_x: float) -> Floats:
    """What headroom counts from, above ``hair_x``: edge, lowest covered zone, or arc (y, px)."""
    if scene.circle:
        ring = circle_of(frame)
        across = hair_x - ring.x
        rise = np.sqrt(np.maximum(0.0, ring.radius * ring.radius - across * across))
        return np.asarray(ring.y - rise)
    top = frame.top
    for zone in scene.zones:
        if zone.holds_headroom_down and zone.y0 <= scene.seen[0].y0:
            top = _under(zone, boxes, top, hair_x)
    return top


def _under(zone: Zone, boxes: Boxes, top: Floats, hair_x: float) -> Floats:
    lid = frame_of(boxes, Seen(zone.name, zone.x0, zone.y0, zone.x1, zone.y1))
    spans = (lid.left <= hair_x) & (lid.right >= hair_x)
    return np.where(spans, np.maximum(top, lid.bottom), top)


def eye_line(scene: Scene, frame: Frame) -> Floats:
    """E: eye line from the seen top, as a share of the seen height."""
    ys = [person.eye_y for person in scene.people]
    return ((min(ys) + max(ys)) / 2 - frame.top) / frame.height


def eyes_across(scene: Scene, frame: Frame) -> Floats:
    """U: eyes from the seen left, as a share of the seen width."""
    xs = [person.eye_x for person in scene.people]
    return ((min(xs) + max(xs)) / 2 - frame.left) / frame.width


def headroom(scene: Scene, boxes: Boxes, frame: Frame) -> Floats:
    """R: hair top of the tallest from what headroom counts from, as a share of the seen height."""
    person = scene.tallest
    return (person.hair_y - top_above(scene, boxes, frame, person.hair_x)) / frame.height


def depth(scene: Scene, frame: Frame) -> Floats:
    """D: how deep the frame reaches below the tallest skull top, in heads [cut_lines]."""
    return (frame.bottom - scene.tallest.skull_y) / scene.mean_head
