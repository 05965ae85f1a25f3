"""Rows of boxes: what their first tiers cost, and which are least.

A row is a size and a place down; a pick is a row and a place across.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from cropper.proposal import graded, house
from cropper.proposal.arithmetic import Amount, Many, floored
from cropper.proposal.frames import Look
from cropper.proposal.scene import Scene
from cropper.proposal.wishes import Found

Truths = NDArray[np.bool_]
Counts = NDArray[np.int64]
Wholes = NDArray[np.float64]
"""Whole numbers in floats: costs in thousandths."""
Rows = tuple[Counts, Counts]
"""Indices of sizes and of their places down, one of each per row."""
Picks = tuple[Counts, Counts, Counts]
"""Indices of sizes, of their places down and across, one of each per box."""

FIRST_TIERS: Final = (
    graded.framing_cost,
    graded.crown_cost,
    graded.eye_line_cost,
    graded.headroom_cost,
)
LAST_TIERS: Final = (graded.joints_cost, graded.across_cost)


def counted(value: Amount) -> Many:
    """A tier in whole thousandths (floats, as those compare as fast)."""
    return np.asarray(floored(house.QUANTUM * value + 0.5))


def lost(kept: Amount, area: int) -> Many:
    """The share of the greatest crop that is lost, in thousandths: whole numbers throughout."""
    share = (2 * house.QUANTUM * (area - kept) + area) / (2 * area)
    return np.asarray(floored(share))


def by_row(value: Many, rows: int) -> Wholes:
    """One number per row, of a column or of one number for all."""
    if value.size == rows:
        return value.reshape(-1)
    return np.broadcast_to(value, (rows, 1))[:, 0]


def rows_where(among: Truths) -> Rows:
    """The rows of a table (sizes, places down) that are true."""
    size, down = np.nonzero(among)
    return size, down


def picks_of(rows: Rows, alive: Truths) -> Picks:
    """The boxes of rows with the places across where ``alive``."""
    row, place = np.nonzero(alive)
    return rows[0][row], rows[1][row], place


def picked(picks: Picks, keep: Truths) -> Picks:
    """The picks to keep."""
    if keep.all():
        return picks
    size, down, place = picks
    if keep.ndim > 1:
        keep = keep.reshape(-1)
    return size[keep], down[keep], place[keep]


def beaten(cost: list[int], best: Found | None) -> bool:
    """Whether the first tiers alone cost more than the best box known."""
    return best is not None and (0, *cost) > best.cost[: len(cost) + 1]


class CostedRows:
    """Rows with what their first tiers cost, each tier worked out when it is first asked for."""

    def __init__(self, scene: Scene, rows: Rows, look: Look, framing: Wholes) -> None:
        self.scene, self.rows, self.look = scene, rows, look
        self._costs = [framing]

    def __len__(self) -> int:
        return len(self.rows[0])

    def only(self, some: Counts) -> Rows:
        """The rows named."""
        return self.rows[0][some], self.rows[1][some]

    def least(self, some: Counts, best: Found | None) -> Counts:
        """Of the rows named those that cost least; none if that cannot beat ``best``."""
        cost: list[int] = []
        for at in range(len(FIRST_TIERS)):
            if not len(some):
                break
            here = self._tier(at)[some]
            least = here.min()
            some = some[here == least]
            cost.append(int(least))
            if beaten(cost, best):
                return some[:0]
        return some

    def cost(self, some: Counts) -> list[int]:
        """What the first of the rows named costs."""
        return [int(self._tier(at)[some[0]]) for at in range(len(FIRST_TIERS))]

    def _tier(self, at: int) -> Wholes:
        while len(self._costs) <= at:
            value = counted(FIRST_TIERS[len(self._costs)](self.scene, self.look))
            self._costs.append(by_row(value, len(self)))
        return self._costs[at]
