"""Air above the hair: a little, not much."""

from __future__ import annotations

from functools import partial

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Band, Rule, first, limit_of, over, percent, target_of
from cropper.proposal.scene import Scene

LEAST = 0.04
"""Fitted: editors leave .01 to .11 of the height [editors]."""
MUCH = 0.15
MUCH_SCALE = 0.08
"""Fitted; from .12 to .20 agree equally, by eye slack air loses [composition, sac_expert]."""
LITTLE_CAP = 4.0
ASKED_SCALE = 0.08


def _little(look: Look) -> Many:
    scene = look.scene
    has = max(scene.tallest.hair_y, 0.0) / look.height
    short = np.minimum(LEAST, has) - look.headroom
    return np.where(look.headroom < 0, 0.0, over(short) / LEAST)


def _much(look: Look) -> Many:
    return over(look.headroom - MUCH) / MUCH_SCALE


def _off_band(look: Look) -> Many:
    band = look.scene.destination.headroom
    if band is None:
        return np.zeros(1)
    return over(np.maximum(band.least - look.headroom, look.headroom - band.most)) / ASKED_SCALE


def _free(scene: Scene) -> bool:
    one = scene.destination
    return bool(scene.people) and one.headroom is None and not one.full_frame


def _asked(scene: Scene) -> bool:
    one = scene.destination
    return bool(scene.people) and one.headroom is not None and not one.full_frame


def _target(scene: Scene) -> Band:
    return target_of(scene.destination.headroom)


def _limit(scene: Scene) -> Band:
    return limit_of(scene.destination.headroom)


def _words(look: Look, value: float) -> str:
    del look
    if value < 0:
        return f"The upper edge lies {percent(-value)} of the height below the hair top."
    return f"There is {percent(value)} of air above the hair."


_record = partial(
    Rule,
    axis=Axis.DOWN,
    value=lambda look: first(look.headroom),
    unit="of the height",
    words=_words,
    sigma=lambda scene: scene.tallest.hair_sigma / scene.tallest.head,
)
RULES = (
    _record(
        name="headroom little",
        title="Some air above the hair",
        source="[headroom_num], [editors]; weight fitted",
        weight=0.05,
        cap=LITTLE_CAP,
        applies=_free,
        excess=_little,
    ),
    _record(
        name="headroom",
        title="Not much air above the hair",
        source="[headroom_bias], [sac_expert]; weight fitted",
        weight=0.15,
        applies=_free,
        excess=_much,
    ),
    _record(
        name="headroom asked",
        title="Air above the hair as the destination asks",
        source="the destination's own band",
        weight=0.3,
        forced_is_free=False,
        applies=_asked,
        excess=_off_band,
        target=_target,
        limit=_limit,
    ),
)
