"""Seen frames of one box or of many at once, and what is measured on them.

Sizes are arrays of shape (sizes, 1, 1), places down (sizes, places, 1), places across
(sizes, 1, places): what depends on one axis alone costs one axis alone. People, where they are
measured, come first, so that a rule sees all of them at once. Pixels of the master, y down.
"""

from __future__ import annotations

import numpy as np

from cropper.geometry import PixelBox
from cropper.proposal.people import Many
from cropper.proposal.scene import Scene, Seen, Zone


class Look:
    """What is measured on the primary frame of boxes (or on another seen one), each once.

    ``width`` and ``height`` of a circle are its diameter; ``left``, ``top``, ``right`` and
    ``bottom`` are then the sides of its bounding square. All in px of the master.
    """

    __slots__ = (
        "_through",
        "bottom",
        "eye_line",
        "h",
        "headroom",
        "height",
        "left",
        "middle_x",
        "middle_y",
        "right",
        "scene",
        "seen",
        "top",
        "w",
        "width",
        "x0",
        "y0",
    )
    width: Many
    height: Many
    left: Many
    top: Many
    right: Many
    bottom: Many
    middle_x: Many
    middle_y: Many
    eye_line: Many
    headroom: Many

    def __init__(  # noqa: PLR0917 - a box is four numbers
        self, scene: Scene, x0: Many, y0: Many, w: Many, h: Many, seen: Seen | None = None
    ) -> None:
        seen = seen or scene.seen[0]
        self.scene, self.seen = scene, seen
        self.x0, self.y0, self.w, self.h = x0, y0, w, h
        self._through: dict[str, Look] = {seen.name: self}
        whole = seen.x1 - seen.x0 == 1 and seen.y1 - seen.y0 == 1
        wide = w if whole else (seen.x1 - seen.x0) * w
        high = h if whole else (seen.y1 - seen.y0) * h
        if seen.round:
            wide = high = np.minimum(wide, high)
            self.middle_x = x0 + (seen.x0 + seen.x1) / 2 * w
            self.middle_y = y0 + (seen.y0 + seen.y1) / 2 * h
            self.left, self.top = self.middle_x - wide / 2, self.middle_y - high / 2
        else:
            self.left = x0 if whole else x0 + seen.x0 * w
            self.top = y0 if whole else y0 + seen.y0 * h
            self.middle_x, self.middle_y = self.left, self.top
        self.width, self.height = wide, high
        self.right, self.bottom = self.left + wide, self.top + high
        if scene.people:
            self.eye_line = (scene.eyes_y - self.top) / high
            self.headroom = (scene.tallest.hair_y - self.top) / high

    @classmethod
    def of(cls, scene: Scene, box: PixelBox) -> Look:
        """A look at one box."""
        one = np.ones((1, 1, 1))
        return cls(scene, box.x0 * one, box.y0 * one, box.width * one, box.height * one)

    def through(self, seen: Seen) -> Look:
        """The same boxes looked at through another seen frame."""
        if seen.name not in self._through:
            self._through[seen.name] = Look(self.scene, self.x0, self.y0, self.w, self.h, seen)
        return self._through[seen.name]

    @property
    def eyes_across(self) -> Many:
        """Eyes from the seen left, as a share of the seen width."""
        return (self.scene.eyes_x - self.left) / self.width

    @property
    def depth(self) -> Many:
        """How deep the frame reaches below the tallest skull top, in heads [cut_lines]."""
        return (self.bottom - self.scene.tallest.skull_y) / self.scene.mean_head

    @property
    def chin_room(self) -> Many:
        """Room below each chin, in that person's heads; people first."""
        heads = self.scene.heads
        return np.asarray((self.bottom - heads.chin_y) / heads.head)

    def zone(self, zone: Zone) -> tuple[Many, Many, Many, Many]:
        """Where a covered zone lies in the master: left, top, right, bottom."""
        return (
            self.x0 + zone.x0 * self.w,
            self.y0 + zone.y0 * self.h,
            self.x0 + zone.x1 * self.w,
            self.y0 + zone.y1 * self.h,
        )


def overlap(begin: Many, end: Many, least: Many | float, most: Many | float) -> Many:
    """Length that two stretches share; 0 when they lie apart."""
    return np.asarray(np.maximum(0.0, np.minimum(end, most) - np.maximum(begin, least)))
