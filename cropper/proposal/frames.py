"""Seen frames of many boxes at once, and what is measured on them.

Boxes come as broadcastable float arrays (x0, y0, w, h): a vertical measure on (sizes, places, 1)
and a horizontal one on (sizes, 1, places) cost no more than they must. Pixels of the master.
"""

from __future__ import annotations

from functools import cached_property
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
    seen = seen or scene.seen[0]
    frame = frame_of(boxes, seen)
    if not seen.round:
        return frame
    ring = circle_of(frame)
    return Frame(
        ring.x - ring.radius, ring.y - ring.radius, ring.x + ring.radius, ring.y + ring.radius
    )


class Look:
    """What is measured on the primary frame of many boxes (or on another seen one), each once.

    A look belongs to boxes and people; scenes that differ only in what they want may share it.
    """

    def __init__(self, scene: Scene, boxes: Boxes, seen: Seen | None = None) -> None:
        self.scene = scene
        self.boxes = boxes
        self.seen = seen or scene.seen[0]
        self.frame = primary(scene, boxes, self.seen)
        self._tops: dict[float, Floats] = {}

    @cached_property
    def height(self) -> Floats:
        """Seen height, px."""
        return self.frame.height

    @cached_property
    def width(self) -> Floats:
        """Seen width, px; from the size alone, so that it does not vary with x0."""
        wide = (self.seen.x1 - self.seen.x0) * self.boxes.w
        if not self.seen.round:
            return wide
        return np.minimum(wide, (self.seen.y1 - self.seen.y0) * self.boxes.h)

    @cached_property
    def eye_line(self) -> Floats:
        """E: eye line from the seen top, as a share of the seen height."""
        ys = [person.eye_y for person in self.scene.people]
        return ((min(ys) + max(ys)) / 2 - self.frame.top) / self.height

    @cached_property
    def eyes_across(self) -> Floats:
        """U: eyes from the seen left, as a share of the seen width."""
        xs = [person.eye_x for person in self.scene.people]
        return ((min(xs) + max(xs)) / 2 - self.frame.left) / self.width

    @cached_property
    def headroom(self) -> Floats:
        """R: hair top of the tallest from what headroom counts from, as a share of the height."""
        person = self.scene.tallest
        return (person.hair_y - self.top_above(person.hair_x)) / self.height

    @cached_property
    def depth(self) -> Floats:
        """D: how deep the frame reaches below the tallest skull top, in heads [cut_lines]."""
        return (self.frame.bottom - self.scene.tallest.skull_y) / self.scene.mean_head

    def top_above(self, hair_x: float) -> Floats:
        """What headroom counts from, above ``hair_x``: edge, covered zone, or arc (y, px)."""
        if hair_x not in self._tops:
            self._tops[hair_x] = self._top_above(hair_x)
        return self._tops[hair_x]

    def _top_above(self, hair_x: float) -> Floats:
        if self.seen.round:
            ring = circle_of(self.frame)
            across = hair_x - ring.x
            rise = np.sqrt(np.maximum(0.0, ring.radius * ring.radius - across * across))
            return np.asarray(ring.y - rise)
        top = self.frame.top
        for zone in self.scene.zones:
            if zone.holds_headroom_down and zone.y0 <= self.scene.seen[0].y0:
                top = _under(zone, self.boxes, top, hair_x)
        return top


def _under(zone: Zone, boxes: Boxes, top: Floats, hair_x: float) -> Floats:
    lid = frame_of(boxes, Seen(zone.name, zone.x0, zone.y0, zone.x1, zone.y1))
    spans = (lid.left <= hair_x) & (lid.right >= hair_x)
    return np.where(spans, np.maximum(top, lid.bottom), top)
