"""Room below the chin: enough of it, and no more than is needed."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, over, worst_person

ENOUGH_HEADS = 0.12
"""Fitted: editors keep .05 to .2 head below a chin even where the crown goes [editors]."""
BODY_SCALE_HEADS = 0.3
"""Fitted on the design half: where a size leaves a choice, editors give up body before they give up
air and hair (decision 0009)."""


def _short(look: Look) -> Many:
    return over(worst_person(ENOUGH_HEADS - look.chin_room)) / ENOUGH_HEADS


def _body(look: Look) -> Many:
    """Room below the lowest chin; the least that a size allows is taken off as forced."""
    rooms = look.chin_room
    nearest = rooms[0] if len(rooms) == 1 else rooms.min(axis=0)
    return np.asarray(nearest / BODY_SCALE_HEADS)


def _room(look: Look) -> float:
    return float(look.chin_room.min())


def _words(look: Look, value: float) -> str:
    del look
    if value < 0:
        return f"The chin is cut by {-value:.2f} of the head."
    if value < ENOUGH_HEADS:
        return "The chin is close to the edge."
    return f"There is room of {value:.2f} heads below the chin."


def _body_words(look: Look, value: float) -> str:
    del look
    return f"Shows {value:.1f} heads of body below the chin."


RULES = (
    Rule(
        name="chin",
        title="Room below the chin",
        source="[editors]; weight fitted",
        axis=Axis.DOWN,
        weight=0.12,
        excess=_short,
        value=_room,
        unit="heads below the chin",
        words=_words,
        sigma=lambda scene: max(one.chin_sigma / one.head for one in scene.people),
    ),
    Rule(
        name="body",
        told=False,
        title="Head before body",
        source="[editors]; weight fitted",
        axis=Axis.DOWN,
        weight=0.1,
        excess=_body,
        value=_room,
        unit="heads below the chin",
        words=_body_words,
    ),
)
