"""House values that more than one rule uses; every other number stands in its own rule.

Names in brackets are sources in docs/sources.md. docs/composition.md is the specification.
"""

from __future__ import annotations

from typing import Final

EYE_ROOM_HEADS: Final = 0.08
"""House: half an eye's width (.047 head) and some air round a pupil."""
EYES_SIDE_HEADS: Final = 0.12
"""House: an eye with its outer corner and lashes reaches this far past the pupil."""
FACE_HALF_WIDTH_HEADS: Final = 0.36
"""House: half of head breadth .67-.68 heads [ratios], and 2 % of room."""
LIPS_HEADS: Final = 0.2
"""The lower lip lies this far above the chin, along the head's axis: stomion to chin is .21 of the
head [ratios], rounded to the lower lip (house)."""
JOINT_VISIBILITY: Final = 0.8
"""Joints less visible than this are guesses (measured on photographs)."""
CAP: Final = 6.0
"""House: a squared excess counts no more than this, so that no rule decides alone."""
BROKEN: Final = 100.0
"""House: what a broken hard rule costs, and as much again for each head height it is missed by;
more than all soft rules together can."""
EYE_SEES: Final = 0.02
"""House: a rule that adds less to the sum is below what an eye sees [composition]."""
LEAST_HEADS: Final = 0.9
"""House: no crop is searched whose height is below this many heads, if a head is known."""
LEFT_OUT_COST: Final = 0.5
"""House: each person left out; fitted on seven groups of [editors], and blunt (decision 0009)."""
