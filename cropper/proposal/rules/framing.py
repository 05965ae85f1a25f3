"""A shot size, where a destination states one as a demand."""

from __future__ import annotations

import numpy as np

from cropper.destination.shots import DEPTHS
from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Band, Rule, first, over
from cropper.proposal.scene import Scene

SCALE_HEADS = 0.5
"""House: half a head outside the wanted depth costs one weight."""


def _band(scene: Scene) -> tuple[float, float]:
    asked = scene.destination.framing
    if asked is None:
        return 0.0, float("inf")
    return DEPTHS[asked[0]].least, DEPTHS[asked[1]].most


def _excess(look: Look) -> Many:
    least, most = _band(look.scene)
    return over(np.maximum(least - look.depth, look.depth - most)) / SCALE_HEADS


def _asked(scene: Scene) -> bool:
    one = scene.destination
    return bool(scene.people) and one.framing is not None and not one.full_frame


def _target(scene: Scene) -> Band:
    least, most = _band(scene)
    return least, most if np.isfinite(most) else None


def _words(look: Look, value: float) -> str:
    least, most = _band(look.scene)
    if value > most:
        return "Shows more of the body than the destination asks for."
    if value < least:
        return "Shows less of the body than the destination asks for."
    return "Shows as much of the body as the destination asks for."


RULES = (
    Rule(
        name="framing",
        title="Shot size as the destination asks",
        source="[cut_lines]; scale half a head (house)",
        axis=Axis.DOWN,
        weight=0.5,
        applies=_asked,
        forced_is_free=False,
        excess=_excess,
        value=lambda look: first(look.depth),
        unit="heads below the skull top",
        words=_words,
        target=_target,
    ),
)
