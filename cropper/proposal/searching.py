"""The least box of one block: sizes with places down and across, measured all at once.

Rows are a size and a y0; each takes every x0 of its size. What does not depend on x is measured
per row and filters first, tier after tier; only the rows left are tried across.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cached_property
from typing import Final

import numpy as np

from cropper.proposal import graded, house, never
from cropper.proposal.arithmetic import Many
from cropper.proposal.circles import NEARLY, keeps_in_circle, reach_in_circle
from cropper.proposal.frames import Boxes, Look, lid_of
from cropper.proposal.places import Places, Rungs
from cropper.proposal.proposal import Cost
from cropper.proposal.rows import (
    FIRST_TIERS,
    CostedRows,
    Counts,
    Picks,
    Rows,
    Truths,
    Wholes,
    beaten,
    by_row,
    counted,
    lost,
    picked,
    picks_of,
    rows_where,
)
from cropper.proposal.scene import Scene
from cropper.proposal.ties import first_of
from cropper.proposal.wishes import ANYTHING, Crown, Found, Page, Wish

LOST_MOST: Final = house.QUANTUM + 1
JOINTS_AT_ONCE: Final = 128
"""Rows whose joints are measured in one go."""
BITS: Final = 62
"""Pairs that one whole number holds."""


class Block:
    """Rungs, and per size the places ``y0`` and ``x0`` to try; made when first looked at."""

    def __init__(self, scene: Scene, rungs: Rungs, chosen: Places) -> None:
        self.scene, self.rungs, self.chosen = scene, rungs, chosen
        self.w, self.h = rungs.sizes.w[:, None], rungs.sizes.h[:, None]
        self._bars: dict[Page, list[tuple[Counts, Counts]]] = {}

    @cached_property
    def lost(self) -> Wholes:
        """What each size loses of the master."""
        return lost(self.rungs.sizes.w * self.rungs.sizes.h, self.scene.greatest_area)

    @cached_property
    def y0(self) -> Many:
        """Places down, shape (sizes, places)."""
        return np.sort(self.chosen.y0(self.rungs), axis=1)

    @cached_property
    def x0(self) -> Many:
        """Places across, shape (sizes, places)."""
        return self.chosen.x0(self.rungs)

    @cached_property
    def framing(self) -> Wholes:
        """What framing costs each size at each place down."""
        look = Look(self.scene, Boxes(self.x0[:, :1], self.y0, self.w, self.h))
        cost = counted(graded.framing_cost(self.scene, look))
        # places in order: one that stands twice counts as one that cannot be
        again = np.zeros(self.y0.shape, dtype=bool)
        again[:, 1:] = self.y0[:, 1:] == self.y0[:, :-1]
        return np.where(again, np.inf, cost)

    @cached_property
    def _key_least(self) -> Wholes:
        least: Wholes = self.key.min(axis=1)
        return least

    @cached_property
    def _best_rows(self) -> CostedRows:
        """The best framed rows and what their first tiers cost; kept for other wishes."""
        return self._rows_of(self.framing == self.framing.min())

    def _rows_of(self, among: Truths) -> CostedRows:
        rows = rows_where(among)
        look = Look(self.scene, self._boxes(rows, every_x=False))
        return CostedRows(self.scene, rows, look, self.framing[rows])

    @cached_property
    def by_rows(self) -> bool:
        """Whether no first tier depends on x: no arc, no lid over but a part of the places."""
        if self.scene.circle:
            return False
        for zone in self.scene.lids:
            lid = lid_of(Boxes(self.x0, self.y0[:, :1], self.w, self.h), zone)
            for person in self.scene.people:
                spans = (np.asarray(lid.left) <= person.hair_x) & (lid.right >= person.hair_x)
                if (spans != spans[:, :1]).any():
                    return False
        return True

    @cached_property
    def key(self) -> Wholes:
        """What each size costs at each place across and by what it loses, in one number."""
        boxes = Boxes(self.x0, self.y0[:, :1], self.w, self.h)
        across = counted(graded.across_cost(self.scene, Look(self.scene, boxes)))
        return np.broadcast_to(across, self.x0.shape) * LOST_MOST + self.lost[:, None]

    def _bound(self, level: int) -> Cost:
        return (0, level, 0, 0, 0, 0, 0, int(self.lost.min()))

    def least(self, wish: Wish, best: Found | None) -> Found | None:
        """The least box that keeps the never-rules and the wish; None if none can beat ``best``."""
        if best is not None and self._bound(int(self.rungs.framing.min())) > best.cost:
            return None
        level = int(self.framing.min())
        if best is not None and self._bound(level) > best.cost:
            return None
        first, rest = self.framing == level, (self.framing > level) & (self.framing < np.inf)
        if not self.by_rows:
            found = self._least_by_places(wish, first, best)
            if found is None and rest.any() and (best is None or level < best.cost[1]):
                found = self._least_by_places(wish, rest, best)
            return found
        found = self._least_by_rows(wish, self._best_rows, best)
        if found is None and rest.any() and (best is None or level < best.cost[1]):
            found = self._least_by_rows(wish, self._rows_of(rest), best)
        return found

    def _boxes(self, rows: Rows, *, every_x: bool) -> Boxes:
        size, down = rows
        x0 = self.x0[size] if every_x else self.x0[size, :1]
        return Boxes(x0, self.y0[size, down][:, None], self.w[size], self.h[size])

    def _least_by_rows(self, wish: Wish, rows: CostedRows, best: Found | None) -> Found | None:
        """Tiers filter the rows; if none of the best keeps the rules, those that do are tried."""
        some = np.arange(len(rows))
        if wish.crown is not Crown.ANY:
            wished = _crown_as(wish, rows.look)
            some = np.flatnonzero(np.broadcast_to(wished, (len(rows), 1)))
        left = rows.least(some, best)
        if not len(left):
            return None
        found = self._settled(wish, rows, left, best)
        if found is None and self._obstructed(wish):
            some = some[self._living(wish, rows.only(some))]
            left = rows.least(some, best)
            found = self._settled(wish, rows, left, best) if len(left) else None
        return found

    def _least_by_places(self, wish: Wish, among: Truths, best: Found | None) -> Found | None:
        """As by rows, for first tiers that depend on x too."""
        rows = rows_where(among)
        rival = best if best and best.cost[1] <= self.framing[rows].min() else None
        if rival:
            rows = self._not_beaten(rows, rival)
        alive = self._alive(wish, rows)
        if rival and not any(rival.cost[2:6]):
            across, away = rival.cost[-2:]
            alive &= self.key[rows[0]] <= across * LOST_MOST + away
        picks = picks_of(rows, alive)
        if wish.crown is not Crown.ANY:
            picks = picked(picks, _crown_as(wish, Look(self.scene, self._flat(picks))))
        if not len(picks[0]):
            return None
        framing = self.framing[picks[:2]]
        least = int(framing.min())
        cost = [least]
        picks = picked(picks, framing == least)
        for tier in FIRST_TIERS[1:]:
            value = counted(tier(self.scene, Look(self.scene, self._flat(picks))))
            least = int(value.min())
            picks = picked(picks, value == least)
            cost.append(least)
            if beaten(cost, best):
                return None
        return self._last(self._hopeful(picks), lambda: self._fewest_joints(picks), cost, best)

    def _not_beaten(self, rows: Rows, best: Found) -> Rows:
        """The rows whose framing and eye line do not rule out already that they beat ``best``."""
        size, down = rows
        keep = self.framing[rows] == best.cost[1]
        if best.cost[2] == 0:
            look = Look(self.scene, self._boxes(rows, every_x=False))
            eye_line = by_row(counted(graded.eye_line_cost(self.scene, look)), len(size))
            keep &= eye_line <= best.cost[3]
        return size[keep], down[keep]

    def _settled(
        self, wish: Wish, rows: CostedRows, left: Counts, best: Found | None
    ) -> Found | None:
        """The least of rows that cost the same so far; None if none keeps the rules."""
        here, cost = rows.only(left), rows.cost(left)
        if not self._obstructed(wish):
            key = self._key_least[here[0]]
            some = np.flatnonzero(key == key.min())
            few = (here[0][some], here[1][some])
            hopeful = picks_of(few, self.key[few[0]] == key.min())
            alive = np.ones((1, 1), dtype=bool)
            return self._last(hopeful, lambda: self._by_joints(here, alive), cost, best)
        alive = self._alive(wish, here)
        key = np.where(alive, self.key[here[0]], np.inf)
        least = key.min()
        if np.isinf(least):
            return None
        hopeful = picks_of(here, key == least)
        return self._last(hopeful, lambda: self._by_joints(here, alive), cost, best)

    def _hopeful(self, picks: Picks) -> Picks:
        key = self.key[picks[0], picks[2]]
        return picked(picks, key == key.min())

    def _last(
        self,
        hopeful: Picks,
        every: Callable[[], tuple[int, Picks]],
        cost: list[int],
        best: Found | None,
    ) -> Found | None:
        """The last tiers, ties and all, of boxes that cost the same so far.

        Those that are best by what they cost across and lose are tried first; if no joint costs
        them anything, the others need no look.
        """
        if beaten([*cost, 0, *self._across_and_lost(hopeful)], best):
            return None
        joints = self._joints(hopeful)
        if (fewest := int(joints.min())) > 0:
            fewest, picks = every()
            hopeful = self._hopeful(picks)
        else:
            hopeful = picked(hopeful, joints == fewest)
        whole = (0, *cost, fewest, *self._across_and_lost(hopeful))
        return first_of(
            self.scene, self._flat(hopeful), whole, to_the_pixel=self.chosen.to_the_pixel
        )

    def _by_joints(self, rows: Rows, alive: Truths) -> tuple[int, Picks]:
        """What joints cost at least, and the places of the rows where they cost that.

        What the upper and the lower edge cost wherever the box stands bounds each row; rows that
        cannot be the best are not tried.
        """
        bound = self._joints_at_least(rows)
        order = np.argsort(bound, kind="stable")
        least, tried = np.inf, []
        for begin in range(0, len(order), JOINTS_AT_ONCE):
            here = order[begin : begin + JOINTS_AT_ONCE]
            if bound[here[0]] > least:
                break
            part = (rows[0][here], rows[1][here])
            look = Look(self.scene, self._boxes(part, every_x=True))
            living = alive if len(alive) == 1 else alive[here]
            cost = np.where(living, counted(graded.joints_cost(self.scene, look)), np.inf)
            least = min(least, float(cost.min()))
            tried.append((part, cost))
        picks = [picks_of(part, cost == least) for part, cost in tried]
        size, down, place = (np.concatenate(column) for column in zip(*picks, strict=True))
        return int(least), (size, down, place)

    def _joints_at_least(self, rows: Rows) -> Wholes:
        look = Look(self.scene, self._boxes(rows, every_x=False))
        off = self.x0 - self.x0[:, :1]
        narrow = look.frame._replace(
            left=look.frame.left + off.max(axis=1)[rows[0]][:, None],
            right=look.frame.right + off.min(axis=1)[rows[0]][:, None],
        )
        cost = counted(graded.joint_quarters(self.scene, narrow, sides=False))
        return by_row(cost, len(rows[0]))

    def _fewest_joints(self, picks: Picks) -> tuple[int, Picks]:
        joints = self._joints(picks)
        return int(joints.min()), picked(picks, joints == joints.min())

    def _across_and_lost(self, picks: Picks) -> tuple[int, int]:
        return divmod(int(self.key[picks[0][0], picks[2][0]]), LOST_MOST)

    def _joints(self, picks: Picks) -> Wholes:
        value = counted(graded.joints_cost(self.scene, Look(self.scene, self._flat(picks))))
        return by_row(value, len(picks[0]))

    def _flat(self, picks: Picks) -> Boxes:
        size, down, place = picks
        x0, y0 = self.x0[size, place], self.y0[size, down]
        return Boxes(x0[:, None], y0[:, None], self.w[size], self.h[size])

    def fits(self) -> bool:
        """Whether some box keeps every never-rule."""
        rows = rows_where(np.ones(self.y0.shape, dtype=bool))
        return bool(self._living(ANYTHING, rows).any())

    def _obstructed(self, wish: Wish) -> bool:
        return wish.page is not Page.ANY or obstructed(self.scene)

    def _alive(self, wish: Wish, rows: Rows) -> Truths:
        """Which places across keep the never-rules that the spans do not promise, and the page."""
        size, down = rows
        alive: Truths = np.ones((len(size), self.x0.shape[1]), dtype=bool)
        for across, here in self._barred(wish.page):
            alive &= (across[size] & here[size, down][:, None]) == 0
        return self._in_circle(rows, alive) if self.scene.circle else alive

    def _living(self, wish: Wish, rows: Rows) -> Truths:
        """Which rows keep them at any place across; places that fail alike are judged once."""
        barred = self._barred(wish.page)
        if self.scene.circle or len(barred) != 1:
            return np.asarray(self._alive(wish, rows).any(axis=1))
        across, here = barred[0][0], barred[0][1][rows]
        living: Truths = np.zeros(len(here), dtype=bool)
        for code in np.unique(across):
            some = (across == code).any(axis=1)
            living |= some[rows[0]] & ((here & code) == 0)
        return living

    def _barred(self, page: Page) -> list[tuple[Counts, Counts]]:
        """Which pairs of each rule fail across (size, x0) and down (size, y0), one bit each.

        A box keeps the rules when no pair fails on both axes.
        """
        if page not in self._bars:
            failing = list(self._failing(page))
            self._bars[page] = [
                (_as_bits([x for x, _ in part], self.x0), _as_bits([y for _, y in part], self.y0))
                for part in (failing[at : at + BITS] for at in range(0, len(failing), BITS))
            ]
        return self._bars[page]

    def _failing(self, page: Page) -> Iterator[tuple[Truths, Truths]]:
        scene = self.scene
        by_x = Boxes(self.x0, self.y0[:, :1], self.w, self.h)
        by_y = Boxes(self.x0[:, :1], self.y0, self.w, self.h)
        for pairs in (never.gutter_pairs, never.zone_pairs, never.bystander_pairs):
            for (x, _), (_, y) in zip(pairs(scene, by_x), pairs(scene, by_y), strict=True):
                yield np.asarray(x < 0), np.asarray(y < 0)
        always = np.array(True)
        if scene.destination.head_share is not None:
            yield always, np.asarray(never.one_head(scene, by_y) < 0)
        if page is not Page.ANY:
            u = np.asarray(Look(scene, by_x).eyes_across)
            yield np.asarray(u >= 1 / 2 if page is Page.LEFT else u <= 1 / 2), always

    def _in_circle(self, rows: Rows, alive: Truths) -> Truths:
        """The circle's rules, judged only where a bound on each row does not decide."""
        scene = self.scene
        least, most = reach_in_circle(scene, self._boxes(rows, every_x=False))
        x0 = self.x0[rows[0]]
        alive &= (x0 >= least - NEARLY) & (x0 <= most + NEARLY)
        unsure = alive
        if not scene.bystanders:
            unsure = alive & ((x0 <= least + NEARLY) | (x0 >= most - NEARLY))
            if not unsure.any():
                return alive
        picks = picks_of(rows, unsure)
        alive[unsure] = keeps_in_circle(scene, self._flat(picks))
        return alive


def _as_bits(failing: list[Truths], places: Many) -> Counts:
    bits = np.zeros(places.shape, dtype=np.int64)
    for at, fails in enumerate(failing):
        bits |= fails.astype(np.int64) << at
    return bits


def _crown_as(wish: Wish, look: Look) -> Truths:
    to_clear, to_cut = graded.crown_state(look, look.scene.tallest_crown)
    return np.asarray((to_clear if wish.crown is Crown.CLEAR else to_cut) <= 0)


def obstructed(scene: Scene) -> bool:
    """Whether never-rules forbid more than the spans do."""
    return bool(
        scene.circle
        or scene.zones
        or scene.bystanders
        or scene.destination.gutter is not None
        or scene.destination.head_share is not None
    )
