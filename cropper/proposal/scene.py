"""A finding and a destination made ready for measuring: plain numbers, nothing found out twice.

Pixels of the upright master, y down. Everything here is arithmetic on values already found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from cropper.destination.destination import Across, Destination, Frame, KeepClear
from cropper.destination.shots import DEPTHS, Shot
from cropper.geometry import Extent, NormalBox, Size
from cropper.proposal import house
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


@dataclass(frozen=True, slots=True)
class Limb:
    """A visible limb of a principal: two ends, which of them are joints to keep from, one head."""

    from_x: float
    from_y: float
    to_x: float
    to_y: float
    joints: tuple[tuple[float, float, str], ...]
    head: float


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


@dataclass(frozen=True, slots=True)
class Scene:
    """All that the rules need, for one master, one destination and one orientation."""

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

    @property
    def circle(self) -> bool:
        """Whether the seen frame is a circle."""
        return self.destination.frame is Frame.CIRCLE

    @property
    def group(self) -> bool:
        """Whether there are two or more principal subjects."""
        return len(self.people) > 1

    def cut_called(self, person: Person) -> bool:
        """Whether cutting this crown was asked for, or the master has done it already."""
        return self.tight or person.crown_cut

    @property
    def tallest(self) -> Person:
        """The principal whose hair top is highest in the picture."""
        return min(self.people, key=lambda person: person.hair_y)


def scene_of(
    finding: Finding, destination: Destination, *, wanted: tuple[float, float] | None = None
) -> Scene:
    """Make a scene ready; ``wanted`` replaces the destination's band of depths in heads."""
    people = tuple(_person(subject, finding.size) for subject in finding.principals)
    if not people:
        message = "a scene needs at least one principal subject"
        raise ValueError(message)
    mean_head = sum(person.head for person in people) / len(people)
    seen = _seen_frames(destination)
    tightest, loosest = destination.framing
    band = wanted or (DEPTHS[tightest].least, DEPTHS[loosest].most)
    tight = tightest in CUT_CALLED_BY
    if wanted is not None:
        tight = tight or wanted[1] <= DEPTHS[Shot.BIG_CLOSE_UP].most
    return Scene(
        size=finding.size,
        destination=destination,
        people=people,
        bystanders=tuple(subject.head_box for subject in finding.bystanders),
        limbs=tuple(limb for subject in finding.principals for limb in _limbs(subject)),
        seen=seen,
        zones=_zones(destination, people),
        wanted=band,
        tight=tight,
        widens=wanted is None and len(people) > 1,
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
