"""The optimum: the least cost tuple over whole-pixel boxes of the allowed sizes.

Size first, then place. On a master whose sides are all tried (up to 128 px) the search is
exhaustive. Beyond, sizes stand on a ladder and places at the marks of the rules and on a grid;
the gap round the best is searched again until it is one pixel. The rules are evaluated on arrays,
vertical ones once per (size, y0), horizontal ones once per (size, x0).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import count
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cropper.geometry import PixelBox
from cropper.proposal import graded, house, never
from cropper.proposal.frames import Boxes, Floats, Look
from cropper.proposal.places import (
    Sizes,
    Span,
    places_across,
    places_down,
    sizes_of,
    span_across,
    span_down,
)
from cropper.proposal.proposal import Cost
from cropper.proposal.scene import Scene
from cropper.proposal.sizes import ALL_SIDES_UP_TO, allowed, largest

Truths = NDArray[np.bool_]
Counts = NDArray[np.int64]

RUNGS: Final = 32
GRID: Final = 8
RUNGS_NEAR: Final = 20
GRID_NEAR: Final = 24
STRETCH: Final = 8
"""Shapes tried per longer side of a range."""
DENSE_RUNGS: Final = 200
DENSE_GRID: Final = 32
AT_ONCE: Final = 2_000_000
"""Boxes measured in one go: bounds memory at about 16 MB an array."""
FAR: Final = np.iinfo(np.int64).max


class Crown(StrEnum):
    """What a search may do with the crown."""

    ANY = "any"
    CLEAR = "clear"
    CUT = "cut"


class Page(StrEnum):
    """Which half of a spread the eyes must stand on."""

    ANY = "any"
    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A restriction that makes one kind of proposal differ from another."""

    crown: Crown = Crown.ANY
    page: Page = Page.ANY


ANYTHING: Final = Wish()


@dataclass(frozen=True, slots=True)
class Found:
    """The best box of a search with its cost tuple."""

    box: PixelBox
    cost: Cost


def best_box(scene: Scene, wish: Wish = ANYTHING) -> Found | None:
    """The box of least cost; None when every box breaks a never-rule (or the wish)."""
    return Ladder(scene).best(scene, wish)


