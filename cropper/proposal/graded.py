"""Graded rules: each a weighted sum of squared excess beyond tolerance, 1 at its stated scale.

Measured on one box or many (see :mod:`cropper.proposal.frames`); the numbers and their sources
stand in :mod:`cropper.proposal.house`, the rules in words in docs/composition.md.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from cropper.proposal import house
from cropper.proposal.arithmetic import (
    Amount,
    Truth,
    beyond,
    ceiled,
    distance,
    either,
    floored,
    higher,
    lower,
    magnitude,
    squared,
)
from cropper.proposal.frames import Frame, Look
from cropper.proposal.people import Crown, Limbs
from cropper.proposal.scene import Scene

EYE_LINE_STEPS: Final = (
    house.LOOSE_ABOVE_HEADS,
    house.THREE_QUARTER_ABOVE_HEADS,
    house.FULL_ABOVE_HEADS,
)
_LEAST, _MOST, _SCALE = (
    np.array([getattr(band, name) for band in house.EYE_LINES])
    for name in ("least", "most", "scale")
)


def framing_cost(scene: Scene, look: Look) -> Amount:
    """Distance of the depth from the wanted band, half a head to cost 1."""
    if scene.destination.full_frame:
        return 0.0
    share = scene.destination.head_share
    if share is not None:
        k = scene.mean_head / look.height
        return squared(beyond(k, share.least, share.most) / house.HEAD_SHARE_SCALE)
    least, most = wanted_depth(scene, look)
    off = higher(beyond(look.depth, least, most), forced_by_size(scene, look))
    steps = ceiled(off / house.FRAMING_STEP_HEADS - house.FRAMING_STEP_SLACK)
    return squared(steps * house.FRAMING_STEP_HEADS / house.FRAMING_SCALE_HEADS)


def wanted_depth(scene: Scene, look: Look) -> tuple[float, Amount]:
    """The band of depths wanted, in heads; for a group at least what its width forces."""
    least, most = scene.wanted
    if not scene.widens:
        return least, most
    left, right = scene.sides
    across = right - left + house.GROUP_SIDE_ROOM_HEADS * scene.mean_head
    forced = across * look.height / look.width / scene.mean_head
    return least, higher(most, forced)


def forced_by_size(scene: Scene, look: Look) -> Amount:
    """Heads outside the wanted band that the frame's height forces wherever it lies.

    Too high: even with the greatest headroom it reaches too deep. Too low: even with the deepest
    decided cut it does not reach deep enough.
    """
    person = scene.tallest
    hair = (person.skull_y - person.hair_y) / scene.mean_head
    cut = (person.brows_y - house.BROWS_ROOM_HEADS * person.head - person.hair_y) / scene.mean_head
    high = look.height / scene.mean_head
    least, most = wanted_depth(scene, look)
    deep = high - (most + hair) / (1 - house.HEADROOM_LIMIT_MOST)
    return higher(0.0, higher(deep, least + hair - cut - high))


def clear_gap(look: Look, crown: Crown) -> Amount:
    """The least gap above the hair that counts as clear, px."""
    least = house.CLEAR_LEAST_IN_CIRCLE if look.seen.round else house.CLEAR_LEAST
    return higher(least * look.height, crown.sigma)


def crown_state(look: Look, crown: Crown) -> tuple[Amount, Amount]:
    """Px to the nearest clear place (0: clear), and to the nearest decided cut (0: decided)."""
    top = look.top_above(crown)
    to_clear = higher(0.0, top - (crown.hair_y - clear_gap(look, crown)))
    to_cut: Amount = np.inf
    for least, most in crown.cuts:
        to_cut = lower(to_cut, beyond(top, least, most))
    return to_clear, to_cut


def crown_cost(scene: Scene, look: Look) -> Amount:
    """Clear or a decided cut; everything between costs by its distance."""
    if scene.destination.full_frame:
        return 0.0
    total: Amount = 0.0
    for crown in look.crowns:
        total = total + _summed(lower(*_crown_costs(look, crown)), crown.hair_y)
    return total


def _summed(costs: Amount, people: Amount) -> Amount:
    """The sum over people or limbs, when ``people`` are many; else as it is."""
    if isinstance(people, np.ndarray) and isinstance(costs, np.ndarray):
        total: Amount = costs.sum(axis=0)
        return total
    return costs


def cut_costs_less(look: Look, crown: Crown) -> Truth:
    """Whether the edge is nearer to a decided cut than to a clear crown, by cost."""
    clear, cut = _crown_costs(look, crown)
    return cut < clear


def _crown_costs(look: Look, crown: Crown) -> tuple[Amount, Amount]:
    """Cost as a crown meant to be clear, and as one meant to be cut; worked out once a look."""
    if id(crown) not in look.crown_costs:
        to_clear, to_cut = crown_state(look, crown)
        look.crown_costs[id(crown)] = (
            squared(to_clear / crown.scale),
            squared(to_cut / crown.scale) + crown.toll,
        )
    return look.crown_costs[id(crown)]


def eye_line_band(scene: Scene, shot_depth: float) -> house.EyeLineBand:
    """The band for the eye line at one depth, or the destination's own."""
    own = scene.destination.eye_line
    if own is not None:
        scale = max(own.least - own.limit_least, own.limit_most - own.most, 0.01)
        return house.EyeLineBand(own.least, own.most, own.limit_least, own.limit_most, scale)
    return house.EYE_LINES[sum(shot_depth > step for step in EYE_LINE_STEPS)]


