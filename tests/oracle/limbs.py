"""Limbs where an edge of the frame crosses them: J of docs/composition.md."""

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
    """What the four edge segments of ``frame`` add to J for one limb, before the quarters."""
    a, b = limb
    level = [_crossing(y, (frame.left, frame.right), limb, head) for y in (frame.top, frame.bottom)]
    turned = ((a[1], a[0], a[2]), (b[1], b[0], b[2]))
    upright = [
        _crossing(x, (frame.top, frame.bottom), turned, head) for x in (frame.left, frame.right)
    ]
    return level[0] + level[1] + upright[0] + upright[1]


def _crossing(line: Floats, span: tuple[Floats, Floats], limb: Limb, head: float) -> Floats:
    """Cost where ``limb`` crosses the level edge y = ``line`` that reaches across x = ``span``."""
    a, b = limb
    if a[1] == b[1]:
        return np.zeros(1)
    x = a[0] + (line - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    crosses = ((a[1] < line) != (b[1] < line)) & (x >= span[0]) & (x <= span[1])
    near = [0.15 - np.hypot(x - at[0], line - at[1]) / head for at in limb if at[2]]
    worst = np.maximum(np.maximum.reduce(near), 0.0) / 0.15
    squared: Floats = np.where(crosses, worst**2, 0.0)
    return squared
