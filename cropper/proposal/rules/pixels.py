"""Enough pixels for what is delivered: a few too few are fine, more are a problem, never hidden."""

from __future__ import annotations

import math

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over
from cropper.proposal.scene import Scene

FINE_SHARE = 0.05
"""House: one twentieth too few is seen by nobody [composition, pixels]."""
NO_CROP_AT = 3.0
"""Three times too few pixels make no file worth sending [composition, principle 3]."""


def shortage(scene: Scene, w: Many, h: Many) -> Many:
    """Pixels needed over pixels there, at least 1 when enough."""
    return np.maximum(scene.least_width / w, scene.least_long / np.maximum(w, h))


def _excess(look: Look) -> Many:
    return over(shortage(look.scene, look.w, look.h) - 1) / FINE_SHARE


def _words(look: Look, value: float) -> str:
    del value
    scene = look.scene
    wide = first(look.w)
    need, has = scene.least_width, wide
    if scene.least_long > scene.least_width:
        need, has = scene.least_long, max(wide, first(look.h))
    if need <= has:
        return "There are enough pixels."
    demand = scene.destination.least_ppi
    asked = f" for {float(demand):.0f} ppi" if demand is not None else ""
    return f"Needs {math.ceil(need)} px{asked}, has {has:.0f}."


def _sized(scene: Scene) -> bool:
    return scene.least_width > 1 or scene.least_long > 1


RULES = (
    Rule(
        name="pixels",
        title="Enough pixels",
        source="[acuity], [lpi]; the destination's own figures; 5 % is a house value",
        axis=Axis.SIZE,
        weight=0.2,
        forced_is_free=False,
        problem_at=1.0,
        applies=_sized,
        excess=_excess,
        value=lambda look: 1 / first(shortage(look.scene, look.w, look.h)),
        unit="of the pixels needed",
        words=_words,
    ),
)