def eye_line_cost(scene: Scene, look: Look) -> Amount:
    """Distance of the eye line from its tolerance; groups: highest and lowest eyes."""
    if scene.destination.full_frame:
        return 0.0
    if scene.group:
        highest, lowest = scene.eyes_y
        high = house.GROUP_TOP_LEAST - (highest - look.frame.top) / look.height
        low = (lowest - look.frame.top) / look.height - house.GROUP_LOW_MOST
        return squared(higher(0.0, higher(high, low)) / house.GROUP_SCALE)
    depth = look.depth
    deepest = depth if isinstance(depth, float) else float(depth.max(initial=0.0))
    if isinstance(depth, float) or scene.destination.eye_line or deepest <= EYE_LINE_STEPS[0]:
        band = eye_line_band(scene, deepest)
        return squared(beyond(look.eye_line, band.least, band.most) / band.scale)
    at = np.searchsorted(EYE_LINE_STEPS, depth)  # a depth on a step belongs to the shot below it
    return squared(beyond(look.eye_line, _LEAST[at], _MOST[at]) / _SCALE[at])


def headroom_band(scene: Scene, shot_depth: float) -> tuple[float, float]:
    """Tolerance of headroom at one depth, or the destination's own."""
    own = scene.destination.headroom
    if own is not None:
        return own.least, own.most
    near = shot_depth <= house.LOOSE_ABOVE_HEADS
    return house.HEADROOM_NEAR if near else house.HEADROOM_LOOSE


def headroom_cost(scene: Scene, look: Look) -> Amount:
    """Too much costs more than too little; a decided cut costs 1 unless called for."""
    if scene.destination.full_frame:
        return 0.0
    r = look.headroom
    own = scene.destination.headroom
    if own is not None:
        least: Amount = own.least
        most = own.most
    else:
        loose = look.depth > house.LOOSE_ABOVE_HEADS
        least = either(loose, house.HEADROOM_LOOSE[0], house.HEADROOM_NEAR[0])
        most = house.HEADROOM_NEAR[1]
    little = higher(0.0, least - r) / house.HEADROOM_SCALE
    much = higher(0.0, r - most) / house.HEADROOM_SCALE
    graded = squared(little) + house.HEADROOM_MUCH_WEIGHT * squared(much)
    stands_cut = cut_costs_less(look, scene.tallest_crown)
    return either(stands_cut, 0.0 if scene.cut_called(scene.tallest) else 1.0, graded)


def joints_cost(scene: Scene, look: Look) -> Amount:
    """No edge through a limb near its joint, nor through a neck; no limb at any price.

    Counted in quarters: a trace of a joint moves nobody. Eyes far outside their place across
    count here too, so that no joint pushes a face to the frame's side.
    """
    if scene.destination.full_frame:
        return 0.0
    quarters = joint_quarters(scene, look.frame)
    return quarters + squared(higher(0.0, off_across(scene, look) - 1.0))


