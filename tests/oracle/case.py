"""The people of one sum, their master and one orientation of a destination."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from cropper.destination.destination import Destination, Frame
from cropper.geometry import Extent, Point, Size
from cropper.subject.subject import Finding, Subject
from tests.oracle.boxes import sizes

BYSTANDER, LEFT_OUT = 1.0, 3.0
"""What a cut head weighs: somebody else's, and that of a principal who is left out."""


@dataclass(frozen=True)
class Case:
    """What a box is measured for: ``people`` stay, ``others`` are head boxes with their weight.

    ``destination`` is of one orientation. ``left_out`` counts the principals who are not in
    ``people``.
    """

    master: Size
    people: tuple[Subject, ...]
    others: tuple[tuple[Extent, float], ...]
    left_out: int
    destination: Destination
    least_longer: float
    """No longer side below this is searched."""

    @cached_property
    def mean_head(self) -> float:
        """Hm."""
        return sum(one.head_height_px for one in self.people) / len(self.people)

    @cached_property
    def tallest(self) -> Subject:
        """The one whose hair top stands highest."""
        return min(self.people, key=lambda one: one.hair_top.at.y)

    @cached_property
    def eyes(self) -> Point:
        """(Ex, Ey): middles between the outermost and between the highest and lowest eyes."""
        xs = [one.eyes.x for one in self.people]
        ys = [one.eyes.y for one in self.people]
        return Point((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)

    @cached_property
    def union(self) -> Extent:
        """The union of the head boxes."""
        boxes = [one.head_box for one in self.people]
        return Extent(
            min(box.x0 for box in boxes),
            min(box.y0 for box in boxes),
            max(box.x1 for box in boxes),
            max(box.y1 for box in boxes),
        )

    @cached_property
    def round(self) -> bool:
        """Whether a circle is seen."""
        return self.destination.frame is Frame.CIRCLE

    @cached_property
    def allowed(self) -> list[tuple[int, int]]:
        """Every (w, h) of the shape that fits."""
        return sizes(self.destination, self.master)

    @cached_property
    def greatest(self) -> int:
        """The greatest w h of the allowed sizes."""
        return max(w * h for w, h in self.allowed)

    @cached_property
    def searched(self) -> list[tuple[int, int]]:
        """The allowed sizes that are not too small; the greatest where all are."""
        large = [size for size in self.allowed if max(size) >= self.least_longer]
        return large or [max(self.allowed, key=max)]


def cases(finding: Finding, destination: Destination) -> list[Case]:
    """Every sum there is: both orientations, everybody and each run of neighbours."""
    width, height = finding.size.width, finding.size.height
    everybody = sorted(finding.principals, key=lambda one: one.eyes.x)
    strangers = [(one.head_box, BYSTANDER) for one in finding.bystanders]
    strangers += [(upper_quarter(body), BYSTANDER) for body in finding.bodies]
    least = max(width, height) / 3
    if everybody:
        least = 0.9 * min(one.head_height_px for one in everybody)
    made = []
    for each in destination.orientations:
        for first, end in runs(1 if destination.full_frame else len(everybody), len(everybody)):
            out = everybody[:first] + everybody[end:]
            others = [*strangers, *((one.head_box, LEFT_OUT) for one in out)]
            people = tuple(_sides_cut(one, width) for one in everybody[first:end])
            made.append(Case(finding.size, people, tuple(others), len(out), each, least))
    return made


def runs(parts: int, how_many: int) -> list[tuple[int, int]]:
    """(first, end) of everybody and, where there are ``parts``, of each run of neighbours."""
    if parts < 2:
        return [(0, how_many)]
    every = [(a, b) for a in range(how_many) for b in range(a + 1, how_many + 1)]
    return sorted(every, key=lambda run: run[0] - run[1])


def upper_quarter(body: Extent) -> Extent:
    """Where the head of a body is that was not found."""
    return Extent(body.x0, body.y0, body.x1, body.y0 + body.height / 4)


def _sides_cut(one: Subject, width: int) -> Subject:
    """The person with the head box's sides cut to the master's."""
    left, right = max(0.0, one.head_box.x0), min(float(width), one.head_box.x1)
    if left >= right:  # no part of the head is in the master: nothing to cut to
        return one
    return replace(one, head_box=Extent(left, one.head_box.y0, right, one.head_box.y1))


def tilt(one: Subject) -> float:
    """Degrees by which the eye line leaves the level, either way."""
    slope = math.atan2(one.right_eye.y - one.left_eye.y, one.right_eye.x - one.left_eye.x)
    return abs(math.degrees(slope))
