"""One master, its people and one orientation of a destination: what a box is measured for."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cropper.destination.destination import Destination
from cropper.geometry import Extent, Size
from cropper.subject.subject import Finding, Subject
from tests.oracle.boxes import greatest_area


@dataclass(frozen=True, slots=True)
class Case:
    """One master, its people and one orientation of one destination."""

    master: Size
    principals: tuple[Subject, ...]
    bystanders: tuple[Subject, ...]
    destination: Destination
    greatest: int

    @property
    def heads_mean(self) -> float:
        """Hm: mean head height of the principals."""
        return sum(one.head_height_px for one in self.principals) / len(self.principals)

    @property
    def tallest(self) -> Subject:
        """The principal whose hair top stands highest."""
        return min(self.principals, key=lambda one: one.hair_top.at.y)

    @property
    def turned_away(self) -> bool:
        """Whether the frame lies otherwise than the master (a square master counts as upright)."""
        return (self.destination.shape.least > 1) != (self.master.width > self.master.height)


def cases(finding: Finding, destination: Destination) -> list[Case]:
    """One case per orientation."""
    master = finding.size
    people = tuple(_sides_cut(one, master.width) for one in finding.principals)
    return [
        Case(master, people, finding.bystanders, each, greatest_area(each, master))
        for each in destination.orientations
    ]


def _sides_cut(one: Subject, width: int) -> Subject:
    """The person with the head box's sides cut to the master's."""
    left, right = max(0.0, one.head_box.x0), min(float(width), one.head_box.x1)
    if left >= right:  # no part of the head is in the master: nothing to cut to
        return one
    return replace(one, head_box=Extent(left, one.head_box.y0, right, one.head_box.y1))
