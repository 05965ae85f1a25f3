"""Other heads, and persons whose heads were not found: whole or absent, the less cut the better."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look, overlap
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, percent
from cropper.proposal.scene import Scene

SEEN = 0.02
"""House: less of a head than this is not seen at an edge."""


def _shares(look: Look) -> list[tuple[Many, float]]:
    """The share of each other head inside the frame, and how much a cut through it weighs."""
    shares = []
    for x0, y0, x1, y1, weight in look.scene.bystanders:
        across = overlap(look.left, look.right, x0, x1) / (x1 - x0)
        down = overlap(look.top, look.bottom, y0, y1) / (y1 - y0)
        shares.append((across * down, weight))
    return shares


def _excess(look: Look) -> Many:
    """Sum of 4 f (1 - f) over other heads: 0 whole or absent, 1 cut in half."""
    total: Many = np.zeros(1)
    for share, weight in _shares(look):
        total = total + weight * 4 * share * (1 - share)
    return total


def _speaks(scene: Scene) -> bool:
    return bool(scene.bystanders) and not scene.destination.full_frame


def _cut(look: Look) -> float:
    """How much of the worst cut other head is lost or left, 0 to .5."""
    return max(float(np.minimum(share, 1 - share).ravel()[0]) for share, _ in _shares(look))


def _words(look: Look, value: float) -> str:
    del look
    if value < SEEN:
        return "Other heads are whole or absent."
    return f"Cuts through another head ({percent(value)} of it)."


RULES = (
    Rule(
        name="bystanders",
        title="Other heads whole or absent",
        source="common practice; weight fitted",
        axis=Axis.BOTH,
        weight=0.2,
        linear=True,
        forced_is_free=False,
        applies=_speaks,
        excess=_excess,
        value=_cut,
        unit="of another head cut",
        words=_words,
    ),
)
