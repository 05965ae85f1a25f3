"""A finished master is a composition: a crop loses as little of it as the shape forces."""

from __future__ import annotations

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over, percent
from cropper.proposal.scene import Scene


def _lost(look: Look) -> Many:
    return over(1 - look.w * look.h / look.scene.greatest_area)


def _crops(scene: Scene) -> bool:
    return not scene.destination.full_frame


def _words(look: Look, value: float) -> str:
    del look
    return f"Keeps {percent(value)} of the largest crop of this shape."


RULES = (
    Rule(
        name="kept",
        told=False,
        title="Use of the master",
        source="[editors]: .94 to 1 of the largest crop; weight fitted",
        axis=Axis.SIZE,
        weight=1.0,
        linear=True,
        forced_is_free=False,
        applies=_crops,
        excess=_lost,
        value=lambda look: 1 - first(_lost(look)),
        unit="of the largest crop of this shape",
        words=_words,
    ),
)
