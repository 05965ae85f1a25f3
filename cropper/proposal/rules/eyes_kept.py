"""Both pupils of every principal person inside every seen frame, with room to spare."""

from __future__ import annotations

from functools import partial

import numpy as np

from cropper.proposal import house
from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, always, first, over, worst_person
from cropper.proposal.scene import Scene, Seen


def _room(master_px: Many, head: Many) -> Many:
    """Room wanted round a pupil, in heads: no more than the master itself has."""
    return np.minimum(house.EYE_ROOM_HEADS, over(master_px) / head)


def _frames(scene: Scene) -> tuple[Seen, ...]:
    """Every seen frame for one person; a group only has to fit the whole one."""
    return scene.seen[:1] if scene.group else scene.seen


def _down(look: Look) -> Many:
    heads = look.scene.heads
    above_room = _room(heads.eyes_top, heads.head)
    below_room = _room(look.scene.size.height - heads.eyes_low, heads.head)
    worst: Many = np.zeros(1)
    for seen in _frames(look.scene):
        frame = look.through(seen)
        above = (frame.top - heads.eyes_top) / heads.head + above_room
        below = (heads.eyes_low - frame.bottom) / heads.head + below_room
        worst = np.maximum(worst, worst_person(np.maximum(above, below)))
    return over(worst)


def _across(look: Look) -> Many:
    heads = look.scene.heads
    before_room = _room(heads.eyes_left, heads.head)
    behind_room = _room(look.scene.size.width - heads.eyes_right, heads.head)
    worst: Many = np.zeros(1)
    for seen in _frames(look.scene):
        frame = look.through(seen)
        before = (frame.left - heads.eyes_left) / heads.head + before_room
        behind = (heads.eyes_right - frame.right) / heads.head + behind_room
        worst = np.maximum(worst, worst_person(np.maximum(before, behind)))
    return over(worst)


def _in_circle(look: Look) -> Many:
    heads = look.scene.heads
    down = np.maximum(
        np.abs(heads.eyes_top - look.middle_y), np.abs(heads.eyes_low - look.middle_y)
    )
    across = np.maximum(
        np.abs(heads.eyes_left - look.middle_x), np.abs(heads.eyes_right - look.middle_x)
    )
    past = np.hypot(across, down) - look.width / 2
    return over(worst_person(past / heads.head) + house.EYE_ROOM_HEADS)


def _sigma(scene: Scene) -> float:
    return max(one.eye_sigma / one.head for one in scene.people)


def _words(look: Look, value: float) -> str:
    del look
    return "An eye is cut or too near an edge." if value > 0 else "The eyes are inside."


def _round(scene: Scene) -> bool:
    return scene.circle and always(scene)


_record = partial(
    Rule,
    source="[circle], [story_ui]; room .08 head (house)",
    unit="heads outside",
    words=_words,
    hard=True,
    sigma=_sigma,
)
RULES = (
    _record(
        name="eyes kept down",
        title="Eyes inside, above and below",
        axis=Axis.DOWN,
        excess=_down,
        value=lambda look: first(_down(look)),
    ),
    _record(
        name="eyes kept across",
        title="Eyes inside, left and right",
        axis=Axis.ACROSS,
        excess=_across,
        value=lambda look: first(_across(look)),
    ),
    _record(
        name="eyes kept in the circle",
        title="Eyes inside the circle",
        axis=Axis.BOTH,
        applies=_round,
        excess=_in_circle,
        value=lambda look: first(_in_circle(look)),
    ),
)
