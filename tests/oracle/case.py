"""One master, its people and one orientation of a destination: what a box is measured for."""

from __future__ import annotations

from dataclasses import dataclass

from cropper.destination.destination import Destination
from cropper.geometry import Size
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


def cases(finding: Finding, destination: Destination) -> list[Case]:
    """One case per orientation, the upright one first."""
    greatest = greatest_area(destination, finding.size)
    upright_first = sorted(destination.orientations, key=lambda one: one.shape.least > 1)
    return [
        Case(finding.size, finding.principals, finding.bystanders, each, greatest)
        for each in upright_first
    ]
