"""No edge near an elbow, a wrist or a knee."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import LimbEnds, Many
from cropper.proposal.rules.rule import Axis, Rule, first, over
from cropper.proposal.scene import Scene

ROOM_HEADS = 0.15
"""No edge that a limb crosses this near to its joint [joints]."""
STEP = 0.25
"""House: joints count in quarters; a trace of one moved a man to the side on the sheets."""


def _cuts(look: Look) -> Many:
    """Sum of squared excesses over limbs and edges, each joint for itself, in quarters."""
    ends = look.scene.limb_ends
    total = _crossed(ends, look.top, look.left, look.right)
    total = total + _crossed(ends, look.bottom, look.left, look.right)
    swapped = ends._replace(x0=ends.y0, y0=ends.x0, x1=ends.y1, y1=ends.x1)
    total = total + _crossed(swapped, look.left, look.top, look.bottom)
    total = total + _crossed(swapped, look.right, look.top, look.bottom)
    return np.asarray(np.floor(total / STEP + 0.5) * STEP)


def _crossed(ends: LimbEnds, edge: Many, least: Many, most: Many) -> Many:
    """What an edge (a y) costs where limbs cross it between the frame's two other edges."""
    share = (edge - ends.y0) / (ends.y1 - ends.y0)
    along = ends.x0 + share * (ends.x1 - ends.x0)
    near = np.minimum(np.abs(share) + ends.first_far, np.abs(1 - share) + ends.last_far)
    excess = over(ROOM_HEADS - near * ends.length / ends.head) / ROOM_HEADS
    crossed = (share >= 0) & (share <= 1) & (along >= least) & (along <= most)
    return np.asarray(np.where(crossed, excess * excess, 0.0).sum(axis=0))


def _limbed(scene: Scene) -> bool:
    return any(any(one.joints) for one in scene.limbs) and not scene.destination.full_frame


def _words(look: Look, value: float) -> str:
    del look
    return "An edge cuts near a joint." if value > 0 else "No edge cuts at a joint."


RULES = (
    Rule(
        name="joints",
        title="Limbs cut clear of joints",
        source="[joints], [cut_lines]",
        axis=Axis.BOTH,
        weight=0.25,
        linear=True,
        applies=_limbed,
        forced_is_free=False,
        excess=_cuts,
        value=lambda look: first(_cuts(look)),
        unit="into joints (1: through one)",
        words=_words,
    ),
)
