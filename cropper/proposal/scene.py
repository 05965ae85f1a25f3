"""A finding and a destination made ready for measuring: plain numbers, nothing found out twice.

Pixels of the upright master, y down. Everything here is arithmetic on values already found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from cropper.destination.destination import Across, Destination, Frame, KeepClear
from cropper.destination.shots import DEPTHS, Shot
from cropper.geometry import Extent, NormalBox, Size
from cropper.proposal import house
from cropper.proposal.arithmetic import Amount, Many
from cropper.subject.subject import FACING_BELOW, LIMBS, SIDES, TURNED_ABOVE, Finding, Subject

CUT_CALLED_BY: Final = (Shot.EXTREME_CLOSE_UP, Shot.BIG_CLOSE_UP)


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

    A limb with one joint names it twice.
    """

    along: Many
    over: Many
    to_along: Many
    to_over: Many
    joints: tuple[tuple[Many, Many], tuple[Many, Many]]
    head: Many

    def near(self, least: float, most: float, heads: float) -> Limbs:
        """Those with a joint so near to where the edge's line may lie, ``least`` to ``most``."""
        room = heads * self.head
        (_, y), (_, y2) = self.joints
        keep = ((y >= least - room) & (y <= most + room)) | (
            (y2 >= least - room) & (y2 <= most + room)
        )
        keep = keep.reshape(-1)
        if keep.all():
            return self
        (x, y), (x2, y2) = self.joints
        return Limbs(
            self.along[keep],
            self.over[keep],
            self.to_along[keep],
            self.to_over[keep],
            ((x[keep], y[keep]), (x2[keep], y2[keep])),
            self.head[keep],
        )


@dataclass(frozen=True, slots=True)
class Seen:
    """A seen frame as fractions of the crop; ``round``: the circle inscribed in it."""

    name: str
    x0: float
    y0: float
    x1: float
    y1: float
    round: bool = False


@dataclass(frozen=True, slots=True)
class Zone:
    """A covered zone as fractions of the crop, and the boxes that may not meet it."""

    name: str
    x0: float
    y0: float
    x1: float
    y1: float
    keep: KeepClear
    hair_may_enter: bool
    boxes: tuple[Extent, ...]

    @property
    def holds_headroom_down(self) -> bool:
        """Whether headroom counts from its bottom edge: the head must clear it, at the top."""
        return self.keep is KeepClear.HEAD and not self.hair_may_enter


