"""Heads whole at the sides, hair included; what the master's own sides cut does not count."""

from __future__ import annotations

from functools import partial

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over, percent, worst_person
from cropper.proposal.scene import Scene

SCALE = 0.25
"""Fitted: a quarter of the head outside costs one weight."""


def _outside(look: Look) -> Many:
    """The share of each head's width outside the frame, the worst person's."""
    heads = look.scene.heads
    past = over(look.left - heads.box_left) + over(heads.box_right - look.right)
    return worst_person(past / (heads.box_right - heads.box_left))


def _easiest(look: Look) -> Many:
    box = look.scene.box
    return (box.x0 + box.x1) / 2 - look.width / 2 - (look.left - look.x0)


def _one(scene: Scene) -> bool:
    return len(scene.people) == 1 and not scene.destination.full_frame


def _group(scene: Scene) -> bool:
    return scene.group and not scene.destination.full_frame


def _words(look: Look, value: float) -> str:
    whose = "a head" if look.scene.group else "the head"
    if value <= 0:
        return "Every head is whole at the sides."
    return f"Cuts {percent(value)} of {whose} off at the side."


_record = partial(
    Rule,
    axis=Axis.ACROSS,
    excess=lambda look: _outside(look) / SCALE,
    easiest=_easiest,
    value=lambda look: first(_outside(look)),
    unit="of the head's width outside",
    words=_words,
)
RULES = (
    _record(
        name="sides",
        title="Head whole at the sides",
        source="[editors]; weight fitted",
        weight=0.4,
        applies=_one,
    ),
    _record(
        name="sides of the group",
        title="Heads of the group whole at the sides",
        source="[editors]; weight fitted on groups",
        weight=1.0,
        forced_is_free=False,
        applies=_group,
    ),
)