class Ladder:
    """The first round of a search, kept for scenes that differ only in what they want."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        most = (ALL_SIDES_UP_TO, ALL_SIDES_UP_TO) if _all_tried(scene) else (RUNGS, GRID)
        hunt = _Hunt(scene, ANYTHING, _ends(scene), *most)
        self._views = (
            None if _all_tried(scene) else [_View(scene, boxes) for boxes in _blocks(hunt)]
        )
        self._hunt = hunt

    def best(self, scene: Scene, wish: Wish = ANYTHING) -> Found | None:
        """The optimum to the pixel; searched again, densely, before saying there is none."""
        found = self.rough(scene, wish)
        if found is None and not _all_tried(scene) and not scene.destination.full_frame:
            hunt = replace(self._hunt, scene=scene, wish=wish, rungs=DENSE_RUNGS, grid=DENSE_GRID)
            found = _search(hunt)
        return None if found is None else refined(scene, found, wish)

    def rough(self, scene: Scene, wish: Wish = ANYTHING) -> Found | None:
        """The best on the ladder alone: a rung from the optimum, unless a window is narrower."""
        if scene.destination.full_frame:
            return _whole(scene)
        if self._views is None:
            return _search(replace(self._hunt, scene=scene, wish=wish))
        return _least_of(scene, wish, self._views)


def fits_somewhere(scene: Scene) -> bool:
    """Whether some box keeps every never-rule; looked for on the ladder only."""
    hunt = _Hunt(scene, ANYTHING, _ends(scene), RUNGS, GRID)
    return any(bool(_keeps(scene, boxes).any()) for boxes in _blocks(hunt))


def _all_tried(scene: Scene) -> bool:
    return max(scene.size.width, scene.size.height) <= ALL_SIDES_UP_TO


def _ends(scene: Scene) -> tuple[int, int]:
    """Least and greatest longer side that a crop of the scene may have."""
    biggest = largest(scene.size, scene.destination.shape)
    most = max(biggest.width, biggest.height)
    return min(most, _least_longer_side(scene)), most


def cost_of(scene: Scene, box: PixelBox) -> Cost:
    """The cost tuple of one box, never-rules counted."""
    boxes = boxes_of(box)
    broken = sum(float(rule(scene, boxes)) < 0 for rule in never.rules_for(scene).values())
    look = Look(scene, boxes)
    tiers = [int(_counted(tier(scene, look))) for tier in (*FIRST_TIERS, *LAST_TIERS)]
    lost = 0
    if not scene.destination.full_frame:
        lost = int(_lost(np.array(float(box.width * box.height)), _greatest_area(scene)))
    return (house.NEVER_COST * broken, *tiers, lost)


def _whole(scene: Scene) -> Found | None:
    box = PixelBox(0, 0, scene.size.width, scene.size.height)
    if float(never.pixels(scene, boxes_of(box))) < 0:
        return None
    return Found(box, (0,) * 8)


def boxes_of(box: PixelBox) -> Boxes:
    """One box, as the rules take it."""
    sides = (box.x0, box.y0, box.width, box.height)
    return Boxes(*(np.array(float(side)) for side in sides))


def _least_longer_side(scene: Scene) -> int:
    """No crop with a shorter longer side can hold the eyes, or has the pixels."""
    xs = [x for person in scene.people for x in (person.left_x, person.right_x)]
    ys = [y for person in scene.people for y in (person.left_y, person.right_y)]
    widest = max(max(xs) - min(xs), scene.least_width)
    return max(1, math.floor(max(widest, max(ys) - min(ys), scene.least_long)))


@dataclass(frozen=True, slots=True)
class _Hunt:
    """One round of search: what for, between which longer sides, how finely, and round what box."""

    scene: Scene
    wish: Wish
    ends: tuple[int, int]
    rungs: int
    grid: int
    round_box: PixelBox | None = None
    reach: float = 0.0
    stretch_gap: int = 0


def refined(
    scene: Scene, found: Found, wish: Wish = ANYTHING, *, rounds: int | None = None
) -> Found:
    """Search the gap round a box again, each time a finer one, down to the pixel or ``rounds``."""
    if scene.destination.full_frame or _all_tried(scene):
        return found
    ends = _ends(scene)
    longer = max(found.box.width, found.box.height)
    gap = max(2.0, longer * ((ends[1] / ends[0]) ** (1 / RUNGS) - 1) * 1.01)
    reach = max(scene.size.width, scene.size.height) / GRID / 3
    stretch = 0 if scene.destination.shape.exact else math.ceil(longer / STRETCH)
    for done in count(1):
        longer = max(found.box.width, found.box.height)
        near = (max(ends[0], math.floor(longer - gap)), min(ends[1], math.ceil(longer + gap)))
        hunt = _Hunt(scene, wish, near, RUNGS_NEAR, GRID_NEAR, found.box, max(3.0, reach), stretch)
        better = _search(hunt)
        if better is not None and better.cost <= found.cost:
            found = better
        if gap <= RUNGS_NEAR // 2 and reach <= GRID_NEAR // 2 and stretch <= STRETCH // 2:
            break
        if done == rounds:
            break
        gap = max(2.0, 2.2 * gap / RUNGS_NEAR)
        reach = 2.2 * reach / GRID_NEAR
        stretch = math.ceil(2.2 * stretch / STRETCH)
    return found


def _search(hunt: _Hunt) -> Found | None:
    return _least_of(hunt.scene, hunt.wish, (_View(hunt.scene, boxes) for boxes in _blocks(hunt)))


def _least_of(scene: Scene, wish: Wish, views: Iterable[_View]) -> Found | None:
    area = _greatest_area(scene)
    best: tuple[tuple[float, ...], Found] | None = None
    for view in views:
        here = _least(scene, wish, view, area)
        if here is not None and (best is None or here[0] < best[0]):
            best = here
    return best[1] if best else None


def _greatest_area(scene: Scene) -> int:
    biggest = largest(scene.size, scene.destination.shape)
    return biggest.width * biggest.height


class _View:
    """Boxes of one block, what they measure, and which of them keep the never-rules."""

    def __init__(self, scene: Scene, boxes: Boxes) -> None:
        self.look = Look(scene, boxes)
        self.shape = np.broadcast_shapes(boxes.x0.shape, boxes.y0.shape)
        keeps = _keeps(scene, boxes)
        self.keeps = np.broadcast_to(keeps, keeps.shape or (1, 1, 1))
        by_rows = not scene.circle and not _lid_depends_on_x(scene)
        self.rows = (*self.shape[:2], 1) if by_rows else self.shape


def _blocks(hunt: _Hunt) -> Iterator[Boxes]:
    """The boxes of one round, in blocks of (sizes, y0, x0) that broadcast."""
    scene = hunt.scene
    stretch = hunt.rungs if _all_tried(scene) else STRETCH
    near = hunt.round_box.size if hunt.round_box and hunt.stretch_gap else None
    widths, heights = allowed(
        scene.size,
        scene.destination.shape,
        between=hunt.ends,
        most=hunt.rungs,
        stretch=stretch,
        near=(near, hunt.stretch_gap) if near else None,
    )
    enough = (widths >= scene.least_width) & (np.maximum(widths, heights) >= scene.least_long)
    sizes = sizes_of(scene, widths[enough], heights[enough])
    for part, down, across in _chunks(hunt, sizes):
        y0 = places_down(scene, part, down, hunt.grid)[:, :, None]
        x0 = places_across(scene, part, across, hunt.grid)[:, None, :]
        yield Boxes(x0, y0, part.w[:, None, None], part.h[:, None, None])


def _chunks(hunt: _Hunt, sizes: Sizes) -> Iterator[tuple[Sizes, Span, Span]]:
    down, across = span_down(hunt.scene, sizes), span_across(hunt.scene, sizes)
    if hunt.round_box is not None:
        down, across = _near(sizes, down, across, hunt.round_box, hunt.reach)
    fits = (down.least <= down.most) & (across.least <= across.most)
    sizes = sizes.pick(fits)
    down = Span(down.least[fits], down.most[fits])
    across = Span(across.least[fits], across.most[fits])
    step = max(1, AT_ONCE // (hunt.grid + 64) ** 2)
    for start in range(0, len(sizes.w), max(1, step)):
        part = slice(start, start + step)
        yield (
            Sizes(*(getattr(sizes, name)[part] for name in Sizes.__slots__)),
            Span(down.least[part], down.most[part]),
            Span(across.least[part], across.most[part]),
        )


def _near(sizes: Sizes, down: Span, across: Span, box: PixelBox, reach: float) -> tuple[Span, Span]:
    """Spans cut to the neighbourhood of one box, kept round its middle as the size changes."""
    y0 = box.centre.y - sizes.h / 2
    x0 = box.centre.x - sizes.w / 2
    slack_y = reach + np.abs(sizes.h - box.height)
    slack_x = reach + np.abs(sizes.w - box.width)
    return (
        Span(
            np.maximum(down.least, np.floor(y0 - slack_y)),
            np.minimum(down.most, np.ceil(y0 + slack_y)),
        ),
        Span(
            np.maximum(across.least, np.floor(x0 - slack_x)),
            np.minimum(across.most, np.ceil(x0 + slack_x)),
        ),
    )


def _least(
    scene: Scene, wish: Wish, view: _View, area: int
) -> tuple[tuple[float, ...], Found] | None:
    """The least box of a block: tiers filter one after the other, then ties are broken.

    On a rectangle the first four tiers do not depend on x: they are filtered per (size, y0).
    """
    look = view.look
    alive = view.keeps if wish == ANYTHING else view.keeps & _wished(scene, wish, look)
    standing = alive.any(axis=2, keepdims=True) if view.rows[2] == 1 else alive
    standing = np.array(np.broadcast_to(standing, view.rows))
    if not standing.any():
        return None
    cost: list[int] = [0]
    for tier in FIRST_TIERS:
        value = _counted(tier(scene, look))
        least = int(np.where(standing, value, FAR).min())
        standing &= value == least
        cost.append(least)
    flat = _spread_out(view, standing, alive)
    rest = Look(scene, flat)
    for tier in LAST_TIERS:
        value = _counted(tier(scene, rest))
        least = int(value.min())
        keep = np.broadcast_to(value == least, flat.x0.shape)
        if not keep.all():
            flat = Boxes(*(side[keep] for side in flat))
            rest = Look(scene, flat)
        cost.append(least)
    kept = _lost(flat.w * flat.h, area)
    flat = Boxes(*(side[kept == kept.min()] for side in flat))
    cost.append(int(kept.min()))
    keys = _ties(scene, flat)
    first = int(np.lexsort(keys[::-1])[0])
    box = PixelBox(
        int(flat.x0[first]),
        int(flat.y0[first]),
        int(flat.x0[first] + flat.w[first]),
        int(flat.y0[first] + flat.h[first]),
    )
    return (*cost, *(float(key[first]) for key in keys)), Found(box, tuple(cost))


FIRST_TIERS: Final = (
    graded.framing_cost,
    graded.crown_cost,
    graded.eye_line_cost,
    graded.headroom_cost,
)
LAST_TIERS: Final = (graded.joints_cost, graded.across_cost)


def _lost(kept: Floats, area: int) -> Counts:
    """The share of the greatest crop that is lost, in thousandths: whole numbers throughout."""
    share = (2 * house.QUANTUM * (area - kept) + area) / (2 * area)
    return np.asarray(np.floor(share), dtype=np.int64)


def _counted(value: Floats) -> Counts:
    """A tier in whole thousandths."""
    return np.asarray(np.floor(house.QUANTUM * value + 0.5), dtype=np.int64)


def _lid_depends_on_x(scene: Scene) -> bool:
    """Whether headroom counts from a covered zone that does not span the whole frame."""
    return any(zone.holds_headroom_down for zone in scene.zones)


def _spread_out(view: _View, standing: Truths, alive: Truths) -> Boxes:
    """The surviving boxes as flat arrays; rows of (size, y0) take every x0 alive there."""
    boxes = view.look.boxes
    if view.rows[2] > 1:
        return Boxes(*(np.broadcast_to(side, view.shape)[standing] for side in boxes))
    size, down = np.nonzero(standing[:, :, 0])
    row, across = np.nonzero(np.broadcast_to(alive, view.shape)[size, down])
    size, down = size[row], down[row]
    x0 = boxes.x0[size, 0, across]
    return Boxes(x0, boxes.y0[size, down, 0], boxes.w[size, 0, 0], boxes.h[size, 0, 0])


def _keeps(scene: Scene, boxes: Boxes) -> Truths:
    """Never-rules that the spans do not already promise."""
    good: Truths = np.array(True)
    if scene.circle:
        good = (never.eyes(scene, boxes) >= 0) & (never.chin(scene, boxes) >= 0)
        good = good & (never.heads_whole(scene, boxes) >= 0)
    if scene.destination.head_share is not None:
        good = good & (never.one_head(scene, boxes) >= 0)
    for rule in (never.gutter, never.zones, never.bystanders):
        good = good & (rule(scene, boxes) >= 0)
    return good


def _wished(scene: Scene, wish: Wish, look: Look) -> Truths:
    good: Truths = np.array(True)
    if wish.crown is not Crown.ANY:
        to_clear, to_cut = graded.crown_state(look, scene.tallest)
        good = good & ((to_clear if wish.crown is Crown.CLEAR else to_cut) <= 0)
    if wish.page is not Page.ANY:
        u = look.eyes_across
        good = good & (u < 1 / 2 if wish.page is Page.LEFT else u > 1 / 2)
    return good


def _ties(scene: Scene, flat: Boxes) -> list[Floats]:
    """Keys that break ties and do not change under mirroring, the last one aside."""
    worst: Floats = np.zeros_like(flat.x0)
    for seen in scene.seen[1:]:
        look = Look(scene, flat, seen)
        tiers = [_counted(tier(scene, look)) for tier in (*FIRST_TIERS, *LAST_TIERS)]
        worst = np.maximum(worst, sum(np.broadcast_to(tier, worst.shape) for tier in tiers))
    look = Look(scene, flat)
    xs = [person.eye_x for person in scene.people]
    off = np.abs(flat.x0 + flat.w / 2 - (min(xs) + max(xs)) / 2)
    return [worst, graded.polish(scene, look), off, flat.y0, flat.x0]
