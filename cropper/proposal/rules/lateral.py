"""Across the frame: the eyes keep the master's own place, unless the destination asks otherwise."""

from __future__ import annotations

import numpy as np

from cropper.destination.destination import Across
from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over, percent
from cropper.proposal.scene import Scene
from cropper.subject.subject import FACING_BELOW, TURNED_ABOVE

SCALE = 0.15
"""[lateral]: an editor keeps the share across to .047; three times that counts fully (fitted)."""
ASKED_SCALE = 0.03
"""House: an alternative that leaves room for type goes in for it."""
LEAD = (0.33, 0.40)
"""Eyes of a head turned right where a destination asks for lead room: 60:40 to 67:33 [leadroom]."""
MIDDLE = 0.5


def _own(scene: Scene) -> float:
    """The share across at which the master has the eyes, or the middle without any people."""
    return scene.eyes_x / scene.size.width if scene.people else MIDDLE


def wanted(scene: Scene) -> tuple[float, float]:
    """Least and greatest share across that the eyes should have."""
    asked = scene.destination.across
    if scene.eyes_wanted is not None:
        return scene.eyes_wanted
    if asked is Across.CENTRE:
        return MIDDLE, MIDDLE
    if asked is Across.LEAD and len(scene.people) == 1:
        return _lead(scene)
    own = _own(scene)
    return own, own


def _lead(scene: Scene) -> tuple[float, float]:
    """More room in front of a turned head: from the master's own place to the band, by turn."""
    turn, own = scene.people[0].turn, _own(scene)
    amount = min(1.0, max(0.0, (abs(turn) - FACING_BELOW) / (TURNED_ABOVE - FACING_BELOW)))
    least, most = (min(LEAD[0], own), LEAD[1]) if turn > 0 else (1 - LEAD[1], max(1 - LEAD[0], own))
    return own + amount * (least - own), own + amount * (most - own)


def _place(look: Look) -> Many:
    """What stands at the wanted place: the eyes; where the middle is asked, the head box's."""
    scene = look.scene
    if not scene.people:
        return (scene.size.width / 2 - look.left) / look.width
    if _by_box(scene):
        return ((scene.box.x0 + scene.box.x1) / 2 - look.left) / look.width
    return look.eyes_across


def _by_box(scene: Scene) -> bool:
    asked = scene.destination
    if scene.eyes_wanted is not None or asked.head_share is not None:
        return False
    return asked.across is Across.CENTRE


def _excess(look: Look) -> Many:
    least, most = wanted(look.scene)
    place = _place(look)
    scale = SCALE if look.scene.eyes_wanted is None else ASKED_SCALE
    return over(np.maximum(least - place, place - most)) / scale


def _easiest(look: Look) -> Many:
    """The x0 that puts the wanted place right."""
    least, most = wanted(look.scene)
    scene = look.scene
    at = scene.size.width / 2 if not scene.people else scene.eyes_x
    if scene.people and _by_box(scene):
        at = (scene.box.x0 + scene.box.x1) / 2
    return at - (least + most) / 2 * look.width - (look.left - look.x0)


def _speaks(scene: Scene) -> bool:
    one = scene.destination
    return not one.full_frame and one.across is not Across.FREE


def _words(look: Look, value: float) -> str:
    scene = look.scene
    if not scene.people:
        return "Keeps the middle of the master."
    where = f"The eyes stand {percent(value)} from the left"
    if _by_box(scene):
        return f"{where}; the head is centred."
    return f"{where}, in the master {percent(_own(scene))}."


RULES = (
    Rule(
        name="lateral",
        title="Place across",
        source="[lateral], [leadroom], [squares]; weight fitted",
        axis=Axis.ACROSS,
        weight=0.2,
        applies=_speaks,
        excess=_excess,
        easiest=_easiest,
        value=lambda look: first(look.eyes_across if look.scene.people else _place(look)),
        unit="of the width from the left",
        words=_words,
        target=wanted,
    ),
)
