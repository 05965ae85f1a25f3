"""Destinations that ask for a head (a round avatar, a profile) go in: neither lost nor cramped."""

from __future__ import annotations

from functools import partial

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Band, Rule, first, over, percent
from cropper.proposal.scene import Scene

SCALE = 0.15
"""Fitted: this much of the frame's height beyond the band costs one weight."""


def _share(look: Look) -> Many:
    """Hair top to chin as a share of the height (of a circle: of its diameter)."""
    return look.scene.head_reach / look.height


def _band(scene: Scene) -> tuple[float, float]:
    band = scene.destination.head_height
    return band or (0.0, 1.0)


def _small(look: Look) -> Many:
    return over(_band(look.scene)[0] - _share(look)) / SCALE


def _large(look: Look) -> Many:
    return over(_share(look) - _band(look.scene)[1]) / SCALE


def _asked(scene: Scene) -> bool:
    return bool(scene.people) and scene.destination.head_height is not None


def _round(scene: Scene) -> bool:
    return bool(scene.people) and scene.circle


def _target(scene: Scene) -> Band:
    return _band(scene)


def _words(look: Look, value: float) -> str:
    least, most = _band(look.scene)
    said = f"From hair to chin the head takes {percent(value)} of the height"
    if value < least:
        return f"{said}: small here."
    return f"{said}: large here." if value > most else f"{said}."


def _across(look: Look) -> Many:
    box = look.scene.box
    return np.asarray(np.abs((box.x0 + box.x1) / 2 - look.middle_x) / look.width * 2 / SCALE)


def _down(look: Look) -> Many:
    box = look.scene.box
    return np.asarray(np.abs((box.y0 + box.y1) / 2 - look.middle_y) / look.height * 2 / SCALE)


def _off(look: Look) -> float:
    return SCALE * float(np.hypot(first(_across(look)), first(_down(look))))


def _middle_words(look: Look, value: float) -> str:
    del look
    return f"The head stands {percent(value)} of the radius off the circle's middle."


_record = partial(
    Rule,
    source="[squares], [editors]; weight fitted",
    axis=Axis.SIZE,
    applies=_asked,
    value=lambda look: first(_share(look)),
    unit="of the height, hair top to chin",
    words=_words,
    target=_target,
)
_middle_record = partial(
    Rule,
    source="[squares]; weight fitted",
    weight=0.08,
    applies=_round,
    forced_is_free=False,
    told=False,
    value=_off,
    unit="of the radius",
    words=_middle_words,
)
RULES = (
    _record(
        name="head small",
        title="Head large enough",
        weight=2.0,
        excess=_small,
        forced_is_free=False,
    ),
    _record(
        name="head large",
        title="Head not cramped",
        weight=0.7,
        excess=_large,
        forced_is_free=False,
    ),
    _middle_record(
        name="circle across",
        title="Head in the circle's middle, across",
        axis=Axis.ACROSS,
        excess=_across,
    ),
    _middle_record(
        name="circle down",
        title="Head in the circle's middle, down",
        axis=Axis.DOWN,
        excess=_down,
    ),
)
