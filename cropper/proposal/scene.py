"""A finding and a destination made ready for measuring: plain numbers, nothing found out twice.

Pixels of the upright master, y down. Everything here is arithmetic on values already found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from cropper.destination.destination import Across, Destination, Frame, KeepClear
from cropper.destination.shots import DEPTHS, Shot
from cropper.geometry import Extent, NormalBox, Size
from cropper.proposal import house
from cropper.proposal.people import (
    Crown,
    Limb,
    Limbs,
    Person,
    crossable,
    cut_places,
    limbs_of,
    person_of,
    stacked,
)
from cropper.proposal.sizes import largest
from cropper.subject.subject import FACING_BELOW, TURNED_ABOVE, Finding

CUT_CALLED_BY: Final = (Shot.EXTREME_CLOSE_UP, Shot.BIG_CLOSE_UP)


@dataclass(frozen=True, slots=True)
class Seen:
    """A seen frame as fractions of the crop; ``round``: the circle inscribed in it."""

    name: str
    x0: float
    y0: float
    x1: float
    y1: float
    round: bool = False

    @property
    def whole(self) -> bool:
        """Whether it is the crop itself, nothing trimmed."""
        return self.x1 == self.y1 == 1 and self.x0 == self.y0 == 0


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
        return self.crowns if len(self.people) == 1 else (stacked(self.crowns),)

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
        return crossable([(one, False) for one in self.limbs if one.from_y != one.to_y])

    @cached_property
    def lying_limbs(self) -> Limbs | None:
        """Limbs that a left or right edge may cross; along is y, over is x."""
        return crossable([(one, True) for one in self.limbs if one.from_x != one.to_x])

    @cached_property
    def greatest_area(self) -> int:
        """The area of the greatest allowed crop, px."""
        biggest = largest(self.size, self.destination.shape)
        return biggest.width * biggest.height

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
    people = tuple(person_of(subject, finding.size) for subject in finding.principals)
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
        limbs=tuple(limb for subject in finding.principals for limb in limbs_of(subject)),
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
