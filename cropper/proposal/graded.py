"""Graded rules: each a weighted sum of squared excess beyond tolerance, 1 at its stated scale.

Measured on many boxes at once (see :mod:`cropper.proposal.frames`); the numbers and their sources
stand in :mod:`cropper.proposal.house`, the rules in words in docs/composition.md.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cropper.proposal import house
from cropper.proposal.frames import Floats, Frame, Look
from cropper.proposal.scene import Limb, Person, Scene, band_across

Truths = NDArray[np.bool_]


def framing_cost(scene: Scene, look: Look) -> Floats:
    """Distance of the depth from the wanted band, half a head to cost 1."""
    if scene.destination.full_frame:
        return np.array(0.0)
    share = scene.destination.head_share
    if share is not None:
        k = scene.mean_head / look.height
        return (_beyond(k, share.least, share.most) / house.HEAD_SHARE_SCALE) ** 2
    least, most = wanted_depth(scene, look)
    off = np.maximum(_beyond(look.depth, least, most), forced_by_size(scene, look))
    steps = np.ceil(off / house.FRAMING_STEP_HEADS - house.FRAMING_STEP_SLACK)
    return np.asarray((steps * house.FRAMING_STEP_HEADS / house.FRAMING_SCALE_HEADS) ** 2)


def wanted_depth(scene: Scene, look: Look) -> tuple[float, Floats | float]:
    """The band of depths wanted, in heads; for a group at least what its width forces."""
    least, most = scene.wanted
    if not scene.widens:
        return least, most
    left = min(person.box.x0 for person in scene.people)
    right = max(person.box.x1 for person in scene.people)
    across = right - left + house.GROUP_SIDE_ROOM_HEADS * scene.mean_head
    forced = across * look.height / look.width / scene.mean_head
    return least, np.maximum(most, forced)


def forced_by_size(scene: Scene, look: Look) -> Floats:
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
    return np.maximum(0.0, np.maximum(deep, least + hair - cut - high))


def cut_places(person: Person) -> list[tuple[float, float]]:
    """Where the upper edge may cut a crown on purpose: bands of y, px."""
    start = person.hair_y + house.CUT_LEAST_HEADS * person.head
    end = person.brows_y - house.BROWS_ROOM_HEADS * person.head
    room = house.HAIRLINE_ROOM_HEADS * person.head
    bands = (
        (start, min(end, person.hairline_y - room)),
        (max(start, person.hairline_y + room), end),
    )
    places = [(least, most) for least, most in bands if least <= most]
    if person.crown_cut:
        places.append((-np.inf, house.EDGE_ROOM_HEADS * person.head))
    return places


def clear_gap(look: Look, person: Person) -> Floats:
    """The least gap above the hair that counts as clear, px."""
    least = house.CLEAR_LEAST_IN_CIRCLE if look.seen.round else house.CLEAR_LEAST
    return np.maximum(least * look.height, person.crown_sigma)


def crown_state(look: Look, person: Person) -> tuple[Floats, Floats]:
    """Px to the nearest clear place (0: clear), and to the nearest decided cut (0: decided)."""
    top = look.top_above(person.hair_x)
    to_clear = np.maximum(0.0, top - (person.hair_y - clear_gap(look, person)))
    to_cut: Floats = np.full_like(top, np.inf)
    for least, most in cut_places(person):
        to_cut = np.minimum(to_cut, np.maximum(0.0, np.maximum(least - top, top - most)))
    return to_clear, to_cut


def crown_cost(scene: Scene, look: Look) -> Floats:
    """Clear or a decided cut; everything between costs by its distance."""
    if scene.destination.full_frame:
        return np.array(0.0)
    total: Floats = np.array(0.0)
    for person in scene.people:
        total = total + np.minimum(*_crown_costs(scene, look, person))
    return total


def cut_costs_less(scene: Scene, look: Look, person: Person) -> Truths:
    """Whether the edge is nearer to a decided cut than to a clear crown, by cost."""
    clear, cut = _crown_costs(scene, look, person)
    return np.asarray(cut < clear)


def _crown_costs(scene: Scene, look: Look, person: Person) -> tuple[Floats, Floats]:
    """Cost as a crown meant to be clear, and as one meant to be cut."""
    to_clear, to_cut = crown_state(look, person)
    scale = house.CROWN_SCALE_HEADS * person.head
    toll = 0.0 if scene.cut_called(person) else house.UNCALLED_CUT_COST
    return (to_clear / scale) ** 2, (to_cut / scale) ** 2 + toll


def eye_line_band(scene: Scene, shot_depth: float) -> house.EyeLineBand:
    """The band for the eye line at one depth, or the destination's own."""
    own = scene.destination.eye_line
    if own is not None:
        scale = max(own.least - own.limit_least, own.limit_most - own.most, 0.01)
        return house.EyeLineBand(own.least, own.most, own.limit_least, own.limit_most, scale)
    steps = (house.LOOSE_ABOVE_HEADS, house.THREE_QUARTER_ABOVE_HEADS, house.FULL_ABOVE_HEADS)
    return house.EYE_LINES[sum(shot_depth > step for step in steps)]


