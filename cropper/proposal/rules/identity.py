"""Identity pictures: one person, head and eyes inside the template's limits, near its targets."""

from __future__ import annotations

import math

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Band, Rule, first, limit_of, over, percent, target_of
from cropper.proposal.scene import Scene

SHARE_SCALE = 0.05
"""House: the published bands are .10 to .19 wide [id_us, id_de]."""


def _share(look: Look) -> Many:
    return look.scene.mean_head / look.height


def _outside(look: Look) -> Many:
    band = look.scene.destination.head_share
    if band is None:
        return np.zeros(1)
    share = _share(look)
    past = np.maximum(band.limit_least - share, share - band.limit_most)
    return over(past / share)


def _off_target(look: Look) -> Many:
    band = look.scene.destination.head_share
    if band is None:
        return np.zeros(1)
    share = _share(look)
    return over(np.maximum(band.least - share, share - band.most)) / SHARE_SCALE


def _eyes_outside(look: Look) -> Many:
    band = look.scene.destination.eye_line
    if band is None:
        return np.zeros(1)
    past = np.maximum(band.limit_least - look.eye_line, look.eye_line - band.limit_most)
    return over(past * look.height / look.scene.mean_head)


def _identity(scene: Scene) -> bool:
    one = scene.destination
    return one.head_share is not None and bool(scene.people) and not one.full_frame


def _identity_eyes(scene: Scene) -> bool:
    return _identity(scene) and scene.destination.eye_line is not None


def _target(scene: Scene) -> Band:
    return target_of(scene.destination.head_share)


def _limit(scene: Scene) -> Band:
    return limit_of(scene.destination.head_share)


def _words(look: Look, value: float) -> str:
    del look
    return f"The head takes {percent(value)} of the height, chin to skull top."


def _eyes_words(look: Look, value: float) -> str:
    del value
    return f"The eyes lie {percent(first(look.eye_line))} from the top."


def _head_sigma(scene: Scene) -> float:
    return max(math.hypot(one.skull_sigma, one.chin_sigma) / one.head for one in scene.people)


RULES = (
    Rule(
        name="head in the template",
        title="Head inside the template's limits",
        source="[id_us], [id_de]",
        axis=Axis.SIZE,
        hard=True,
        applies=_identity,
        excess=_outside,
        value=lambda look: first(_share(look)),
        unit="of the height, chin to skull top",
        words=_words,
        sigma=_head_sigma,
        target=_target,
        limit=_limit,
    ),
    Rule(
        name="eyes in the template",
        title="Eyes inside the template's limits",
        source="[id_us], [iso19794]",
        axis=Axis.DOWN,
        hard=True,
        applies=_identity_eyes,
        excess=_eyes_outside,
        value=lambda look: first(look.eye_line),
        unit="of the height from the top",
        words=_eyes_words,
        sigma=lambda scene: max(one.eye_sigma / one.head for one in scene.people),
    ),
    Rule(
        name="head on target",
        title="Head as large as the template wants",
        source="[id_us], [id_de]; scale .05 (house)",
        axis=Axis.SIZE,
        weight=2.0,
        applies=_identity,
        forced_is_free=False,
        excess=_off_target,
        value=lambda look: first(_share(look)),
        unit="of the height, chin to skull top",
        words=_words,
        target=_target,
        limit=_limit,
    ),
)
