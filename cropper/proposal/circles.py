"""What a circle asks of x and y together, bounded row by row before it is judged."""

from __future__ import annotations

from typing import Final

import numpy as np

from cropper.destination.shots import Shot
from cropper.proposal import house, never
from cropper.proposal.arithmetic import Many
from cropper.proposal.frames import Boxes, circle_of
from cropper.proposal.rows import Truths
from cropper.proposal.scene import Scene

NEARLY: Final = 1e-3
"""Px: nearer to a bound than this the rule itself decides, for rounding of floats."""


def keeps_in_circle(scene: Scene, boxes: Boxes) -> Truths:
    """Never-rules that a circle asks of x and y together; ``boxes`` in one column."""
    good: Truths = np.ones(len(boxes.w), dtype=bool)  # type: ignore[arg-type]
    for rule in (never.eyes, never.chin, never.heads_whole, never.bystanders):
        good &= np.asarray(rule(scene, boxes) >= 0).reshape(-1)
    return good


def reach_in_circle(scene: Scene, boxes: Boxes) -> tuple[Many, Many]:
    """The x0 between which the circle holds every point on each row, but for rounding."""
    ring = circle_of(boxes, scene.seen[0])
    off = np.asarray(ring.x - boxes.x0)
    points = _held(scene)
    x, y, room = (np.array(column).reshape(-1, 1, 1) for column in zip(*points, strict=True))
    within = np.asarray(ring.radius) - room
    half = within * within - (ring.y - y) ** 2
    reach = np.where((half < -NEARLY) | (within < 0), -np.inf, np.sqrt(np.maximum(half, 0.0)))
    return (x - reach).max(axis=0) - off, (x + reach).min(axis=0) - off


def _held(scene: Scene) -> list[tuple[float, float, float]]:
    """Points that a circle must hold, each with its room, px."""
    points = []
    for person in scene.people:
        room = house.EYE_ROOM_HEADS * person.head
        if scene.destination.framing[0] is not Shot.EXTREME_CLOSE_UP:
            points.append((person.chin_x, person.chin_y, house.CHIN_ROOM_HEADS * person.head))
        points += [(person.left_x, person.left_y, room), (person.right_x, person.right_y, room)]
        if scene.group:
            points += [(person.box.x0, person.eye_y, 0.0), (person.box.x1, person.eye_y, 0.0)]
    return points
