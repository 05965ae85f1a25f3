"""A narrower frame that some viewers see holds the faces, too."""

from __future__ import annotations

import numpy as np

from cropper.proposal import house
from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over, percent, worst_person
from cropper.proposal.scene import Scene

SCALE = 0.25
"""Fitted: a quarter of the face outside costs one weight."""


def _outside(look: Look) -> Many:
    """The greatest share of a face's width outside a live area."""
    heads = look.scene.heads
    reach = house.FACE_HALF_WIDTH_HEADS * heads.head
    worst: Many = np.zeros(1)
    for seen in look.scene.seen[1:]:
        frame = look.through(seen)
        past = over(frame.left - heads.eye_x + reach) + over(heads.eye_x + reach - frame.right)
        worst = np.maximum(worst, worst_person(past / (2 * reach)))
    return worst


def _speaks(scene: Scene) -> bool:
    return bool(scene.people) and len(scene.seen) > 1 and not scene.destination.full_frame


def _words(look: Look, value: float) -> str:
    area = look.scene.seen[-1].name
    if value <= 0:
        return f"The face is whole in '{area}', too."
    return f"In '{area}' {percent(value)} of the face is cut off."


RULES = (
    Rule(
        name="live area",
        title="Face whole in the narrower frame",
        source="[composition]; weight fitted",
        axis=Axis.ACROSS,
        weight=0.3,
        forced_is_free=False,
        applies=_speaks,
        excess=lambda look: _outside(look) / SCALE,
        value=lambda look: first(_outside(look)),
        unit="of the face's width outside",
        words=_words,
    ),
)