@dataclass(frozen=True)
class Scene:
    """All that the rules need, for one master, one destination and one orientation.

    ``corner`` is where the master begins: (0, 0) but for a master imagined larger. No slots: what
    follows from the fields is worked out once and kept.
    """

    size: Size
    destination: Destination
    people: tuple[Person, ...]
    bystanders: tuple[Extent, ...]
    limbs: tuple[Limb, ...]
    seen: tuple[Seen, ...]
    zones: tuple[Zone, ...]
    wanted: tuple[float, float]
    tight: bool
    widens: bool
    least_width: float
    least_long: float
    mean_head: float
    corner: tuple[int, int] = (0, 0)

    @cached_property
    def circle(self) -> bool:
        """Whether the seen frame is a circle."""
        return self.destination.frame is Frame.CIRCLE

    @cached_property
    def group(self) -> bool:
        """Whether there are two or more principal subjects."""
        return len(self.people) > 1

    def cut_called(self, person: Person) -> bool:
        """Whether cutting this crown was asked for, or the master has done it already."""
        return self.tight or person.crown_cut

    @cached_property
    def tallest(self) -> Person:
        """The principal whose hair top is highest in the picture."""
        return min(self.people, key=lambda person: person.hair_y)

    @cached_property
    def crowns(self) -> tuple[Crown, ...]:
        """The crown of every principal."""
        return tuple(
            Crown(
                person.hair_x,
                person.hair_y,
                person.crown_sigma,
                house.CROWN_SCALE_HEADS * person.head,
                0.0 if self.cut_called(person) else house.UNCALLED_CUT_COST,
                cut_places(person),
            )
            for person in self.people
        )

    @cached_property
    def tallest_crown(self) -> Crown:
        """The crown of the tallest principal."""
        return self.crowns[self.people.index(self.tallest)]

    @cached_property
    def crowns_at_once(self) -> tuple[Crown, ...]:
        """One crown for all principals of a group, as arrays; a single one stays as it is."""
        return self.crowns if len(self.people) == 1 else (_stacked(self.crowns),)

    @cached_property
    def lids(self) -> tuple[Zone, ...]:
        """Covered zones that headroom counts from: at the top, and the head must clear them."""
        top = self.seen[0].y0
        return tuple(zone for zone in self.zones if zone.holds_headroom_down and zone.y0 <= top)

    @cached_property
    def eyes_x(self) -> tuple[float, float]:
        """Across, the leftmost and the rightmost midpoint of pupils."""
        xs = [person.eye_x for person in self.people]
        return min(xs), max(xs)

    @cached_property
    def eyes_y(self) -> tuple[float, float]:
        """Down, the highest and the lowest midpoint of pupils."""
        ys = [person.eye_y for person in self.people]
        return min(ys), max(ys)

    @cached_property
    def eyes_middle(self) -> tuple[float, float]:
        """The middle of all eyes, x and y."""
        return sum(self.eyes_x) / 2, sum(self.eyes_y) / 2

    @cached_property
    def sides(self) -> tuple[float, float]:
        """The leftmost and the rightmost side of the principals' heads."""
        return min(one.box.x0 for one in self.people), max(one.box.x1 for one in self.people)

    @cached_property
    def upright_limbs(self) -> Limbs | None:
        """Limbs that an upper or lower edge may cross; along is x, over is y."""
        return _crossable([(one, False) for one in self.limbs if one.from_y != one.to_y])

    @cached_property
    def lying_limbs(self) -> Limbs | None:
        """Limbs that a left or right edge may cross; along is y, over is x."""
        return _crossable([(one, True) for one in self.limbs if one.from_x != one.to_x])

    @cached_property
    def band_across(self) -> tuple[float, float]:
        """The target band of u, a gutter not counted."""
        return band_across(self)

    def wanting(self, band: tuple[float, float]) -> Scene:
        """The same scene for another band of depths in heads."""
        tight = self.destination.framing[0] in CUT_CALLED_BY
        tight = tight or band[1] <= DEPTHS[Shot.BIG_CLOSE_UP].most
        return replace(self, wanted=band, tight=tight, widens=False)


def scene_of(finding: Finding, destination: Destination) -> Scene:
    """Make a scene ready."""
    people = tuple(_person(subject, finding.size) for subject in finding.principals)
    if not people:
        message = "a scene needs at least one principal subject"
        raise ValueError(message)
    mean_head = sum(person.head for person in people) / len(people)
    seen = _seen_frames(destination)
    tightest, loosest = destination.framing
    return Scene(
        size=finding.size,
        destination=destination,
        people=people,
        bystanders=tuple(subject.head_box for subject in finding.bystanders),
        limbs=tuple(limb for subject in finding.principals for limb in _limbs(subject)),
        seen=seen,
        zones=_zones(destination, people),
        wanted=(DEPTHS[tightest].least, DEPTHS[loosest].most),
        tight=tightest in CUT_CALLED_BY,
        widens=len(people) > 1,
        least_width=_least_width(destination),
        least_long=_least_long(destination),
        mean_head=mean_head,
    )


def target_across(person: Person) -> tuple[float, float]:
    """Where the eyes of one principal should stand across the frame, by turn.

    The middle when facing; room in front when turned; linear between [leadroom, thirds_tested].
    """
    amount = min(1.0, max(0.0, (abs(person.turn) - FACING_BELOW) / (TURNED_ABOVE - FACING_BELOW)))
    least = house.CENTRE_U[0] + amount * (house.RIGHT_U[0] - house.CENTRE_U[0])
    most = house.CENTRE_U[1] + amount * (house.RIGHT_U[1] - house.CENTRE_U[1])
    return (least, most) if person.turn > 0 else (1 - most, 1 - least)


