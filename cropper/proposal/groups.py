"""Groups that a shape cannot hold: the most natural part of them, and whom it leaves out.

Who stands together comes together: only neighbours from left to right are tried. Everybody left
out costs a little, and a head cut at the edge costs more, so that a part stands free of the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from cropper.destination.destination import Destination
from cropper.proposal import house
from cropper.proposal.composing import APART, ROUGH, Found, Grid, Search
from cropper.proposal.scene import Scene, scene_of
from cropper.proposal.sizes import largest
from cropper.subject.subject import Finding, Subject

REFINED = 3
"""So many of the best parts are searched to the pixel."""
Part = tuple[Scene, Found]
"""A scene without those left out, and its best box; the cost holds what leaving out costs."""


def best_part(finding: Finding, destination: Destination, grid: Grid = APART) -> Part:
    """The best crop of all principals, or of a part of them where that is clearly better."""
    whole = _searched(finding, destination, frozenset(), grid)
    count = len(finding.principals)
    if count == 1 or destination.full_frame or whole[1].cost <= house.LEFT_OUT_COST:
        return whole
    parts = [whole]
    for left_out in _parts(finding, destination):
        if house.LEFT_OUT_COST * len(left_out) < parts[0][1].cost:
            parts.append(_searched(finding, destination, left_out, ROUGH))
            parts.sort(key=_cost)
    if grid is ROUGH:
        return parts[0]
    finer = [
        part
        if part is whole
        else _searched(finding, destination, _left_out(finding, part[0]), grid)
        for part in parts[:REFINED]
    ]
    return min(finer, key=_cost)


def other_part(finding: Finding, destination: Destination, but: Scene) -> Part | None:
    """A natural sub-group beside ``but``: who stands on one side of the widest gap; or everybody.

    None when there is no other.
    """
    order = _from_left(finding)
    if len(but.people) < len(order):
        return None
    gaps = [
        finding.principals[b].head_box.x0 - finding.principals[a].head_box.x1
        for a, b in pairwise(order)
    ]
    if not gaps:
        return None
    at = gaps.index(max(gaps)) + 1
    smaller = min(order[:at], order[at:], key=len)
    return _searched(finding, destination, frozenset(smaller), ROUGH)


def _cost(part: Part) -> float:
    return part[1].cost


def _searched(
    finding: Finding, destination: Destination, left_out: frozenset[int], grid: Grid
) -> Part:
    scene = scene_of(finding, destination, left_out)
    found = Search(scene).best(grid)
    return scene, replace(found, cost=found.cost + house.LEFT_OUT_COST * len(left_out))


def _left_out(finding: Finding, scene: Scene) -> frozenset[int]:
    """Who is missing in a scene, by place among the principals."""
    kept = {(one.left_x, one.left_y) for one in scene.people}
    return frozenset(
        at
        for at, one in enumerate(finding.principals)
        if (one.left_eye.x, one.left_eye.y) not in kept
    )


def _from_left(finding: Finding) -> list[int]:
    people = finding.principals
    return sorted(range(len(people)), key=lambda at: people[at].eyes.x)


def _parts(finding: Finding, destination: Destination) -> Iterator[frozenset[int]]:
    """Who may be left out: ever more, the others neighbours whose eyes the shape can hold."""
    people, order = finding.principals, _from_left(finding)
    biggest = largest(finding.size, destination.shape)
    for count in range(len(people) - 1, 0, -1):
        for start in range(len(people) - count + 1):
            kept = order[start : start + count]
            if count == 1 or _fits([people[at] for at in kept], biggest.width, biggest.height):
                yield frozenset(order) - frozenset(kept)


def _fits(people: list[Subject], width: int, height: int) -> bool:
    """Whether all pupils lie within the largest crop's width and height."""
    xs = [x for one in people for x in (one.left_eye.x, one.right_eye.x)]
    ys = [y for one in people for y in (one.left_eye.y, one.right_eye.y)]
    return max(xs) - min(xs) <= width and max(ys) - min(ys) <= height
