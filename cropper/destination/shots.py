"""Shot sizes: how deep the frame reaches below the hair top, in heads.

Names follow the trade (Thompson & Bowen 2009, plus portrait terms); the depths are head heights
below the crown from ANSUR II (reference ``cut_lines``). Both ends of a band are house values
chosen inside the gaps between joints. One head = skull top to chin.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Shot(StrEnum):
    """Shot sizes, tightest first."""

    EXTREME_CLOSE_UP = "extreme close-up"
    BIG_CLOSE_UP = "big close-up"
    CLOSE_UP = "close-up"
    BUST = "bust"
    HALF_LENGTH = "half length"
    THREE_QUARTER = "three-quarter"
    FULL = "full length"


@dataclass(frozen=True, slots=True)
class Depth:
    """A band of depths below the hair top, in heads; ``most`` may be infinite."""

    least: float
    most: float


DEPTHS: Final[dict[Shot, Depth]] = {
    Shot.EXTREME_CLOSE_UP: Depth(0.0, 1.0),
    Shot.BIG_CLOSE_UP: Depth(1.0, 1.18),
    Shot.CLOSE_UP: Depth(1.45, 1.8),
    Shot.BUST: Depth(2.2, 2.6),
    Shot.HALF_LENGTH: Depth(3.0, 3.4),
    Shot.THREE_QUARTER: Depth(4.3, 5.0),
    Shot.FULL: Depth(7.6, float("inf")),
}
"""Source: reference.md, shot vocabulary table; big close-up to 1.18 [composition.md, joints]."""
