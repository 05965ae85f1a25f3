"""No edge through a principal person's face between brows and lips."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over, worst_person
from cropper.proposal.scene import Scene


def _excess(look: Look) -> Many:
    heads = look.scene.heads
    above = (look.top - heads.brows_y) / heads.head
    below = (heads.lips_y - look.bottom) / heads.head
    missed = np.where(_too_low(look.scene), 0.0, np.maximum(above, below))
    return over(worst_person(missed))


def _too_low(scene: Scene) -> NDArray[np.bool_]:
    """Whose face the largest crop of the shape cannot hold from brows to lips: people first."""
    return np.asarray(scene.heads.lips_y - scene.heads.brows_y > scene.greatest_height)


def too_low(scene: Scene) -> bool:
    """Whether the shape is too low for somebody's face: then an eye strip is all there is."""
    return bool(scene.people) and bool(_too_low(scene).any())


def _sigma(scene: Scene) -> float:
    return max(one.chin_sigma / one.head for one in scene.people)


def _words(look: Look, value: float) -> str:
    if value <= 0:
        return "The face is whole from brows to lips."
    heads = look.scene.heads
    low = worst_person((heads.lips_y - look.bottom) / heads.head)
    return "Cuts the mouth off." if first(low) >= value else "Cuts the brows."


RULES = (
    Rule(
        name="face kept",
        title="Face whole from brows to lips",
        source="[composition], forbidden; lips .2 head above the chin [ratios]",
        axis=Axis.DOWN,
        hard=True,
        excess=_excess,
        value=lambda look: first(_excess(look)),
        unit="heads cut",
        words=_words,
        sigma=_sigma,
    ),
)