def eye_line_cost(scene: Scene, look: Look) -> Floats:
    """Distance of the eye line from its tolerance; groups: highest and lowest eyes."""
    if scene.destination.full_frame:
        return np.array(0.0)
    if scene.group:
        ys = [person.eye_y for person in scene.people]
        high = house.GROUP_TOP_LEAST - (min(ys) - look.frame.top) / look.height
        low = (max(ys) - look.frame.top) / look.height - house.GROUP_LOW_MOST
        excess = np.maximum(0.0, np.maximum(high, low)) / house.GROUP_SCALE
        return np.asarray(excess**2)
    e = look.eye_line
    if scene.destination.eye_line is not None:
        band = eye_line_band(scene, 0.0)
        return (_beyond(e, band.least, band.most) / band.scale) ** 2
    d = look.depth
    cost: Floats = np.zeros_like(e + d)
    floor = -np.inf
    steps = (
        house.LOOSE_ABOVE_HEADS,
        house.THREE_QUARTER_ABOVE_HEADS,
        house.FULL_ABOVE_HEADS,
        np.inf,
    )
    for band, step in zip(house.EYE_LINES, steps, strict=True):
        here = (d > floor) & (d <= step)
        cost = np.where(here, (_beyond(e, band.least, band.most) / band.scale) ** 2, cost)
        floor = step
    return cost


def headroom_band(scene: Scene, shot_depth: float) -> tuple[float, float]:
    """Tolerance of headroom at one depth, or the destination's own."""
    own = scene.destination.headroom
    if own is not None:
        return own.least, own.most
    near = shot_depth <= house.LOOSE_ABOVE_HEADS
    return house.HEADROOM_NEAR if near else house.HEADROOM_LOOSE


def headroom_cost(scene: Scene, look: Look) -> Floats:
    """Too much costs more than too little; a decided cut costs 1 unless called for."""
    if scene.destination.full_frame:
        return np.array(0.0)
    r = look.headroom
    own = scene.destination.headroom
    if own is not None:
        least: Floats | float = own.least
        most = own.most
    else:
        loose = look.depth > house.LOOSE_ABOVE_HEADS
        least = np.where(loose, house.HEADROOM_LOOSE[0], house.HEADROOM_NEAR[0])
        most = house.HEADROOM_NEAR[1]
    little = np.maximum(0.0, least - r) / house.HEADROOM_SCALE
    much = np.maximum(0.0, r - most) / house.HEADROOM_SCALE
    graded = little**2 + house.HEADROOM_MUCH_WEIGHT * much**2
    stands_cut = cut_costs_less(scene, look, scene.tallest)
    return np.where(stands_cut, 0.0 if scene.cut_called(scene.tallest) else 1.0, graded)


def joints_cost(scene: Scene, look: Look) -> Floats:
    """No edge through a limb near its joint, nor through a neck; no limb at any price.

    Counted in quarters: a trace of a joint moves nobody. Eyes far outside their place across
    count here too, so that no joint pushes a face to the frame's side.
    """
    if scene.destination.full_frame:
        return np.array(0.0)
    total: Floats = np.array(0.0)
    for limb in scene.limbs:
        total = total + _limb_cost(limb, look.frame)
    for person in scene.people:
        dn = (look.frame.bottom - person.skull_y) / person.head
        inside_neck = np.minimum(dn - house.NECK_HEADS[0], house.NECK_HEADS[1] - dn)
        total = total + (np.maximum(0.0, inside_neck) / house.NECK_SCALE) ** 2
    quarters = np.floor(total / house.JOINT_STEP + 0.5) * house.JOINT_STEP
    return np.asarray(quarters + np.maximum(0.0, off_across(scene, look) - 1.0) ** 2)


