"""Principal subjects in plain numbers, one by one and many at once.

Pixels of the upright master, y down. Arrays have people (or limbs) on their first axis, so that
boxes may take the two others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from cropper.geometry import Extent, Size
from cropper.proposal import house
from cropper.proposal.arithmetic import Amount, Many
from cropper.subject.subject import LIMBS, SIDES, Subject


@dataclass(frozen=True, slots=True)
class Person:
    """A principal subject in plain numbers; one head = skull top to chin."""

    left_x: float
    left_y: float
    right_x: float
    right_y: float
    chin_x: float
    chin_y: float
    skull_y: float
    hair_x: float
    hair_y: float
    hairline_y: float
    brows_y: float
    head: float
    box: Extent
    turn: float
    crown_sigma: float
    eye_sigma: float
    chin_sigma: float
    skull_sigma: float
    crown_in_master: bool

    @property
    def crown_cut(self) -> bool:
        """Whether the master itself cuts the crown."""
        return self.hair_y < 0 or not self.crown_in_master

    @property
    def eye_x(self) -> float:
        """Across, the midpoint of the pupils."""
        return (self.left_x + self.right_x) / 2

    @property
    def eye_y(self) -> float:
        """Down, the midpoint of the pupils."""
        return (self.left_y + self.right_y) / 2


class Crown(NamedTuple):
    """What the crown rule asks of one principal (floats) or of several (arrays, people first).

    ``scale`` is the distance that costs 1 and ``toll`` what an uncalled cut costs; ``cuts`` are
    the bands of y (px) where the upper edge may cut the crown on purpose.
    """

    hair_x: Amount
    hair_y: Amount
    sigma: Amount
    scale: Amount
    toll: Amount
    cuts: tuple[tuple[Amount, Amount], ...]


@dataclass(frozen=True, slots=True)
class Limb:
    """A visible limb of a principal: two ends, which of them are joints to keep from, one head."""

    from_x: float
    from_y: float
    to_x: float
    to_y: float
    joints: tuple[tuple[float, float, str], ...]
    head: float


class Limbs(NamedTuple):
    """Limbs that an edge may cross, as arrays (limbs first); ``along`` the edge, ``over`` it.

    A limb with one joint names it twice. ``reach`` is between which places ``over`` an edge comes
    near enough to each joint to cost, of shape (2, limbs); ``ends`` the same for all of them.
    """

    along: Many
    over: Many
    to_along: Many
    to_over: Many
    joints: tuple[tuple[Many, Many], tuple[Many, Many]]
    head: Many
    reach: tuple[Many, Many]
    ends: tuple[float, float]

    def near(self, least: float, most: float) -> Limbs | None:
        """Those that an edge may come near a joint of, if its line lies in ``least`` to ``most``.

        None: there are none.
        """
        if most < self.ends[0] or least > self.ends[1]:
            return None
        begin, end = self.reach
        keep = np.any((begin <= most) & (end >= least), axis=0)
        some = np.count_nonzero(keep)
        if some in (0, len(keep)):
            return self if some else None
        (x, y), (x2, y2) = self.joints
        return Limbs(
            self.along[keep],
            self.over[keep],
            self.to_along[keep],
            self.to_over[keep],
            ((x[keep], y[keep]), (x2[keep], y2[keep])),
            self.head[keep],
            (begin[:, keep], end[:, keep]),
            self.ends,
        )


def cut_places(person: Person) -> tuple[tuple[float, float], ...]:
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
        places.append((-math.inf, house.EDGE_ROOM_HEADS * person.head))
    return tuple(places)


def person_of(subject: Subject, master: Size) -> Person:
    """A subject in plain numbers; the head's sides are cut to the master's."""
    return Person(
        left_x=subject.left_eye.x,
        left_y=subject.left_eye.y,
        right_x=subject.right_eye.x,
        right_y=subject.right_eye.y,
        chin_x=subject.chin.at.x,
        chin_y=subject.chin.at.y,
        skull_y=subject.skull_top.at.y,
        hair_x=subject.hair_top.at.x,
        hair_y=subject.hair_top.at.y,
        hairline_y=subject.hairline.at.y,
        brows_y=subject.brows.at.y,
        head=subject.head_height_px,
        box=_within(subject.head_box, master),
        turn=subject.turn,
        crown_sigma=subject.hair_top.sigma_px,
        eye_sigma=subject.eye_sigma_px,
        chin_sigma=subject.chin.sigma_px,
        skull_sigma=subject.skull_top.sigma_px,
        crown_in_master=subject.crown_in_frame,
    )


def _within(box: Extent, master: Size) -> Extent:
    """The head as far as the master shows its sides: what it cut, no crop can keep."""
    x0, x1 = max(0.0, box.x0), min(float(master.width), box.x1)
    return Extent(x0, box.y0, x1, box.y1) if x0 < x1 else box


def limbs_of(subject: Subject) -> list[Limb]:
    """The limbs of a subject whose both joints are visible."""
    by_name = {
        joint.name: joint.at
        for joint in subject.joints
        if joint.visibility >= house.JOINT_VISIBILITY
    }
    limbs = []
    for side in SIDES:
        for first, second in LIMBS:
            start, end = by_name.get(f"{side}_{first}"), by_name.get(f"{side}_{second}")
            if start is None or end is None:
                continue
            joints = tuple(
                (at.x, at.y, name)
                for at, name in ((start, first), (end, second))
                if name not in ("shoulder", "hip")
            )
            head = subject.head_height_px
            limbs.append(Limb(start.x, start.y, end.x, end.y, joints, head))
    return limbs


def stacked(crowns: tuple[Crown, ...]) -> Crown:
    """Many crowns as arrays of shape (people, 1, 1); a band too few is one nobody reaches."""
    most = max(len(crown.cuts) for crown in crowns)
    nowhere = (math.inf, -math.inf)
    cuts = [(*crown.cuts, *[nowhere] * (most - len(crown.cuts))) for crown in crowns]
    return Crown(
        hair_x=_upended([crown.hair_x for crown in crowns]),
        hair_y=_upended([crown.hair_y for crown in crowns]),
        sigma=_upended([crown.sigma for crown in crowns]),
        scale=_upended([crown.scale for crown in crowns]),
        toll=_upended([crown.toll for crown in crowns]),
        cuts=tuple(
            (_upended([bands[at][0] for bands in cuts]), _upended([bands[at][1] for bands in cuts]))
            for at in range(most)
        ),
    )


def crossable(limbs: list[tuple[Limb, bool]]) -> Limbs | None:
    """Limbs with joints as arrays of shape (limbs, 1, 1); ``True`` swaps the axes."""
    rows = []
    for limb, swap in limbs:
        if not limb.joints:
            continue
        ends = (limb.from_x, limb.from_y, limb.to_x, limb.to_y)
        joints = [(x, y) for x, y, _ in limb.joints]
        first, last = joints[0], joints[-1]
        numbers = [ends[:2], ends[2:], first, last]
        flat = [number for pair in numbers for number in (pair[::-1] if swap else pair)]
        rows.append((*flat, limb.head))
    if not rows:
        return None
    a, b, c, d, x, y, x2, y2, head = (_upended(list(column)) for column in zip(*rows, strict=True))
    over, room = np.stack([y, y2]).reshape(2, -1), house.JOINT_ROOM_HEADS * head.reshape(-1)
    reach = over - room, over + room
    farthest = float(reach[0].min()), float(reach[1].max())
    return Limbs(a, b, c, d, ((x, y), (x2, y2)), head, reach, farthest)


def _upended(values: list[Amount]) -> Many:
    return np.array(values, dtype=np.float64).reshape(-1, 1, 1)
