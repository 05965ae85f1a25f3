"""How high the eyes stand: neither low nor at the edge; to the third where there is a choice."""

from __future__ import annotations

from functools import partial

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Band, Rule, first, limit_of, over, percent, target_of
from cropper.proposal.scene import Scene

LOW = 0.45
HIGH = 0.28
SCALE = 0.09
"""Fitted: editors put eyes at .38 to .42, and past these two seldom go [editors]."""
THIRD = 1 / 3
THIRD_SCALE = 0.12


def _low(look: Look) -> Many:
    return over(look.eye_line - LOW) / SCALE


def _high(look: Look) -> Many:
    return over(HIGH - look.eye_line) / SCALE


def _third(look: Look) -> Many:
    return np.asarray(np.abs(look.eye_line - THIRD) / THIRD_SCALE)


def _third_easiest(look: Look) -> Many:
    return look.scene.eyes_y - THIRD * look.height - (look.top - look.y0)


def _asked_scale(scene: Scene) -> float:
    band = scene.destination.eye_line
    if band is None:
        return 1.0
    return max(band.limit_most - band.most, band.least - band.limit_least, 0.01)


def _off_band(look: Look) -> Many:
    band = look.scene.destination.eye_line
    if band is None:
        return np.zeros(1)
    off = np.maximum(band.least - look.eye_line, look.eye_line - band.most)
    return over(off) / _asked_scale(look.scene)


def _free(scene: Scene) -> bool:
    """Whether the house's own eye line speaks: no band of the destination's, and a crop."""
    one = scene.destination
    return bool(scene.people) and one.eye_line is None and not one.full_frame


def _one(scene: Scene) -> bool:
    return _free(scene) and not scene.group


def _asked(scene: Scene) -> bool:
    one = scene.destination
    return bool(scene.people) and one.eye_line is not None and not one.full_frame


def _target(scene: Scene) -> Band:
    return target_of(scene.destination.eye_line)


def _limit(scene: Scene) -> Band:
    return limit_of(scene.destination.eye_line)


def _sigma(scene: Scene) -> float:
    return max(one.eye_sigma for one in scene.people) / scene.mean_head


def _words(look: Look, value: float) -> str:
    who = "The eyes of the group lie" if look.scene.group else "The eyes lie"
    where = "low, " if value > LOW else "high, " if value < HIGH else ""
    return f"{who} {where}{percent(value)} from the top."


_record = partial(
    Rule,
    axis=Axis.DOWN,
    value=lambda look: first(look.eye_line),
    unit="of the height from the top",
    words=_words,
    sigma=_sigma,
)
RULES = (
    _record(
        name="eyes low",
        title="Eyes not low",
        source="[editors]; weight fitted",
        weight=0.2,
        applies=_free,
        excess=_low,
    ),
    _record(
        name="eyes high",
        title="Eyes not high",
        source="[editors]; weight fitted",
        weight=0.2,
        applies=_one,
        excess=_high,
    ),
    _record(
        name="eye line",
        told=False,
        title="Eyes towards the upper third",
        source="[eyeline_cu]; a convention, not a grade",
        weight=0.02,
        applies=_one,
        excess=_third,
        easiest=_third_easiest,
    ),
    _record(
        name="eye line asked",
        title="Eyes where the destination asks",
        source="the destination's own band",
        weight=1.0,
        applies=_asked,
        excess=_off_band,
        easiest=lambda look: (
            look.scene.eyes_y
            - sum(end or 0.0 for end in _target(look.scene)) / 2 * look.height
            - (look.top - look.y0)
        ),
        target=_target,
        limit=_limit,
    ),
)
