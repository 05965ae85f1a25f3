"""Where nobody is known: the master's own composition, a little above its middle."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, percent
from cropper.proposal.scene import Scene

PLACE = 0.4
"""Fitted on six pictures without a face: the crop takes .4 of the free height above (house)."""
SCALE = 0.15


def _excess(look: Look) -> Many:
    free = look.scene.size.height - look.h
    return np.abs(look.y0 - PLACE * free) / look.h / SCALE


def _nobody(scene: Scene) -> bool:
    return not scene.people and not scene.destination.full_frame


def _words(look: Look, value: float) -> str:
    del look
    return f"Nobody was found: {percent(value)} of the master lies above the crop."


RULES = (
    Rule(
        name="place down",
        title="The master's own composition",
        source="[above], [editors]; fitted",
        axis=Axis.DOWN,
        weight=0.2,
        applies=_nobody,
        forced_is_free=False,
        excess=_excess,
        value=lambda look: first(look.y0) / look.scene.size.height,
        unit="of the height above",
        words=_words,
    ),
)
