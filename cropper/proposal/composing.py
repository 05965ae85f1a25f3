"""The optimum: the least cost tuple over whole-pixel boxes of the allowed sizes.

Size first, then place. On a master whose sides are all tried (up to 128 px) the search is
exhaustive. Beyond, sizes stand on a ladder, of which only the rungs count whose framing can be
best wherever they lie; places stand at the marks of the rules and on a grid. The gap round the
best is searched again until it is one pixel.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import count
from typing import Final

import numpy as np

from cropper.geometry import PixelBox
from cropper.proposal import graded, house, never
from cropper.proposal.arithmetic import Many
from cropper.proposal.frames import Boxes, Look
from cropper.proposal.kept import Kept, least_of
from cropper.proposal.places import (
    FAR_STEPS,
    NEAR_STEPS,
    Places,
    Rungs,
    Sizes,
    Span,
    marks_across,
    marks_down,
    sizes_of,
    span_across,
    span_down,
)
from cropper.proposal.proposal import Cost
from cropper.proposal.rows import (
    FIRST_TIERS,
    LAST_TIERS,
    Truths,
    counted,
    lost,
)
from cropper.proposal.scene import Scene
from cropper.proposal.searching import Block, obstructed
from cropper.proposal.sizes import ALL_SIDES_UP_TO, Whole, allowed, largest
from cropper.proposal.wishes import ANYTHING, Found, Wish

FINE_RUNGS: Final = 320
"""Rungs whose framing is looked at, before the best framed are tried."""
RUNGS: Final = 32
"""Rungs tried to see whether anything fits, and of those framed far from best."""
RANGE_RUNGS: Final = 56
"""Longer sides of a shape range."""
TRIED: Final = 84
BATCH: Final = 20
"""Well framed rungs tried at most; so many of the largest first, as nothing is lost by more."""
FIT_RUNGS: Final = 80
"""Rungs looked at to see whether anything fits at all."""
GRID: Final = 8
RUNGS_NEAR: Final = 24
RUNGS_ABOVE: Final = 44
"""Rungs near the best; and above it, when it costs nothing and can only grow."""
GRID_NEAR: Final = 8
EVERY_SIZE: Final = 11
"""Px round the best within which every size is tried at last."""
SETTLED: Final = 2.0
"""Px: a box that moved no farther stands, as every place so near was tried with every size."""
SETTLING: Final = 6
"""Rounds at the last pixels, as long as they find better."""
STRETCH: Final = 8
"""Shapes tried per longer side of a range."""
RUNGS_NEAR_STRETCHED: Final = 23
"""Longer sides near the best of a range."""
DENSE_RUNGS: Final = 200
DENSE_GRID: Final = 32
AT_ONCE: Final = 2_000_000
"""Boxes measured in one go: bounds memory at about 16 MB an array."""


def best_box(scene: Scene, wish: Wish = ANYTHING) -> Found | None:
    """The box of least cost; None when every box breaks a never-rule (or the wish)."""
    return Ladder(scene).best(wish)


def cost_of(scene: Scene, box: PixelBox) -> Cost:
    """The cost tuple of one box, never-rules counted."""
    boxes = boxes_of(box)
    broken = sum(rule(scene, boxes) < 0 for rule in never.rules_for(scene).values())
    look = Look(scene, boxes)
    tiers = [int(counted(tier(scene, look))) for tier in (*FIRST_TIERS, *LAST_TIERS)]
    away = 0
    if not scene.destination.full_frame:
        away = int(lost(float(box.width * box.height), scene.greatest_area))
    return (house.NEVER_COST * int(broken), *tiers, away)


def boxes_of(box: PixelBox) -> Boxes:
    """One box, as the rules take it."""
    return Boxes(float(box.x0), float(box.y0), float(box.width), float(box.height))


@dataclass(frozen=True, slots=True)
class _Reach:
    """How far round the best a round searches: longer side and shape, px."""

    gap: float
    stretch: int
    grows: bool

    @property
    def rungs(self) -> int:
        """How many longer sides are tried."""
        if self.stretch:
            return RUNGS_NEAR_STRETCHED if self.gap <= EVERY_SIZE else RUNGS_NEAR // 2
        return RUNGS_ABOVE if self.grows else RUNGS_NEAR


class Ladder:
    """The search of one scene: a first round over all sizes, then ever nearer to the best.

    ``like``: the ladder of the same people and shape that wants another framing, or whose master
    is smaller; what both need is worked out once.
    """

    def __init__(self, scene: Scene, like: Ladder | None = None) -> None:
        self.scene, self._like = scene, like
        self.all_tried = max(scene.size.width, scene.size.height) <= ALL_SIDES_UP_TO

    def best(self, wish: Wish = ANYTHING) -> Found | None:
        """The optimum to the pixel; searched again, densely, before saying there is none."""
        found = self.rough(wish)
        if found is None and not self.all_tried and not self.scene.destination.full_frame:
            found = self._densely(wish)
        return None if found is None else self.refined(found, wish)

    def rough(self, wish: Wish = ANYTHING, *, well_framed_only: bool = False) -> Found | None:
        """The best on the ladder alone: a rung from the optimum, unless a window is narrower."""
        if self.scene.destination.full_frame:
            return _whole(self.scene)
        found = least_of(self._best_framed, wish)
        if well_framed_only or (found is not None and found.cost[1] <= self.least_framing):
            return found
        return least_of(self._worse_framed, wish, found) or found

    def refined(self, found: Found, wish: Wish = ANYTHING, *, rounds: int | None = None) -> Found:
        """Search the gap round a box again, each time a finer one, to the pixel or ``rounds``."""
        scene = self.scene
        if scene.destination.full_frame or self.all_tried:
            return found
        exact, longer = scene.destination.shape.exact, max(found.box.width, found.box.height)
        gap = max(float(EVERY_SIZE), longer * (self._step - 1) * 1.01)
        stretch = 0 if exact else math.ceil(longer / STRETCH)
        settling = 0
        for done in count(1):
            free = not any(found.cost[:-1])
            grows = free and exact
            around = _Reach(gap, stretch, grows=grows)
            better = self._near(found, wish, around)
            every = gap <= around.rungs - 8 if grows else gap <= EVERY_SIZE
            every = every and stretch <= STRETCH // 2
            settling += every
            stays = better is None or _moved(found.box, better.box) <= SETTLED
            settled = every and (stays or (free and self._marked) or settling == SETTLING)
            if better is not None:
                found = better
            if settled or done == rounds:
                break
            gap = max(float(EVERY_SIZE), 2.2 * gap / around.rungs)
            stretch = math.ceil(2.2 * stretch / STRETCH)
        return found

    @cached_property
    def _marked(self) -> bool:
        """Whether the marks alone know the best: one person, one shape, no limb and no arc."""
        scene = self.scene
        return scene.destination.shape.exact and not (scene.circle or scene.group or scene.limbs)

    def fits(self) -> bool:
        """Whether some box keeps every never-rule; looked for on the ladder only."""
        most = ALL_SIDES_UP_TO if self.all_tried else FIT_RUNGS
        sizes, down, across = self._fitting(*self._sizes(self._ends, most, STRETCH))
        if not len(sizes.w) or not obstructed(self.scene):
            return bool(len(sizes.w))
        rungs = Rungs(sizes, down, across, np.zeros(len(sizes.w)))
        rungs = rungs if self.all_tried else rungs.thinned(RUNGS)
        marks = self._marks_to_fit if self._like is None else self._like._marks_to_fit  # noqa: SLF001
        places = Places(marks, GRID)
        return any(block.fits() for block in self._in_blocks(rungs, places, first=RUNGS))

    @cached_property
    def _ends(self) -> tuple[int, int]:
        """Least and greatest longer side that a crop of the scene may have."""
        biggest = largest(self.scene.size, self.scene.destination.shape)
        most = max(biggest.width, biggest.height)
        return min(most, _least_longer_side(self.scene)), most

    @cached_property
    def _rungs(self) -> Rungs:
        sizes, down, across = self._all_fitting
        return Rungs(sizes, down, across, _least_framing(self.scene, sizes, down))

    @cached_property
    def _all_fitting(self) -> tuple[Sizes, Span, Span]:
        if self._like is not None and self._like.scene.size == self.scene.size:
            return self._like._all_fitting  # noqa: SLF001
        if self.all_tried:
            return self._fitting(*self._sizes(self._ends, ALL_SIDES_UP_TO, ALL_SIDES_UP_TO))
        exact = self.scene.destination.shape.exact
        return self._fitting(
            *self._sizes(self._ends, FINE_RUNGS if exact else RANGE_RUNGS, STRETCH)
        )

    @cached_property
    def least_framing(self) -> int:
        """The least that framing can cost on any rung, whatever else it costs."""
        return int(self._rungs.framing.min(initial=2**40))

    @cached_property
    def _step(self) -> float:
        """The greatest ratio between neighbours of the first round's sizes."""
        if not self.scene.destination.shape.exact:
            return float((self._ends[1] / self._ends[0]) ** (1 / RUNGS))
        longer = np.maximum(self._first.sizes.w, self._first.sizes.h)
        fine = float((self._ends[1] / self._ends[0]) ** (1 / FINE_RUNGS))
        return max(fine, float((longer[1:] / longer[:-1]).max(initial=1.0)))

    @cached_property
    def _first(self) -> Rungs:
        """The best framed rungs."""
        rungs = self._rungs.pick(np.flatnonzero(self._rungs.framing == self.least_framing))
        return rungs.thinned(TRIED) if self._thins else rungs

    @property
    def _thins(self) -> bool:
        return not self.all_tried and self.scene.destination.shape.exact

    @cached_property
    def _marks(self) -> tuple[Many, Many]:
        across = marks_across(self.scene) if self._like is None else self._like._marks[1]  # noqa: SLF001
        return marks_down(self.scene, self.least_framing), across

    @cached_property
    def _marks_to_fit(self) -> tuple[Many, Many]:
        return marks_down(self.scene, 0), marks_across(self.scene)

    def _places(self, grid: int) -> Places:
        return Places(self._marks, ALL_SIDES_UP_TO if self.all_tried else grid)

    @cached_property
    def _best_framed(self) -> Kept:
        """The blocks of the first round, kept for other wishes; largest sizes first."""
        return Kept(self._in_blocks(self._first, self._places(GRID)))

    @cached_property
    def _worse_framed(self) -> Kept:
        """The others, those framed next best first: all of these, and some of the rest."""
        worse = np.flatnonzero(self._rungs.framing > self.least_framing)
        rungs = self._rungs.pick(worse[np.argsort(self._rungs.framing[worse], kind="stable")])
        if not self._thins:
            return Kept(self._in_blocks(rungs, self._places(GRID)))
        at = np.arange(len(rungs.framing))
        parts = (rungs.pick(at[:TRIED]), rungs.pick(at[TRIED:]).thinned(RUNGS))
        return Kept(block for part in parts for block in self._in_blocks(part, self._places(GRID)))

    def _densely(self, wish: Wish) -> Found | None:
        """Every size's spans, then many sizes and places: a window may be narrower than a rung."""
        exact = self.scene.destination.shape.exact
        most = max(self.scene.size.width, self.scene.size.height) if exact else DENSE_RUNGS
        rungs = self._rungs_of(*self._sizes(self._ends, most, STRETCH))
        if not obstructed(self.scene) or exact:
            rungs = rungs.thinned(DENSE_RUNGS)
        return least_of(self._in_blocks(rungs, self._places(DENSE_GRID)), wish)

    def _near(self, found: Found, wish: Wish, reach: _Reach) -> Found | None:
        box, (least, most) = found.box, self._ends
        longer = max(box.width, box.height)
        # what costs nothing else can only lose less: of smaller ones, only those that lose as much
        below = min(reach.gap, longer / house.QUANTUM + 1) if reach.grows else reach.gap
        ends = (max(least, math.floor(longer - below)), min(most, math.ceil(longer + reach.gap)))
        near = (box.size, reach.stretch) if reach.stretch else None
        widths, heights = allowed(
            self.scene.size,
            self.scene.destination.shape,
            between=ends,
            most=reach.rungs,
            stretch=STRETCH,
            near=near,
        )
        rungs = self._rungs_of(widths, heights)
        rungs = rungs.pick(np.flatnonzero(self._may_beat(rungs, found)))
        if not len(rungs.framing):
            return None
        round_place = (box.centre.y, box.centre.x)
        # along an arc the best place across moves with the size; elsewhere the marks know it
        steps = (FAR_STEPS, FAR_STEPS if self.scene.circle else NEAR_STEPS)
        places = Places(self._marks, GRID_NEAR, round_place, steps)
        return least_of(self._in_blocks(rungs, places), wish, found)

    def _may_beat(self, rungs: Rungs, found: Found) -> Truths:
        """By what framing costs at least; and, when nothing else costs, by what is lost."""
        if any(found.cost[:-1]):
            return np.asarray(rungs.framing <= found.cost[1])
        areas = rungs.sizes.w * rungs.sizes.h
        still = lost(areas, self.scene.greatest_area) <= found.cost[-1]
        return np.asarray((rungs.framing == 0) & still)

    def _sizes(self, between: tuple[int, int], most: int, stretch: int) -> tuple[Whole, Whole]:
        shape = self.scene.destination.shape
        return allowed(self.scene.size, shape, between=between, most=most, stretch=stretch)

    def _rungs_of(self, widths: Whole, heights: Whole) -> Rungs:
        sizes, down, across = self._fitting(widths, heights)
        return Rungs(sizes, down, across, _least_framing(self.scene, sizes, down))

    def _fitting(self, widths: Whole, heights: Whole) -> tuple[Sizes, Span, Span]:
        """The sizes that have pixels enough and some place, and their spans."""
        scene = self.scene
        enough = widths >= scene.least_width
        if scene.least_long > 1:
            enough &= np.maximum(widths, heights) >= scene.least_long
        sizes = sizes_of(scene, widths[enough], heights[enough])
        down, across = span_down(scene, sizes), span_across(scene, sizes)
        fits = (down.least <= down.most) & (across.least <= across.most)
        if not fits.all():
            sizes, down, across = sizes.pick(fits), down.pick(fits), across.pick(fits)
        return sizes, down, across

    def _in_blocks(self, rungs: Rungs, places: Places, first: int = BATCH) -> Iterator[Block]:
        """The sizes with their places, in blocks that memory holds; the largest sizes first.

        ``first``: how many sizes the first block of a first round has.
        """
        order = np.argsort(-rungs.sizes.w * rungs.sizes.h, kind="stable")
        down, across = (
            places.grid + len(steps) + 2 * marks.shape[1]
            for marks, steps in zip(places.marks, places.steps, strict=True)
        )
        most = max(1, AT_ONCE // (down * across))
        size = most if self.all_tried or places.round_place else min(most, first)
        begin = 0
        while begin < len(order):
            yield Block(self.scene, rungs.pick(order[begin : begin + size]), places)
            begin, size = begin + size, min(most, 4 * size)


def _moved(one: PixelBox, other: PixelBox) -> float:
    """How far the centre or the size of a box differs from another's, px."""
    off = (one.centre.x - other.centre.x, one.centre.y - other.centre.y)
    return max(abs(off[0]), abs(off[1]), abs(one.width - other.width))


def _least_framing(scene: Scene, sizes: Sizes, down: Span) -> Many:
    """What framing costs each size where its frame is as deep as it can be wanted to be."""
    boxes = Boxes(np.zeros_like(sizes.w), down.least, sizes.w, sizes.h)
    look = Look(scene, boxes)
    least, _ = graded.wanted_depth(scene, look)
    deeper = (least - np.asarray(look.depth)) * scene.mean_head
    y0 = np.minimum(np.maximum(down.least, down.least + deeper), down.most)
    best = graded.framing_cost(scene, Look(scene, boxes._replace(y0=y0)))
    return np.broadcast_to(counted(best), sizes.w.shape)


def _about(span: Span, centre: float, length: Many, slack: Many) -> Span:
    """A span cut to the neighbourhood of one box, kept round its middle as the size changes."""
    place = centre - length / 2
    least = np.minimum(np.maximum(span.least, np.floor(place - slack)), span.most)
    most = np.maximum(np.minimum(span.most, np.ceil(place + slack)), span.least)
    return Span(least, most)


def _whole(scene: Scene) -> Found | None:
    box = PixelBox(0, 0, scene.size.width, scene.size.height)
    if never.pixels(scene, boxes_of(box)) < 0:
        return None
    return Found(box, (0,) * 8)


def _least_longer_side(scene: Scene) -> int:
    """No crop with a shorter longer side can hold the eyes, or has the pixels."""
    xs = [x for person in scene.people for x in (person.left_x, person.right_x)]
    ys = [y for person in scene.people for y in (person.left_y, person.right_y)]
    widest = max(max(xs) - min(xs), scene.least_width)
    return max(1, math.floor(max(widest, max(ys) - min(ys), scene.least_long)))
