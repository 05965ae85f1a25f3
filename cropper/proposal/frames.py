"""Seen frames of one box or of many at once, and what is measured on them.

One box is four floats. Many are float arrays (x0, y0, w, h) of two axes that broadcast, rows and
places: a vertical measure on (rows, 1) and a horizontal one on (rows, places) cost no more than
they must. People, where many are measured at once, come first. Pixels of the master.
"""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

import numpy as np

from cropper.proposal.arithmetic import Amount, either, higher, lower, root
from cropper.proposal.people import Crown
from cropper.proposal.scene import Scene, Seen, Zone


class Boxes(NamedTuple):
    """Whole-pixel boxes: floats for one, broadcastable float arrays for many."""

    x0: Amount
    y0: Amount
    w: Amount
    h: Amount


class Frame(NamedTuple):
    """A seen frame in master pixels."""

    left: Amount
    top: Amount
    right: Amount
    bottom: Amount

    @property
    def width(self) -> Amount:
        """Seen width, px."""
        return self.right - self.left

    @property
    def height(self) -> Amount:
        """Seen height, px."""
        return self.bottom - self.top


class Circle(NamedTuple):
    """The seen circle in master pixels."""

    x: Amount
    y: Amount
    radius: Amount

    @property
    def square(self) -> Frame:
        """Its bounding square."""
        x, y, radius = self
        return Frame(x - radius, y - radius, x + radius, y + radius)


def frame_of(boxes: Boxes, seen: Seen) -> Frame:
    """Where a seen frame lies in the master."""
    if seen.whole:
        return Frame(boxes.x0, boxes.y0, boxes.x0 + boxes.w, boxes.y0 + boxes.h)
    return Frame(
        boxes.x0 + seen.x0 * boxes.w,
        boxes.y0 + seen.y0 * boxes.h,
        boxes.x0 + seen.x1 * boxes.w,
        boxes.y0 + seen.y1 * boxes.h,
    )


def circle_of(boxes: Boxes, seen: Seen) -> Circle:
    """The circle inscribed in a seen frame's shorter side; its radius follows from the size."""
    radius = lower((seen.x1 - seen.x0) * boxes.w, (seen.y1 - seen.y0) * boxes.h) / 2
    return Circle(
        boxes.x0 + (seen.x0 + seen.x1) / 2 * boxes.w,
        boxes.y0 + (seen.y0 + seen.y1) / 2 * boxes.h,
        radius,
    )


class Look:
    """What is measured on the primary frame of boxes (or on another seen one), each once.

    A look belongs to boxes and people; scenes that differ only in what they want may share it.
    """

    def __init__(self, scene: Scene, boxes: Boxes, seen: Seen | None = None) -> None:
        self.scene = scene
        self.boxes = boxes
        self.seen = seen or scene.seen[0]
        self.ring = circle_of(boxes, self.seen) if self.seen.round else None
        self.frame = self.ring.square if self.ring else frame_of(boxes, self.seen)
        many = isinstance(boxes.w, np.ndarray)
        self._tops: dict[int, Amount] = {}
        self.crown_costs: dict[int, tuple[Amount, Amount]] = {}
        self.crowns = scene.crowns_at_once if many else scene.crowns

    @cached_property
    def height(self) -> Amount:
        """Seen height, px."""
        return self.frame.height

    @cached_property
    def width(self) -> Amount:
        """Seen width, px; from the size alone, so that it does not vary with x0."""
        wide = (self.seen.x1 - self.seen.x0) * self.boxes.w
        if not self.seen.round:
            return wide
        return lower(wide, (self.seen.y1 - self.seen.y0) * self.boxes.h)

    @cached_property
    def eye_line(self) -> Amount:
        """E: eye line from the seen top, as a share of the seen height."""
        return (self.scene.eyes_middle[1] - self.frame.top) / self.height

    @cached_property
    def eyes_across(self) -> Amount:
        """U: eyes from the seen left, as a share of the seen width."""
        return (self.scene.eyes_middle[0] - self.frame.left) / self.width

    @cached_property
    def headroom(self) -> Amount:
        """R: hair top of the tallest from what headroom counts from, as a share of the height."""
        crown = self.scene.tallest_crown
        return (crown.hair_y - self.top_above(crown)) / self.height

    @cached_property
    def depth(self) -> Amount:
        """D: how deep the frame reaches below the tallest skull top, in heads [cut_lines]."""
        return (self.frame.bottom - self.scene.tallest.skull_y) / self.scene.mean_head

    def top_above(self, crown: Crown) -> Amount:
        """What headroom counts from, above the hair: edge, covered zone, or arc (y, px)."""
        if id(crown) not in self._tops:
            self._tops[id(crown)] = self._top_above(crown)
        return self._tops[id(crown)]

    def _top_above(self, crown: Crown) -> Amount:
        if self.ring:
            ring = self.ring
            across = crown.hair_x - ring.x
            return ring.y - root(higher(0.0, ring.radius * ring.radius - across * across))
        top = self.frame.top
        for zone in self.scene.lids:
            lid = lid_of(self.boxes, zone)
            spans = (lid.left <= crown.hair_x) & (lid.right >= crown.hair_x)
            top = either(spans, higher(top, lid.bottom), top)
        return top


def lid_of(boxes: Boxes, zone: Zone) -> Frame:
    """Where a covered zone lies in the master."""
    return frame_of(boxes, Seen(zone.name, zone.x0, zone.y0, zone.x1, zone.y1))
