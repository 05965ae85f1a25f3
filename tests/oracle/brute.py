"""Try every allowed whole-pixel box and keep the least cost: slow, plain and exact.

The cost is a tuple compared tier by tier, so the boxes are sieved tier by tier: all that break a
never-rule go first, then in each tier only those with the tier's least value stay. What is left
at the end are all boxes of the least cost, and no box was left untried.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from cropper.destination.destination import Destination
from cropper.geometry import Size
from cropper.subject.subject import Finding
from tests.oracle.boxes import Boxes, sizes
from tests.oracle.case import Case, cases
from tests.oracle.graded import GRADED
from tests.oracle.never import NEVER

CHUNK = 200_000
"""Boxes tried at one go (house: about 40 MB of arrays at the widest tier)."""


@dataclass(frozen=True, slots=True)
class Least:
    """The least cost, every (x0, y0, w, h) that has it, and how many boxes were tried."""

    cost: tuple[int, ...] | None
    boxes: tuple[tuple[int, int, int, int], ...]
    tried: int


def all_boxes(destination: Destination, master: Size) -> Iterator[Boxes]:
    """Every allowed box of one orientation, in chunks of whole sizes."""
    parts: list[Boxes] = []
    count = 0
    for w, h in sizes(destination, master):
        across, down = master.width - w + 1, master.height - h + 1
        x0, y0 = np.divmod(np.arange(across * down, dtype=np.int64), down)
        parts.append(Boxes(x0, y0, np.full_like(x0, w), np.full_like(x0, h)))
        count += across * down
        if count >= CHUNK:
            yield _joined(parts)
            parts, count = [], 0
    if parts:
        yield _joined(parts)


def _joined(parts: list[Boxes]) -> Boxes:
    return Boxes(
        np.concatenate([one.x0 for one in parts]),
        np.concatenate([one.y0 for one in parts]),
        np.concatenate([one.w for one in parts]),
        np.concatenate([one.h for one in parts]),
    )


def sieve(case: Case, boxes: Boxes, best: tuple[int, ...] | None) -> tuple[tuple[int, ...], Boxes]:
    """The least cost among ``boxes`` and those that have it.

    An empty answer means: none is allowed, or none is as good as ``best``.
    """
    nothing = boxes.where(np.zeros(len(boxes), dtype=np.bool_))
    for rule in NEVER.values():
        boxes = boxes.where(rule(case, boxes))
        if not len(boxes):
            return (), nothing
    cost: tuple[int, ...] = (0,)
    for tier in GRADED.values():
        values = tier(case, boxes)
        cost = (*cost, int(values.min()))
        if best is not None and cost > best[: len(cost)]:
            return (), nothing
        boxes = boxes.where(values == cost[-1])
    return cost, boxes


def least_cost(finding: Finding, destination: Destination) -> Least:
    """The least cost over every allowed box of every orientation; cost None: no crop."""
    if not finding.principals:
        return Least(None, (), 0)
    every = [(case, _least_of(case)) for case in cases(finding, destination)]
    tried = sum(least.tried for _, least in every)
    able = [(case, least) for case, least in every if least.cost is not None]
    if not able:
        return Least(None, (), tried)
    best = min(able, key=lambda one: ((one[1].cost or ())[:-1], one[0].turned_away))[1]
    return Least(best.cost, best.boxes, tried)


def _least_of(case: Case) -> Least:
    best: tuple[int, ...] | None = None
    found: list[tuple[int, int, int, int]] = []
    tried = 0
    for boxes in all_boxes(case.destination, case.master):
        tried += len(boxes)
        cost, left = sieve(case, boxes, best)
        if not cost:
            continue
        if best is None or cost < best:
            best, found = cost, []
        found += left.tuples()
    return Least(best, tuple(found), tried)
