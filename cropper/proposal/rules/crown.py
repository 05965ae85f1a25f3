"""The crown of the head: whole and clear, or cut where a cut reads as meant."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over, worst_person
from cropper.proposal.scene import Scene

CLEAR = 0.02
"""House: less air than this share of the height reads as a graze, or than the master has."""
CUT_LEAST_HEADS = 0.08
"""A decided cut goes at least this far below the hair top [headroom_course; house figure]."""
HAIRLINE_ROOM_HEADS = 0.05
"""House: an edge on the hairline reads as a mistake."""
BROWS_ROOM_HEADS = 0.12
"""House: the frown muscle above the brows belongs to the eyes."""
EDGE_ROOM_HEADS = 0.05
"""House: where the master itself cuts the crown, its own edge is where the photographer cut it."""
SCALE_HEADS = 0.1
"""House: a tenth of a head from a clear or a decided place costs one weight."""


def _cut(look: Look) -> Many:
    heads = look.scene.heads
    cut = heads.whole & (look.top > heads.hair_y)
    return worst_person(np.where(cut, 1.0, 0.0))


def _grazed(look: Look) -> Many:
    heads = look.scene.heads
    air = np.minimum(CLEAR * look.height, over(heads.hair_y))
    to_clear = over(look.top - heads.hair_y + air)
    start = heads.hair_y + CUT_LEAST_HEADS * heads.head
    end = heads.brows_y - BROWS_ROOM_HEADS * heads.head
    room = HAIRLINE_ROOM_HEADS * heads.head
    to_cut = np.minimum(
        _to_band(look.top, start, np.minimum(end, heads.hairline_y - room)),
        _to_band(look.top, np.maximum(start, heads.hairline_y + room), end),
    )
    at_edge = np.where(heads.whole, np.inf, over(look.top - EDGE_ROOM_HEADS * heads.head))
    nearest = np.minimum(np.minimum(to_clear, to_cut), at_edge)
    return worst_person(nearest / (SCALE_HEADS * heads.head))


def _to_band(at: Many, least: Many, most: Many) -> Many:
    """Distance to a band of y, px; infinite where the band is empty."""
    return np.where(least <= most, over(np.maximum(least - at, at - most)), np.inf)


def _gap(look: Look) -> float:
    """Air above the tallest hair, in heads; below 0: cut."""
    tallest = look.scene.tallest
    return (tallest.hair_y - first(look.top)) / tallest.head


def _sigma(scene: Scene) -> float:
    return scene.tallest.hair_sigma / scene.tallest.head


def _words(look: Look, value: float) -> str:
    scene = look.scene
    if not scene.tallest.crown_whole:
        return "The master itself cuts the crown."
    if value >= 0:
        return "The hair is whole."
    share = -value * scene.tallest.head / first(look.height)
    return f"Cuts the hair {max(1, round(100 * share))} % of the height below its top."


def _grazed_words(look: Look, value: float) -> str:
    if look.scene.tallest.crown_whole and value >= 0 and first(_grazed(look)) > 0:
        return "The hair nearly touches the upper edge."
    return _words(look, value)


RULES = (
    Rule(
        name="crown cut",
        title="Hair whole",
        source="[sac_expert], [editors]; weight fitted",
        axis=Axis.DOWN,
        weight=0.3,
        excess=_cut,
        value=_gap,
        unit="heads above the hair (below 0: cut)",
        words=_words,
        sigma=_sigma,
    ),
    Rule(
        name="crown",
        title="Hair clear, or cut where it reads as meant",
        source="[headroom_course], [hair]; weight fitted",
        axis=Axis.DOWN,
        weight=0.05,
        forced_is_free=False,
        excess=_grazed,
        value=_gap,
        unit="heads above the hair (below 0: cut)",
        words=_grazed_words,
        sigma=_sigma,
    ),
)
