"""The photographer chose upright or lying; a crop keeps it. Square masters count as upright."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first
from cropper.proposal.scene import Scene


def _turned(look: Look) -> Many:
    """1 where a box lies otherwise than the master."""
    size = look.scene.size
    lying = look.w > look.h
    upright = look.w < look.h
    away = upright if size.width > size.height else lying
    return np.where(away, 1.0, 0.0)


def _free(scene: Scene) -> bool:
    """Whether the destination leaves the orientation open."""
    one = scene.destination
    return not one.full_frame and (one.turnable or one.shape.least < 1 < one.shape.most)


def _words(look: Look, value: float) -> str:
    del look
    return "Lies otherwise than the master." if value else "Lies as the master does."


RULES = (
    Rule(
        name="orientation",
        title="Upright or lying as the master",
        source="[editors]; weight fitted",
        axis=Axis.SIZE,
        weight=0.5,
        forced_is_free=False,
        applies=_free,
        excess=_turned,
        value=lambda look: first(_turned(look)),
        unit="1: turned",
        words=_words,
    ),
)