def joint_quarters(scene: Scene, frame: Frame, *, sides: bool = True) -> Amount:
    """What the edges cost by limbs and necks they cross, in quarters; the side edges if asked."""
    total: Amount = 0.0
    if scene.upright_limbs is not None:
        for edge in (frame.top, frame.bottom):
            total = total + _edge_cost(scene.upright_limbs, edge, frame.left, frame.right)
    if sides and scene.lying_limbs is not None:
        for edge in (frame.left, frame.right):
            total = total + _edge_cost(scene.lying_limbs, edge, frame.top, frame.bottom)
    for person in scene.people:
        dn = (frame.bottom - person.skull_y) / person.head
        inside_neck = lower(dn - house.NECK_HEADS[0], house.NECK_HEADS[1] - dn)
        total = total + squared(higher(0.0, inside_neck) / house.NECK_SCALE)
    return floored(total / house.JOINT_STEP + 0.5) * house.JOINT_STEP


def _edge_cost(limbs: Limbs, edge: Amount, start: Amount, end: Amount) -> Amount:
    """Squared excess of all limbs at one edge, which runs from ``start`` to ``end``.

    How near a joint the edge's line crosses depends on the line alone; whether the edge reaches
    that far is asked only of limbs that some line crosses near a joint.
    """
    ends = (edge.min(), edge.max()) if isinstance(edge, np.ndarray) else (edge, edge)
    near = limbs.near(*ends)
    if near is None:
        return 0.0
    below, above = near.over - edge, near.to_over - edge
    where = near.along - below / (near.to_over - near.over) * (near.to_along - near.along)
    (x, y), (x2, y2) = near.joints
    nearest = lower(distance(where - x, edge - y), distance(where - x2, edge - y2))
    excess = higher(0.0, house.JOINT_ROOM_HEADS - nearest / near.head) / house.JOINT_ROOM_HEADS
    cost = np.where(below * above <= 0, squared(excess), 0.0)
    costly = cost.any(axis=(1, 2))
    if not costly.any():
        return 0.0
    cost, where = cost[costly], np.asarray(where)[costly]
    total = np.where((where >= start) & (where <= end), cost, 0.0).sum(axis=0)
    return np.asarray(total) if isinstance(edge, np.ndarray) else float(total.sum())


def across_cost(scene: Scene, look: Look) -> Amount:
    """Where the eyes stand across, and whether the head's sides are whole."""
    if scene.destination.full_frame:
        return 0.0
    cost = squared(off_across(scene, look))
    if scene.destination.gutter is not None and not scene.group:
        cost = cost + _away_from_gutter(scene, look.eyes_across)
    if not scene.group:
        box = scene.people[0].box
        over = higher(0.0, look.frame.left - box.x0) + higher(0.0, box.x1 - look.frame.right)
        cost = cost + squared(over / box.width / house.OVERHANG_SCALE)
    return cost


def off_across(scene: Scene, look: Look) -> Amount:
    """How far the eyes stand beside their place across, in scales; a page's middle on a spread."""
    u = look.eyes_across
    if scene.destination.gutter is None or scene.group:
        return beyond(u, *scene.band_across) / house.ACROSS_SCALE
    least, most = house.PAGE_U
    off = lower(beyond(u, least, most), beyond(u, 1 - most, 1 - least))
    return off / house.ACROSS_SCALE


def _away_from_gutter(scene: Scene, u: Amount) -> Amount:
    turn = scene.people[0].turn
    away = either(u > 1 / 2, turn, -turn) > 1 / 4
    return either(away, house.AWAY_FROM_GUTTER_COST, 0.0)


def band_of_u(scene: Scene) -> tuple[float, float]:
    """The target band across: a page's (the left one) on a spread, else by turn."""
    if scene.destination.gutter is not None and not scene.group:
        return house.PAGE_U
    return scene.band_across


def polish(scene: Scene, look: Look) -> Amount:
    """How far from the middle of every tolerance: breaks ties, same for a mirrored scene."""
    e, u = look.eye_line, look.eyes_across
    r = look.headroom
    d = look.depth
    own_eye, own_room = scene.destination.eye_line, scene.destination.headroom
    near = d <= house.LOOSE_ABOVE_HEADS
    e_mid = (own_eye.least + own_eye.most) / 2 if own_eye else either(near, 1 / 3, e)
    r_mid = (
        (own_room.least + own_room.most) / 2
        if own_room
        else either(near, sum(house.HEADROOM_NEAR) / 2, sum(house.HEADROOM_LOOSE) / 2)
    )
    u_mid = sum(band_of_u(scene)) / 2
    off_u = magnitude(u - u_mid)
    if scene.destination.gutter is not None:
        off_u = lower(off_u, magnitude(1 - u - u_mid))
    return squared(e - e_mid) + squared(off_u) + squared(r - r_mid)
