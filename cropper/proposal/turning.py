"""A finding as a straightened crop sees it: points turned about the crop's centre.

``straighten_deg`` turns the box clockwise; in the box's own axes the picture turns the other way.
"""

from __future__ import annotations

import math
from dataclasses import replace

from cropper.geometry import Crop, Extent, Point
from cropper.subject.subject import Finding, Subject


def turned_about(finding: Finding, crop: Crop) -> Finding:
    """The same people in the axes of a straightened crop; unchanged when it is not straightened."""
    if not crop.straighten_deg:
        return finding
    turn = _Turn(crop.box.centre, math.radians(-crop.straighten_deg))
    return replace(
        finding,
        subjects=tuple(turn.subject(one) for one in finding.subjects),
        bodies=tuple(turn.extent(box) for box in finding.bodies),
    )


def moved_by(one: Subject, across: float, down: float) -> Subject:
    """The same person in a master whose corner lies further up and left by so many pixels."""
    box = one.head_box
    return one.carried(
        lambda at: Point(at.x + across, at.y + down),
        head_box=Extent(box.x0 + across, box.y0 + down, box.x1 + across, box.y1 + down),
    )


class _Turn:
    """A turn of the plane by an angle (radians, clockwise in y-down axes) about a point."""

    def __init__(self, about: Point, angle: float) -> None:
        self.about, self.cos, self.sin = about, math.cos(angle), math.sin(angle)

    def point(self, at: Point) -> Point:
        across, down = at.x - self.about.x, at.y - self.about.y
        return Point(
            self.about.x + across * self.cos - down * self.sin,
            self.about.y + across * self.sin + down * self.cos,
        )

    def extent(self, box: Extent) -> Extent:
        """A turned box's own size about its turned centre: a head stays as wide as it is."""
        middle = self.point(box.centre)
        half_w, half_h = box.width / 2, box.height / 2
        return Extent(middle.x - half_w, middle.y - half_h, middle.x + half_w, middle.y + half_h)

    def subject(self, one: Subject) -> Subject:
        return one.carried(self.point, head_box=self.extent(one.head_box))