def band_across(scene: Scene) -> tuple[float, float]:
    """The target band of u for a scene without a gutter."""
    if scene.destination.across is Across.FREE:
        return (0.0, 1.0)
    if scene.group:
        return house.GROUP_U
    if scene.destination.across is Across.CENTRE:
        return house.CENTRE_U
    return target_across(scene.people[0])


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


def _stacked(crowns: tuple[Crown, ...]) -> Crown:
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


def _upended(values: list[Amount]) -> Many:
    return np.array(values, dtype=np.float64).reshape(-1, 1, 1)


def _crossable(limbs: list[tuple[Limb, bool]]) -> Limbs | None:
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
    return Limbs(a, b, c, d, ((x, y), (x2, y2)), head)


def _person(subject: Subject, master: Size) -> Person:
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


def _limbs(subject: Subject) -> list[Limb]:
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


def _in_crop(box: NormalBox, destination: Destination) -> tuple[float, float, float, float]:
    placed = box.within(destination.trim)
    return float(placed.x0), float(placed.y0), float(placed.x1), float(placed.y1)


def _seen_frames(destination: Destination) -> tuple[Seen, ...]:
    trim = destination.trim
    sides = (float(trim.x0), float(trim.y0), float(trim.x1), float(trim.y1))
    frames = [Seen("whole", *sides, round=destination.frame is Frame.CIRCLE)]
    for area in destination.live_areas:
        placed = _in_crop(area.box, destination)
        if placed != sides or frames[0].round:
            frames.append(Seen(area.name, *placed))
    return tuple(frames)


def _zones(destination: Destination, people: tuple[Person, ...]) -> tuple[Zone, ...]:
    return tuple(
        Zone(
            zone.name,
            *_in_crop(zone.box, destination),
            keep=zone.keep_clear,
            hair_may_enter=zone.hair_may_enter,
            boxes=tuple(_kept(person, zone.keep_clear, zone.hair_may_enter) for person in people),
        )
        for zone in destination.covered
    )


def _kept(person: Person, keep: KeepClear, hair_may_enter: bool) -> Extent:  # noqa: FBT001
    if keep is KeepClear.EYES:
        side = house.EYES_ZONE_SIDE_HEADS * person.head
        low = max(person.left_y, person.right_y) + house.EYE_ROOM_HEADS * person.head
        left, right = min(person.left_x, person.right_x), max(person.left_x, person.right_x)
        return Extent(left - side, min(person.brows_y, low - 1e-6), right + side, low)
    if keep is KeepClear.FACE:
        half = house.FACE_HALF_WIDTH_HEADS * person.head
        return Extent(
            person.eye_x - half,
            min(person.hairline_y, person.chin_y - 1e-6),
            person.eye_x + half,
            person.chin_y,
        )
    top = person.hairline_y if hair_may_enter else person.hair_y
    return Extent(person.box.x0, min(top, person.chin_y - 1e-6), person.box.x1, person.chin_y)


def _least_width(destination: Destination) -> float:
    least = 1.0
    if destination.delivered is not None:
        least = destination.delivered.width / float(destination.greatest_enlargement)
    inches = destination.width_in_inches()
    if inches is not None and destination.least_ppi is not None:
        least = max(least, float(inches * destination.least_ppi))
    return least


def _least_long(destination: Destination) -> float:
    if destination.long_edge_px is None or destination.may_be_smaller:
        return 1.0
    if destination.delivered is not None:
        return 1.0
    return destination.long_edge_px / float(destination.greatest_enlargement)


def finite(value: float) -> float | None:
    """``value``, or None when it is not finite (an open end of a band)."""
    return value if math.isfinite(value) else None