def _limb_cost(limb: Limb, frame: Frame) -> Floats:
    total: Floats = np.array(0.0)
    for edge, start, end in (
        (frame.top, frame.left, frame.right),
        (frame.bottom, frame.left, frame.right),
    ):
        total = total + _edge_cost(limb, edge, start, end, across=False)
    for edge, start, end in (
        (frame.left, frame.top, frame.bottom),
        (frame.right, frame.top, frame.bottom),
    ):
        total = total + _edge_cost(limb, edge, start, end, across=True)
    return total


def _edge_cost(limb: Limb, edge: Floats, start: Floats, end: Floats, *, across: bool) -> Floats:
    """Squared excess of one limb at one edge; ``across``: a side edge (its x is ``edge``)."""
    a, b, c, d = limb.from_x, limb.from_y, limb.to_x, limb.to_y
    joints = limb.joints
    if across:
        a, b, c, d = b, a, d, c
        joints = tuple((y, x, name) for x, y, name in joints)
    if b == d or not joints:
        return np.array(0.0)
    where = a + (edge - b) / (d - b) * (c - a)
    crosses = ((b - edge) * (d - edge) <= 0) & (where >= start) & (where <= end)
    nearest = np.minimum.reduce([np.hypot(where - x, edge - y) for x, y, _ in joints])
    excess = np.maximum(0.0, house.JOINT_ROOM_HEADS - nearest / limb.head) / house.JOINT_ROOM_HEADS
    return np.where(crosses, excess**2, 0.0)


def across_cost(scene: Scene, look: Look) -> Floats:
    """Where the eyes stand across, and whether the head's sides are whole."""
    if scene.destination.full_frame:
        return np.array(0.0)
    cost = off_across(scene, look) ** 2
    if scene.destination.gutter is not None and not scene.group:
        cost = cost + _away_from_gutter(scene, look.eyes_across)
    if not scene.group:
        box = scene.people[0].box
        over = np.maximum(0.0, look.frame.left - box.x0) + np.maximum(
            0.0, box.x1 - look.frame.right
        )
        cost = cost + (over / box.width / house.OVERHANG_SCALE) ** 2
    return cost


def off_across(scene: Scene, look: Look) -> Floats:
    """How far the eyes stand beside their place across, in scales; a page's middle on a spread."""
    u = look.eyes_across
    if scene.destination.gutter is None or scene.group:
        return np.asarray(_beyond(u, *band_across(scene)) / house.ACROSS_SCALE)
    least, most = house.PAGE_U
    off = np.minimum(_beyond(u, least, most), _beyond(u, 1 - most, 1 - least))
    return np.asarray(off / house.ACROSS_SCALE)


def _away_from_gutter(scene: Scene, u: Floats) -> Floats:
    turn = scene.people[0].turn
    away = np.where(u > 1 / 2, turn, -turn) > 1 / 4
    return np.where(away, house.AWAY_FROM_GUTTER_COST, 0.0)


def band_of_u(scene: Scene) -> tuple[float, float]:
    """The target band across: a page's (the left one) on a spread, else by turn."""
    if scene.destination.gutter is not None and not scene.group:
        return house.PAGE_U
    return band_across(scene)


def polish(scene: Scene, look: Look) -> Floats:
    """How far from the middle of every tolerance: breaks ties, same for a mirrored scene."""
    e, u = look.eye_line, look.eyes_across
    r = look.headroom
    d = look.depth
    own_eye, own_room = scene.destination.eye_line, scene.destination.headroom
    near = d <= house.LOOSE_ABOVE_HEADS
    e_mid = (own_eye.least + own_eye.most) / 2 if own_eye else np.where(near, 1 / 3, e)
    r_mid = (
        (own_room.least + own_room.most) / 2
        if own_room
        else np.where(near, sum(house.HEADROOM_NEAR) / 2, sum(house.HEADROOM_LOOSE) / 2)
    )
    u_mid = sum(band_of_u(scene)) / 2
    off_u = np.abs(u - u_mid)
    if scene.destination.gutter is not None:
        off_u = np.minimum(off_u, np.abs(1 - u - u_mid))
    return np.asarray((e - e_mid) ** 2 + off_u**2 + (r - r_mid) ** 2)


def _beyond(value: Floats, least: float, most: Floats | float) -> Floats:
    return np.maximum(0.0, np.maximum(least - value, value - most))
