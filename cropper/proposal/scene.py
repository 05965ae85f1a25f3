"""A finding and a destination made ready for measuring: plain numbers, nothing found out twice.

Pixels of the upright master, y down. Everything here is arithmetic on values already found.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from cropper.destination.destination import Destination, Frame, KeepClear
from cropper.geometry import Extent, NormalBox, Size
from cropper.proposal import house
from cropper.proposal.people import (
    Heads,
    Limb,
    LimbEnds,
    Many,
    Person,
    heads_of,
    limb_ends,
    limbs_of,
    person_of,
)
from cropper.proposal.sizes import largest
from cropper.subject.subject import Finding, Subject


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
    """A covered zone as fractions of the crop, and what it should not lie over, one per person.

    ``eyes`` boxes are forbidden ground; of ``kept`` boxes the share that lies under it is counted.
    """

    name: str
    x0: float
    y0: float
    x1: float
    y1: float
    eyes: Many
    kept: Many | None


@dataclass(frozen=True)
class Scene:
    """All that the rules need, for one master, one destination and one orientation.

    ``bystanders`` are (x0, y0, x1, y1, weight) of other heads and of bodies, whose weight tells
    how much a cut through them costs. ``eyes_wanted``: the share across that an alternative asks
    for, whatever the destination says. No slots: what follows from the fields is worked out once.
    """

    size: Size
    destination: Destination
    people: tuple[Person, ...]
    bystanders: tuple[tuple[float, float, float, float, float], ...]
    limbs: tuple[Limb, ...]
    seen: tuple[Seen, ...]
    zones: tuple[Zone, ...]
    least_width: float
    least_long: float
    eyes_wanted: tuple[float, float] | None = None

    @cached_property
    def circle(self) -> bool:
        """Whether the seen frame is a circle."""
        return self.destination.frame is Frame.CIRCLE

    @cached_property
    def group(self) -> bool:
        """Whether there are two or more principal persons."""
        return len(self.people) > 1

    @cached_property
    def heads(self) -> Heads:
        """All principal persons as arrays."""
        return heads_of(self.people)

    @cached_property
    def limb_ends(self) -> LimbEnds:
        """Limbs with a joint to keep from, as arrays."""
        return limb_ends(self.limbs)

    @cached_property
    def tallest(self) -> Person:
        """The principal whose hair top is highest in the picture."""
        return min(self.people, key=lambda person: person.hair_y)

    @cached_property
    def mean_head(self) -> float:
        """Mean head height of the principals, px."""
        return sum(person.head for person in self.people) / len(self.people)

    @cached_property
    def eyes_x(self) -> float:
        """Across, the middle between the leftmost and the rightmost midpoint of pupils."""
        xs = [person.eye_x for person in self.people]
        return (min(xs) + max(xs)) / 2

    @cached_property
    def eyes_y(self) -> float:
        """Down, the middle between the highest and the lowest midpoint of pupils."""
        ys = [person.eye_y for person in self.people]
        return (min(ys) + max(ys)) / 2

    @cached_property
    def box(self) -> Extent:
        """The union of the principals' head boxes."""
        boxes = [person.box for person in self.people]
        return Extent(
            min(box.x0 for box in boxes),
            min(box.y0 for box in boxes),
            max(box.x1 for box in boxes),
            max(box.y1 for box in boxes),
        )

    @cached_property
    def head_reach(self) -> float:
        """From the highest hair top to the lowest chin, px."""
        return max(one.chin_y for one in self.people) - self.tallest.hair_y

    @cached_property
    def greatest_height(self) -> float:
        """The seen height of the greatest allowed crop, px."""
        biggest, seen = largest(self.size, self.destination.shape), self.seen[0]
        high = (seen.y1 - seen.y0) * biggest.height
        return min(high, (seen.x1 - seen.x0) * biggest.width) if seen.round else high

    @cached_property
    def greatest_area(self) -> int:
        """The area of the greatest allowed crop, px."""
        biggest = largest(self.size, self.destination.shape)
        return biggest.width * biggest.height


def scene_of(
    finding: Finding, destination: Destination, left_out: Collection[int] = frozenset()
) -> Scene:
    """Make a scene ready; ``left_out`` names principals by their place whom it treats as others."""
    principals = finding.principals
    kept = [one for at, one in enumerate(principals) if at not in left_out]
    lost = [one for at, one in enumerate(principals) if at in left_out]
    people = tuple(person_of(one, finding.size) for one in kept)
    return Scene(
        size=finding.size,
        destination=destination,
        people=people,
        bystanders=(
            *(_other(one, house_weight) for one, house_weight in _others(finding, lost)),
            *((box.x0, box.y0, box.x1, box.y1, BYSTANDER) for box in _headless(finding)),
        ),
        limbs=tuple(limb for one in kept for limb in limbs_of(one)),
        seen=_seen_frames(destination),
        zones=_zones(destination, people),
        least_width=least_width_px(destination),
        least_long=least_long_px(destination),
    )


