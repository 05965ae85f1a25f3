"""The least sum there is over every allowed whole-pixel box of a master.

Nothing is left untried but what cannot be better: rules that move along one axis are worked out
for every place of that axis, so their two sums bound every box of a size from below, and only
boxes under the best sum so far are measured whole. Where that would be too many, on large
masters, the search stops early and says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from cropper.destination.destination import Destination
from cropper.geometry import PixelBox
from cropper.subject.subject import Finding
from tests.oracle.boxes import Boxes, Floats, Whole
from tests.oracle.case import Case, cases
from tests.oracle.checker import along_axis, plain
from tests.oracle.rules import LEFT_OUT, Moves, speaking
from tests.oracle.soft import needed_over_there

TOO_FEW = 3.0
"""No crop has that many times too few pixels."""
CELLS = 1_000_000
"""Boxes bounded at one go (house: some 8 MB for each array)."""
CHUNK = 20_000
"""Boxes measured whole at one go, the most promising first."""
FIRST_LOOK = 16
"""Sizes looked at before all others, spread over all of them."""
SAME = 1e-9


@dataclass
class Search:
    """The best box so far, and how much was looked at."""

    most_measured: float = float("inf")
    cost: float = float("inf")
    box: PixelBox | None = None
    case: Case | None = None
    bounded: int = 0
    measured: int = 0
    cut_short: bool = field(default=False)

    def offer(self, case: Case, boxes: Boxes, costs: Floats) -> None:
        """Take the best of ``boxes`` if it is better than what there is."""
        at = int(costs.argmin())
        if costs[at] < self.cost - SAME:
            self.cost, self.case = float(costs[at]), case
            x0, y0, w, h = (int(side[at]) for side in (boxes.x0, boxes.y0, boxes.w, boxes.h))
            self.box = PixelBox(x0, y0, x0 + w, y0 + h)


def least_sum(
    finding: Finding, destination: Destination, most_measured: float = float("inf")
) -> Search:
    """Search every sum of the destination; ``box`` is None where no crop is to be proposed."""
    search = Search(most_measured)
    for case in cases(finding, destination):
        _search_case(search, case)
    return search


def _search_case(search: Search, case: Case) -> None:
    w, h = (np.array(side, dtype=np.int64) for side in zip(*case.searched, strict=True))
    flat = Boxes(np.zeros_like(w), np.zeros_like(w), w, h)
    enough = needed_over_there(case, flat) < TOO_FEW
    fixed = np.broadcast_to(plain(case, flat, Moves.NOT), w.shape) + LEFT_OUT * case.left_out
    order = np.argsort(fixed, kind="stable")
    order = order[enough[order]]
    if not len(order):
        return
    spread = order[:: max(1, len(order) // FIRST_LOOK)]
    for sizes in (*([size] for size in spread), *_blocks(case, w[order], h[order], order)):
        chosen = np.array(sizes)
        chosen = chosen[fixed[chosen] < search.cost - SAME]
        if len(chosen):
            _search_sizes(search, case, (w[chosen], h[chosen]), fixed[chosen])


def _blocks(case: Case, w: Whole, h: Whole, order: Whole) -> Iterator[list[int]]:
    """Runs of sizes, in order, of about CELLS places in all."""
    held: list[int] = []
    cells = 0
    room = (case.master.width - w + 1) * (case.master.height - h + 1)
    for size, more in zip(order.tolist(), room.tolist(), strict=True):
        held.append(size)
        cells += more
        if cells > CELLS or len(held) >= 64:
            yield held
            held, cells = [], 0
    if held:
        yield held


def _search_sizes(search: Search, case: Case, sizes: tuple[Whole, Whole], fixed: Floats) -> None:
    w, h = sizes[0][:, None], sizes[1][:, None]
    down = along_axis(case, w, h, Moves.DOWN) + fixed[:, None]
    across = along_axis(case, w, h, Moves.ACROSS)
    search.bounded += int(np.isfinite(down).sum(axis=1) @ np.isfinite(across).sum(axis=1))
    if not speaking(case, Moves.BOTH):
        y0, x0 = down.argmin(axis=1), across.argmin(axis=1)
        search.offer(case, Boxes(x0, y0, *sizes), down.min(axis=1) + across.min(axis=1))
        return
    bound = down[:, :, None] + across[:, None, :]
    size, y0, x0 = np.nonzero(bound < search.cost - SAME)
    low = bound[size, y0, x0]
    for some in _by_promise(low):
        some = some[low[some] < search.cost - SAME]  # noqa: PLW2901 - the best has become better
        if not len(some):
            return
        if search.measured > search.most_measured:
            search.cut_short = True
            return
        search.measured += len(some)
        boxes = Boxes(x0[some], y0[some], sizes[0][size[some]], sizes[1][size[some]])
        search.offer(case, boxes, low[some] + plain(case, boxes, Moves.BOTH))


def _by_promise(low: Floats) -> Iterator[Whole]:
    """Places in chunks, those of the least bounds first; a short chunk to begin with."""
    first = min(len(low), 500)
    if first < len(low):
        head = np.argpartition(low, first)
        yield head[:first]
        rest = head[first:]
        order = rest[np.argsort(low[rest])]
    else:
        order = np.arange(len(low))
    for start in range(0, len(order), CHUNK):
        yield order[start : start + CHUNK]
