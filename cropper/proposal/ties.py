"""Of boxes that cost the same, which one is taken: keys that do not change under mirroring."""

from __future__ import annotations

import math

import numpy as np

from cropper.geometry import PixelBox
from cropper.proposal import graded
from cropper.proposal.arithmetic import Many
from cropper.proposal.frames import Boxes, Look
from cropper.proposal.proposal import Cost
from cropper.proposal.rows import FIRST_TIERS, LAST_TIERS, counted
from cropper.proposal.scene import Scene
from cropper.proposal.wishes import Found


def first_of(scene: Scene, flat: Boxes, cost: Cost, *, to_the_pixel: bool) -> Found:
    """Of boxes that cost the same, the one that the ties choose."""
    keys = _ties(scene, flat) if to_the_pixel else [_aside(scene, flat)]
    first = int(np.lexsort(keys[::-1])[0]) if len(keys[0]) > 1 else 0
    x0, y0, w, h = (int(side[first, 0]) for side in flat)  # type: ignore[index]
    ties = tuple(float(key[first]) for key in keys) if to_the_pixel else (math.inf,)
    return Found(PixelBox(x0, y0, x0 + w, y0 + h), cost, ties)


def _ties(scene: Scene, flat: Boxes) -> list[Many]:
    """Keys that break ties and do not change under mirroring, the last one aside."""
    worst = np.zeros_like(flat.x0)
    for seen in scene.seen[1:]:
        look = Look(scene, flat, seen)
        total = sum(counted(tier(scene, look)) for tier in (*FIRST_TIERS, *LAST_TIERS))
        worst = np.maximum(worst, total)
    look = Look(scene, flat)
    keys = [worst, graded.polish(scene, look), _aside(scene, flat), flat.y0, flat.x0]
    return [np.asarray(key).reshape(-1) for key in keys]


def _aside(scene: Scene, flat: Boxes) -> Many:
    """How far the eyes stand beside the middle of each box, px."""
    return np.asarray(abs(flat.x0 + flat.w / 2 - scene.eyes_middle[0])).reshape(-1)
