"""The optimum: the whole-pixel box with the least sum of all rules.

Most rules depend on the size and on one place alone, down or across. The best place of a size is
then two searches on one axis each. A coarse round over all sizes and places comes first; then the
best few are searched again, ever finer, until the steps are one pixel. What couples both axes
(other heads, limbs, zones beside the face, the circle's rim) never lowers the sum: only where it
adds something to the box found so is the search done once more on the whole plane.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cropper.geometry import PixelBox
from cropper.proposal import house
from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.rules import RULES, Axis, Rule
from cropper.proposal.rules.pixels import NO_CROP_AT, shortage
from cropper.proposal.scene import Scene
from cropper.proposal.sizes import Whole, all_sizes, every_size, sizes_near


@dataclass(frozen=True, slots=True)
class Grid:
    """How a search looks: coarse sizes and places, starts that go on, finer sizes and places."""

    sizes: int
    places: int
    starts: int
    near_sizes: int
    near_places: int


APART: Final = Grid(sizes=26, places=25, starts=4, near_sizes=7, near_places=15)
ROUGH: Final = Grid(sizes=14, places=17, starts=2, near_sizes=5, near_places=9)
"""For alternatives: near their best, not to the pixel."""
TOGETHER: Final = Grid(sizes=14, places=13, starts=4, near_sizes=5, near_places=9)
"""With coupled rules every place down meets every place across: fewer of each."""
ALL_UP_TO: Final = 96
AT_ONCE: Final = 200_000
"""Masters up to so many px a side: every size and every place is tried, if so few boxes do."""
FINER: Final = 0.15
"""Each round's steps against the one before: neighbouring steps still overlap."""
SETTLING: Final = 4
"""Rounds at the last pixels, as long as they find better."""
PUSHED: Final = 1e-6
"""What coupled rules add below this changes no box."""


@dataclass(frozen=True, slots=True)
class Found:
    """A box with its cost."""

    box: PixelBox
    cost: float


