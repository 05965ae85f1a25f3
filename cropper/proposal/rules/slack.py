"""Slack air above a figure that the frame cuts: the master may hold it, a crop should not."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over, percent
from cropper.proposal.scene import Scene

MOST = 0.25
SCALE = 0.08
"""House: half of 12,905 published frames that cut the body leave more than .20 [pro_frames], and by
eye more is slack; too weak to move a crop much, it says so."""
WHOLE_FIGURE_HEADS = 7.0
"""House: a frame that reaches deeper shows the whole figure, whose air is the place's [above]."""


def _excess(look: Look) -> Many:
    cut = look.depth < WHOLE_FIGURE_HEADS
    return np.where(cut, over(look.headroom - MOST) / SCALE, 0.0)


def _speaks(scene: Scene) -> bool:
    one = scene.destination
    return bool(scene.people) and one.headroom is None and not one.full_frame


def _words(look: Look, value: float) -> str:
    del look
    return f"There is {percent(value)} of air above the hair."


RULES = (
    Rule(
        name="slack",
        title="No slack air above a cut figure",
        source="[pro_frames], [above]; house",
        axis=Axis.DOWN,
        weight=0.05,
        applies=_speaks,
        forced_is_free=False,
        excess=_excess,
        value=lambda look: first(look.headroom),
        unit="of the height",
        words=_words,
    ),
)
