"""Every number the rules use, in one table: its source, or the mark "house".

Names in brackets are sources in docs/sources.md. A destination may override framing, eye line,
headroom and across. docs/composition.md is the specification in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

EYE_ROOM_HEADS: Final = 0.08
"""House: pupils this far inside every seen edge; half an eye's width (.047 head) and some air."""
CHIN_ROOM_HEADS: Final = 0.04
"""House: chin this far above the seen bottom edge."""
EYES_ZONE_SIDE_HEADS: Final = 0.12
"""House: an eye with its outer corner and lashes reaches this far past the pupil."""
FACE_HALF_WIDTH_HEADS: Final = 0.36
"""House: half of head breadth .67-.68 heads [ratios], and 2 % of room."""

FRAMING_SCALE_HEADS: Final = 0.5
"""House: half a head outside the wanted band costs 1."""
FRAMING_STEP_HEADS: Final = 0.25
"""House: depth outside the band counts in steps of a quarter head. Nobody gives up a crown for the
fiftieth part of a head (decision 0002)."""
FRAMING_STEP_SLACK: Final = 1e-9
"""Rounding of floats at a step's edge."""
GROUP_SIDE_ROOM_HEADS: Final = 0.5
"""House: room beside a group, both sides together."""
HEAD_SHARE_SCALE: Final = 0.05
"""House: identity pictures; the published bands are .10-.19 wide [id_us, id_de]."""

HEADROOM_LIMIT_LEAST: Final = 0.01
"""Headroom below this share of the height breaks the rule [composition, headroom]."""
CLEAR_LEAST: Final = 0.02
CLEAR_LEAST_IN_CIRCLE: Final = 0.04
"""House, chosen on the demo sheets (decision 0002): less air than this reads as a graze, and an
arc comes nearer on both sides of the hair than a straight edge does."""
CUT_LEAST_HEADS: Final = 0.08
"""A decided cut goes at least this far below the hair top [headroom_course; house figure]."""
HAIRLINE_ROOM_HEADS: Final = 0.05
"""House: an edge on the hairline reads as a mistake."""
BROWS_ROOM_HEADS: Final = 0.12
"""House: the frown muscle above the brows belongs to the eyes."""
EDGE_ROOM_HEADS: Final = 0.05
"""House: where the master itself cuts the crown, its own edge is where the photographer cut it."""
CROWN_SCALE_HEADS: Final = 0.1
"""House: a tenth of a head from a clear or a decided place costs 1."""
UNCALLED_CUT_COST: Final = 0.25
"""House, chosen on the demo sheets (decision 0002): nobody asked for this cut."""

LOOSE_ABOVE_HEADS: Final = 2.75
THREE_QUARTER_ABOVE_HEADS: Final = 3.85
FULL_ABOVE_HEADS: Final = 6.0
"""House: where one shot's eye line rule gives way to the next, between the joints [cut_lines]."""


@dataclass(frozen=True, slots=True)
class EyeLineBand:
    """Eye line from the top as a share of the seen height: tolerance, limits, scale of cost 1."""

    least: float
    most: float
    limit_least: float
    limit_most: float
    scale: float


EYE_LINES: Final = (
    EyeLineBand(0.303, 0.363, 0.25, 0.45, 0.087),
    EyeLineBand(0.15, 0.35, 0.15, 0.35, 0.05),
    EyeLineBand(0.12, 0.30, 0.12, 0.30, 0.05),
    EyeLineBand(0.08, 0.25, 0.08, 0.25, 0.05),
)
"""Close-up and bust [eyeline_cu, eye_paintings]; half length; three-quarter; full length."""
GROUP_TOP_LEAST: Final = 0.15
GROUP_LOW_MOST: Final = 0.55
GROUP_LIMIT: Final = (0.10, 0.60)
"""House: a tall and a short person together may go so far before it breaks."""
GROUP_SCALE: Final = 0.05
"""Groups: top eye not above .15, lowest not below .55 of the height (common practice)."""

HEADROOM_NEAR: Final = (0.03, 0.12)
HEADROOM_LOOSE: Final = (0.06, 0.12)
"""Working headroom, hair top to edge [headroom_num, common practice]."""
HEADROOM_LIMIT_MOST: Final = 0.20
HEADROOM_SCALE: Final = 0.08
HEADROOM_MUCH_WEIGHT: Final = 1.5
"""Too little is better than too much [headroom_bias]; the weight itself is a house value."""

JOINT_ROOM_HEADS: Final = 0.15
"""No edge that a limb crosses this near to its joint [joints]."""
JOINT_STEP: Final = 0.25
"""House: joints count in quarters; on the sheets a trace of one had moved a man to the side."""
JOINT_VISIBILITY: Final = 0.8
"""Joints less visible than this are guesses (measured on photographs)."""
NECK_HEADS: Final = (1.18, 1.42)
NECK_SCALE: Final = 0.12
"""The neck, in heads below the skull top: chin 1, sternal notch 1.38 [cut_lines]."""

CENTRE_U: Final = (0.48, 0.52)
GROUP_U: Final = (0.46, 0.54)
RIGHT_U: Final = (0.33, 0.40)
"""Facing: the middle [thirds_tested]. Looking right: 60:40 to 67:33 in front [leadroom]."""
ACROSS_SCALE: Final = 0.15
OVERHANG_SCALE: Final = 0.25
"""House: a quarter of the head's width outside the frame costs 1."""
PAGE_U: Final = (0.23, 0.27)
"""Spread: one principal at a page's centre, u = 1/4 or 3/4 [spread]."""
AWAY_FROM_GUTTER_COST: Final = 0.25
"""House: a turned head that looks out of the spread."""

QUANTUM: Final = 1000
"""Tiers are counted in thousandths [composition]."""
NEVER_COST: Final = 1000


@dataclass(frozen=True, slots=True)
class Card:
    """How a rule is shown: its title in the trade's words, its weight, its source."""

    title: str
    weight: float
    source: str


CARDS: Final[dict[str, Card]] = {
    "inside": Card("Inside the master", 1, "arithmetic"),
    "pixels": Card("Enough pixels", 1, "[acuity], [lpi]; the destination's own figures"),
    "eyes": Card("Eyes kept, with room", 1, "[circle], [story_ui]; room .08 head (house)"),
    "chin": Card("Chin kept, with room", 1, "[eyeline_cu]; room .04 head (house)"),
    "gutter": Card("Face clear of the gutter", 1, "[spread], [safe]"),
    "zones": Card("Covered zones clear", 1, "[story_ui]; the destination's own zones"),
    "bystanders": Card("Bystanders whole or absent", 1, "common practice"),
    "one head": Card("One person, head and eyes in the template", 1, "[id_us], [id_de]"),
    "heads whole": Card("Heads of the group whole", 1, "common practice"),
    "framing": Card("Framing", 1, "[cut_lines], shot table; half a head is the scale (house)"),
    "crown": Card("Crown clear, or cut on purpose", 1, "[headroom_course], [hair]"),
    "eye line": Card("Eye line", 1, "[eyeline_cu], [eye_paintings]; a convention, not a grade"),
    "headroom": Card("Headroom", HEADROOM_MUCH_WEIGHT, "[headroom_num], [headroom_bias]"),
    "joints": Card("Limbs cut clear of joints", 1, "[joints], [cut_lines]"),
    "across": Card("Across", 1, "[thirds_tested], [leadroom]"),
    "kept": Card("Use of the master", 1, "[max_crop]"),
}
"""One card per rule, in the order told."""
