"""Limbs where an edge of the frame crosses them (tier 5 of docs/composition.md)."""

from __future__ import annotations

import numpy as np

from cropper.subject.subject import Subject
from tests.oracle.boxes import Floats, Rect

LIMBS = (
    ("shoulder", "elbow"),
    ("elbow", "wrist"),
    ("wrist", "fingers"),
    ("hip", "knee"),
    ("knee", "ankle"),
)
UNCOUNTED = ("shoulder", "hip")
End = tuple[float, float, bool]
"""x, y, and whether it counts as a joint."""
Limb = tuple[End, End]


def squared(excess: Floats) -> Floats:
    """excess^2."""
    square: Floats = excess * excess
    return square


def limbs_of(one: Subject) -> list[Limb]:
    """The limbs of which both joints are seen well enough."""
    at = {joint.name: joint for joint in one.joints if joint.visibility >= 0.8}
    limbs = []
    for side in ("left", "right"):
        for first, second in LIMBS:
            start, end = at.get(f"{side}_{first}"), at.get(f"{side}_{second}")
            if start is not None and end is not None:
                a = (start.at.x, start.at.y, first not in UNCOUNTED)
                limbs.append((a, (end.at.x, end.at.y, second not in UNCOUNTED)))
    return limbs


def limb_cost(frame: Rect, limb: Limb, head: float) -> Floats:
    """Cost of one limb at all four edge segments."""
    a, b = limb
    total = np.zeros(len(frame.top))
    for line in (frame.top, frame.bottom):
        total += _crossing(line, (frame.left, frame.right), (a, b), head)
    turned_a, turned_b = (a[1], a[0], a[2]), (b[1], b[0], b[2])
    for line in (frame.left, frame.right):
        total += _crossing(line, (frame.top, frame.bottom), (turned_a, turned_b), head)
    return total


def _crossing(line: Floats, span: tuple[Floats, Floats], limb: Limb, head: float) -> Floats:
    """Cost where ``limb`` crosses the level edge y = ``line`` that reaches across x = ``span``."""
    a, b = limb
    if a[1] == b[1]:
        return np.zeros(len(line))
    x = a[0] + (line - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    crosses = ((a[1] < line) != (b[1] < line)) & (x >= span[0]) & (x <= span[1])
    worst = np.zeros(len(line))
    for joint in limb:
        if joint[2]:
            off = np.hypot(x - joint[0], line - joint[1]) / head
            worst = np.maximum(worst, (0.15 - off) / 0.15)
    return squared(np.where(crosses, worst, 0.0))