BYSTANDER = 1.0
LEFT_OUT = 3.0
"""House: to cut the head of somebody who belongs to the group is three times as bad; fitted on
seven groups of the editors' boxes, and blunt (decision 0009)."""


def _others(finding: Finding, lost: list[Subject]) -> list[tuple[Subject, float]]:
    return [(one, BYSTANDER) for one in finding.bystanders] + [(one, LEFT_OUT) for one in lost]


def _other(one: Subject, weight: float) -> tuple[float, float, float, float, float]:
    box = one.head_box
    return box.x0, box.y0, box.x1, box.y1, weight


def _headless(finding: Finding) -> list[Extent]:
    """Bodies without a found head: the upper quarter of the body stands for the head."""
    return [
        Extent(box.x0, box.y0, box.x1, box.y0 + box.height / 4)
        for box in finding.bodies
        if box.height > 0
    ]


def _in_crop(box: NormalBox, destination: Destination) -> tuple[float, float, float, float]:
    placed = box.within(destination.trim)
    return float(placed.x0), float(placed.y0), float(placed.x1), float(placed.y1)


def _seen_frames(destination: Destination) -> tuple[Seen, ...]:
    trim = destination.trim
    sides = (float(trim.x0), float(trim.y0), float(trim.x1), float(trim.y1))
    frames = [Seen("whole", *sides, round=destination.frame is Frame.CIRCLE)]
    for area in destination.live_areas:
        placed = _in_crop(area.box, destination)
        if placed != sides:
            frames.append(Seen(area.name, *placed))
    return tuple(frames)


def _zones(destination: Destination, people: tuple[Person, ...]) -> tuple[Zone, ...]:
    if not people:
        return ()
    return tuple(
        Zone(
            zone.name,
            *_in_crop(zone.box, destination),
            eyes=_boxes([_eyes(one) for one in people]),
            kept=_kept(people, zone.keep_clear, hair_may_enter=zone.hair_may_enter),
        )
        for zone in destination.covered
    )


def _boxes(rows: list[tuple[float, float, float, float]]) -> Many:
    """Four arrays of shape (people, 1, 1, 1), stacked."""
    return np.array(rows).T[:, :, None, None, None]


def _eyes(person: Person) -> tuple[float, float, float, float]:
    side = house.EYES_SIDE_HEADS * person.head
    low = max(person.left_y, person.right_y) + house.EYE_ROOM_HEADS * person.head
    top = min(person.left_y, person.right_y) - house.EYE_ROOM_HEADS * person.head
    left, right = min(person.left_x, person.right_x), max(person.left_x, person.right_x)
    return left - side, top, right + side, low


def _kept(people: tuple[Person, ...], keep: KeepClear, *, hair_may_enter: bool) -> Many | None:
    """What should stay clear of a zone besides the eyes; None: nothing."""
    if keep is KeepClear.EYES:
        return None
    if keep is KeepClear.FACE:
        half = house.FACE_HALF_WIDTH_HEADS
        return _boxes(
            [
                (
                    one.eye_x - half * one.head,
                    _top(one.hairline_y, one),
                    one.eye_x + half * one.head,
                    one.chin_y,
                )
                for one in people
            ]
        )
    return _boxes(
        [
            (
                one.box.x0,
                _top(one.hairline_y if hair_may_enter else one.hair_y, one),
                one.box.x1,
                one.chin_y,
            )
            for one in people
        ]
    )


def _top(y: float, person: Person) -> float:
    return min(y, person.chin_y - 1e-6)


def least_width_px(destination: Destination) -> float:
    """The width that a crop needs at least for what is delivered and demanded, px."""
    least = 1.0
    if destination.delivered is not None:
        least = destination.delivered.width / float(destination.greatest_enlargement)
    inches = destination.width_in_inches()
    if inches is not None and destination.least_ppi is not None:
        least = max(least, float(inches * destination.least_ppi))
    return least


def least_long_px(destination: Destination) -> float:
    """The longer side that a crop needs at least, px; 1 where nothing is asked."""
    if destination.long_edge_px is None or destination.may_be_smaller:
        return 1.0
    if destination.delivered is not None:
        return 1.0
    return destination.long_edge_px / float(destination.greatest_enlargement)
