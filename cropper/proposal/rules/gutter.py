"""No principal person's face in the fold of a spread."""

from __future__ import annotations

import numpy as np

from cropper.proposal import house
from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, always, first, over, worst_person
from cropper.proposal.scene import Scene


def _excess(look: Look) -> Many:
    fold = look.scene.destination.gutter
    heads = look.scene.heads
    if fold is None:
        return np.zeros(1)
    at = look.left + float(fold.at) * look.width
    margin = float(fold.margin) * look.width
    reach = house.FACE_HALF_WIDTH_HEADS * heads.head
    inside = margin + reach - np.abs(heads.eye_x - at)
    return over(worst_person(inside / heads.head))


def _folded(scene: Scene) -> bool:
    return scene.destination.gutter is not None and always(scene)


def _words(look: Look, value: float) -> str:
    del look
    return "A face lies in the fold." if value > 0 else "No face lies in the fold."


RULES = (
    Rule(
        name="gutter",
        title="Face clear of the fold",
        source="[spread], [safe]",
        axis=Axis.ACROSS,
        hard=True,
        applies=_folded,
        excess=_excess,
        value=lambda look: first(_excess(look)),
        unit="heads in the fold",
        words=_words,
        sigma=lambda scene: max(one.eye_sigma / one.head for one in scene.people),
    ),
)