class Search:
    """The search of one scene."""

    def __init__(self, scene: Scene, *, between: tuple[float, float] = (0.0, math.inf)) -> None:
        """``between``: least and greatest longer side that is searched, px."""
        self.scene, self._between = scene, between
        self.rules = tuple(rule for rule in RULES if rule.applies(scene))
        self._coupled = tuple(one for one in self.rules if one.axis is Axis.BOTH)
        self._apart = tuple(one for one in self.rules if one.axis is not Axis.BOTH)
        self._guides = tuple((one, one.easiest) for one in self._apart if one.easiest is not None)

    def best(self, grid: Grid = APART) -> Found:
        """The box of least cost."""
        size = self.scene.size
        if self.scene.destination.full_frame:
            return self.measured(PixelBox(0, 0, size.width, size.height))
        found = self._searched(grid, ())
        if self._coupled:
            whole = self.measured(found.box)
            if whole.cost - found.cost <= PUSHED:
                return whole
            together = TOGETHER if grid is APART else grid
            found = self._searched(together, self._coupled, near=whole)
        return found

    def measured(self, box: PixelBox) -> Found:
        """Any box with its cost."""
        _, excesses = self.excesses(box)
        costs = (rule.cost(one) for rule, one in zip(self.rules, excesses, strict=True))
        return Found(box, sum(float(cost.ravel()[0]) for cost in costs))

    def excesses(self, box: PixelBox) -> tuple[Look, list[Many]]:
        """A look at one box, and each rule's excess there less what is forced."""
        w, h = np.array([[float(box.width)]]), np.array([[float(box.height)]])
        x, y = np.array([[float(box.x0)]]), np.array([[float(box.y0)]])
        look, _, _ = self._looked(w, h, x, y)
        here = [_net(rule, look)[..., :1, :1] for rule in self.rules]
        return Look.of(self.scene, box), here

    def _searched(self, grid: Grid, coupled: Sequence[Rule], near: Found | None = None) -> Found:
        """The search with or without coupled rules; ``near``: one more place to start from."""
        size, shape = self.scene.size, self.scene.destination.shape
        if max(size.width, size.height) <= ALL_UP_TO:
            w, h = self._allowed(*every_size(size, shape, self._least_side()))
            across = np.arange(size.width - float(w.min()) + 1) + 0 * w
            down = np.arange(size.height - float(h.min()) + 1) + 0 * h
            boxes = across.size * (down.shape[1] if coupled else 1)
            if boxes <= AT_ONCE:
                return self._round(w, h, across, down, coupled).starts(1)[0]
        w, h = self._allowed(*all_sizes(size, shape, self._least_side(), grid.sizes))
        spread = np.linspace(0.0, 1.0, grid.places)
        coarse = self._round(w, h, spread * (size.width - w), spread * (size.height - h), coupled)
        starts = coarse.starts(grid.starts) + ([near] if near else [])
        longest = float(max(w.max(), h.max()))
        size_step = max(1.0, longest * 2.5 / grid.sizes / grid.near_sizes * 2)
        room = max(size.width - float(w.min()), size.height - float(h.min()))
        step = max(1.0, room / (grid.places - 1) * 2.5 / grid.near_places)
        while True:
            starts = self._finer(starts, grid, size_step, step, coupled)
            if grid is ROUGH:
                return starts[0]
            if size_step <= 1 and step <= 1:
                return self._settled(starts, grid, coupled)
            size_step, step = max(1.0, size_step * FINER), max(1.0, step * FINER)

    def _settled(self, starts: Sequence[Found], grid: Grid, coupled: Sequence[Rule]) -> Found:
        """The best start moved pixel by pixel for as long as that is better."""
        found = starts[0]
        for _ in range(SETTLING):
            nearer = self._finer([found], grid, 1.0, 1.0, coupled)[0]
            if nearer.cost >= found.cost - PUSHED:
                break
            found = nearer
        return found

    def _allowed(self, w: Many, h: Many) -> tuple[Many, Many]:
        """The sizes between the two ends; the nearest one if none lies there."""
        least, most = self._between
        longer = np.maximum(w, h)[:, 0]
        keep = (longer >= least) & (longer <= most)
        keep &= shortage(self.scene, w, h)[:, 0] < NO_CROP_AT
        if not keep.any():
            keep[np.argmin(np.maximum(least - longer, longer - most))] = True
        return w[keep], h[keep]

    def _least_side(self) -> float:
        """The least longer side that is searched, px."""
        scene = self.scene
        if not scene.people:
            return max(scene.size.width, scene.size.height) / 3
        if self._between[0] > 0:
            return self._between[0]
        return house.LEAST_HEADS * min(one.head for one in scene.people)

    def _finer(
        self,
        starts: Sequence[Found],
        grid: Grid,
        size_step: float,
        step: float,
        coupled: Sequence[Rule],
    ) -> list[Found]:
        """The best near each start, best first; the worse half is dropped."""
        scene = self.scene
        steps = (np.arange(grid.near_places) - grid.near_places // 2) * step
        rows, groups = [], []
        for at, start in enumerate(starts):
            box = start.box
            w, h = self._allowed(
                *sizes_near(
                    scene.size, scene.destination.shape, box.size, size_step, grid.near_sizes
                )
            )
            x = (box.x0 + box.x1 - w) / 2 + steps
            y = (box.y0 + box.y1 - h) / 2 + steps
            if not coupled:  # the upper edge, too, stays in place while the size changes
                y = np.hstack([y, box.y0 + steps + 0 * h])
            rows.append((w, h, x, y))
            groups += [at] * len(w)
        w, h, x, y = (np.vstack(column) for column in zip(*rows, strict=True))
        found = self._round(w, h, x, y, coupled).best_of(groups)
        unique = list({one.box: one for one in found}.values())
        return unique[: max(2, (len(unique) + 1) // 2)]

    def _round(self, w: Many, h: Many, x: Many, y: Many, coupled: Sequence[Rule]) -> _Round:
        """Costs of sizes (n, 1) with places across (n, m) and down (n, m), whole and inside."""
        size = self.scene.size
        x = np.clip(np.rint(x), 0, size.width - w)
        y = np.clip(np.rint(y), 0, size.height - h)
        look, x, y = self._looked(w, h, x, y)
        down: Many = np.zeros((1, 1, 1))
        across: Many = np.zeros((1, 1, 1))
        for rule in self._apart:
            cost = rule.cost(_net(rule, look))
            if rule.axis is Axis.ACROSS:
                across = across + cost
            else:
                down = down + cost
        both = None
        if coupled:
            both = sum((rule.cost(rule.excess(look)) for rule in coupled), np.zeros(1))
        return _Round(w, h, x, y, down, across, both)

    def _looked(self, w: Many, h: Many, x: Many, y: Many) -> tuple[Look, Many, Many]:
        """A look at the places, the ends of the master and the rules' easiest places behind them.

        From those behind one reads what is forced: the least excess that any place has.
        """
        size = self.scene.size
        across_room = np.maximum(0.0, size.width - w)
        down_room = np.maximum(0.0, size.height - h)
        xs, ys = [x, 0 * w, across_room], [y, 0 * h, down_room]
        sizes_w, sizes_h = w[:, :, None], h[:, :, None]
        if self._guides:
            origin = np.zeros((1, 1, 1))
            sizes = Look(self.scene, origin, origin, sizes_w, sizes_h)
            for rule, easiest in self._guides:
                at = np.floor(easiest(sizes))[:, :, 0]
                into, room = (ys, down_room) if rule.axis is Axis.DOWN else (xs, across_room)
                into += [np.clip(at, 0, room), np.clip(at + 1, 0, room)]
        x, y = np.concatenate(xs, axis=1), np.concatenate(ys, axis=1)
        return Look(self.scene, x[:, None, :], y[:, :, None], sizes_w, sizes_h), x, y


@dataclass(frozen=True)
class _Round:
    """Costs of sizes and places; ``both`` is what couples the two axes, if anything does."""

    w: Many
    h: Many
    x: Many
    y: Many
    down: Many
    across: Many
    both: Many | None

    def best_of(self, groups: Iterable[int]) -> list[Found]:
        """The best box of each group of sizes, best first."""
        at_x, at_y, cost = self._best_places()
        best: dict[int, int] = {}
        for row, group in enumerate(groups):
            if group not in best or cost[row] < cost[best[group]]:
                best[group] = row
        return [
            self._found(row, int(at_x[row]), int(at_y[row]), float(cost[row]))
            for row in sorted(best.values(), key=lambda row: cost[row])
        ]

    def starts(self, count: int) -> list[Found]:
        """Where to search on: the best of the sizes that beat their neighbours, then the next."""
        at_x, at_y, cost = self._best_places()
        wide = np.concatenate([[np.inf], cost, [np.inf]])
        hollow = (cost <= wide[:-2]) & (cost <= wide[2:])
        order = sorted(range(len(cost)), key=lambda row: (not hollow[row], cost[row]))[:count]
        return sorted(
            (self._found(row, int(at_x[row]), int(at_y[row]), float(cost[row])) for row in order),
            key=lambda one: one.cost,
        )

    def _best_places(self) -> tuple[Whole, Whole, Many]:
        """For each size the best place across and down, and its cost."""
        rows = np.arange(len(self.w))
        if self.both is None:
            down = np.broadcast_to(self.down[:, :, 0], self.y.shape)
            across = np.broadcast_to(self.across[:, 0, :], self.x.shape)
            at_y, at_x = down.argmin(axis=1), across.argmin(axis=1)
            return at_x, at_y, down[rows, at_y] + across[rows, at_x]
        every = (self.down + self.across + self.both).reshape(len(rows), -1)
        flat = every.argmin(axis=1)
        at_y, at_x = np.divmod(flat, self.x.shape[1])
        return at_x, at_y, every[rows, flat]

    def _found(self, row: int, at_x: int, at_y: int, cost: float) -> Found:
        x0, y0 = int(self.x[row, at_x]), int(self.y[row, at_y])
        return Found(PixelBox(x0, y0, x0 + int(self.w[row, 0]), y0 + int(self.h[row, 0])), cost)


def _net(rule: Rule, look: Look) -> Many:
    """A rule's excess less the least that any place of each size has, where that is free."""
    excess = rule.excess(look)
    if rule.hard or not rule.forced_is_free or rule.axis is Axis.BOTH or excess.ndim < AXES:
        return excess
    side = 1 if rule.axis is Axis.DOWN else 2
    return np.asarray(excess - excess.min(axis=side, keepdims=True))


AXES: Final = 3
"""Sizes, places down, places across; a rule that says the same everywhere has fewer."""
