"""Crops as IPTC image regions, and regions as crops again.

A region has an outline in the upright picture: a rectangle or circle by its corner or centre, or a
polygon (IPTC Photo Metadata Standard 2019.1 and later, "Image Region"). Relative numbers are
shares of the picture's width and height; a circle's radius is a share of the width.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Final

from cropper.deliverable.straightening import corners
from cropper.destination.destination import Destination, Frame
from cropper.geometry import Crop, Extent, Size

ROLES: Final = "http://cv.iptc.org/newscodes/imageregionrole/"
"""Base of the vocabulary's terms, with http as the vocabulary itself writes them [roles]."""
RECOMMENDED: Final = f"{ROLES}recomCropping"
SQUARE: Final = f"{ROLES}squareCropping"
LANDSCAPE: Final = f"{ROLES}landscapeCropping"
PORTRAIT: Final = f"{ROLES}portraitCropping"
CROPPINGS: Final = frozenset({f"{ROLES}cropping", RECOMMENDED, SQUARE, LANDSCAPE, PORTRAIT})
"""Roles of a region that is meant as a crop."""
ROLE_NAMES: Final = {
    RECOMMENDED: "recommended cropping",
    SQUARE: "square format cropping",
    LANDSCAPE: "landscape format cropping",
    PORTRAIT: "portrait format cropping",
}
OUR_ID: Final = "crop-"
"""``rId`` of a region is this and the destination's name."""
RIGHT_ANGLE_SLACK_PX: Final = 1.0
"""A polygon is taken for a turned box when its corners are this near to one (house)."""


class Outline(StrEnum):
    """``rbShape``."""

    RECTANGLE = "rectangle"
    CIRCLE = "circle"
    POLYGON = "polygon"


class Unit(StrEnum):
    """``rbUnit``."""

    RELATIVE = "relative"
    PIXEL = "pixel"


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """One image region. ``at`` is a rectangle's top left corner or a circle's centre."""

    id: str = ""
    name: str = ""
    roles: tuple[str, ...] = ()
    outline: Outline
    unit: Unit = Unit.RELATIVE
    at: tuple[float, float] = (0.0, 0.0)
    width: float = 0.0
    height: float = 0.0
    radius: float = 0.0
    vertices: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        numbers = [*self.at, self.width, self.height, self.radius]
        numbers += [part for one in self.vertices for part in one]
        if not all(math.isfinite(one) for one in numbers):
            raise ValueError("a region's numbers must be finite")
        if not self._has_area():
            raise ValueError(f"a {self.outline} without area is no region")

    def _has_area(self) -> bool:
        if self.outline is Outline.RECTANGLE:
            return self.width > 0 and self.height > 0
        if self.outline is Outline.CIRCLE:
            return self.radius > 0
        return len(self.vertices) >= 3  # noqa: PLR2004 - fewer points enclose nothing

    @property
    def is_crop(self) -> bool:
        """Whether its role says that it is meant as a crop."""
        return bool(CROPPINGS.intersection(_http(one) for one in self.roles))


def _http(role: str) -> str:
    """The term as the vocabulary writes it; some writers put https."""
    return "http://" + role.removeprefix("https://") if role.startswith("https://") else role


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A region's box in pixels of a picture, turned clockwise about its centre."""

    box: Extent
    straighten_deg: float = 0.0


def region_of(crop: Crop, destination: Destination, size: Size) -> Region:
    """The crop for ``destination`` as a region of an upright picture of ``size``."""
    box = crop.box
    known = {
        "id": f"{OUR_ID}{destination.name}",
        "name": destination.name,
        "roles": roles_of(crop, size),
    }
    if destination.frame is Frame.CIRCLE:
        centre = box.centre
        radius = min(box.width, box.height) / 2 / size.width
        at = (centre.x / size.width, centre.y / size.height)
        return Region(outline=Outline.CIRCLE, at=at, radius=radius, **known)  # type: ignore[arg-type]
    if crop.straighten_deg:
        vertices = tuple((x / size.width, y / size.height) for x, y in corners(crop))
        return Region(outline=Outline.POLYGON, vertices=vertices, **known)  # type: ignore[arg-type]
    return Region(
        outline=Outline.RECTANGLE,
        at=(box.x0 / size.width, box.y0 / size.height),
        width=box.width / size.width,
        height=box.height / size.height,
        **known,  # type: ignore[arg-type]
    )


def roles_of(crop: Crop, size: Size) -> tuple[str, ...]:
    """Recommended; and square, or lying where the picture stands, or standing where it lies."""
    wide, high = crop.box.width, crop.box.height
    if wide == high:
        return (RECOMMENDED, SQUARE)
    if wide > high and size.width <= size.height:
        return (RECOMMENDED, LANDSCAPE)
    if wide < high and size.width >= size.height:
        return (RECOMMENDED, PORTRAIT)
    return (RECOMMENDED,)


def placed(region: Region, size: Size) -> Placed:
    """Where the region lies in an upright picture of ``size``, in pixels."""
    across, down = (size.width, size.height) if region.unit is Unit.RELATIVE else (1, 1)
    x, y = region.at[0] * across, region.at[1] * down
    if region.outline is Outline.RECTANGLE:
        return Placed(box=Extent(x, y, x + region.width * across, y + region.height * down))
    if region.outline is Outline.CIRCLE:
        radius = region.radius * across
        return Placed(box=Extent(x - radius, y - radius, x + radius, y + radius))
    return _polygon([(px * across, py * down) for px, py in region.vertices])


def _polygon(points: list[tuple[float, float]]) -> Placed:
    """A turned box where the points make one, else the upright box round them."""
    turned = _turned_box(points) if len(points) == 4 else None  # noqa: PLR2004 - a box's corners
    if turned is not None:
        return turned
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return Placed(box=Extent(min(xs), min(ys), max(xs), max(ys)))


def _turned_box(points: list[tuple[float, float]]) -> Placed | None:
    """The box whose corners these are, turned by less than 45 degrees; None if they make none."""
    cx, cy = sum(x for x, _ in points) / 4, sum(y for _, y in points) / 4
    (ax, ay), (bx, by), (dx, dy) = points[0], points[1], points[3]
    if max(abs(ax + points[2][0] - 2 * cx), abs(ay + points[2][1] - 2 * cy)) > RIGHT_ANGLE_SLACK_PX:
        return None
    first, second = math.hypot(bx - ax, by - ay), math.hypot(dx - ax, dy - ay)
    if not first or not second:
        return None
    if abs((bx - ax) * (dx - ax) + (by - ay) * (dy - ay)) > RIGHT_ANGLE_SLACK_PX * max(
        first, second
    ):
        return None
    turn = math.degrees(math.atan2(by - ay, bx - ax)) % 180
    quarter = 45 < turn <= 135  # noqa: PLR2004 - the first edge runs down rather than across
    wide, high = (second, first) if quarter else (first, second)
    turn = turn - 90 if quarter else turn - 180 if turn > 135 else turn  # noqa: PLR2004
    box = Extent(cx - wide / 2, cy - high / 2, cx + wide / 2, cy + high / 2)
    return Placed(box=box, straighten_deg=round(turn, 6))


@dataclass(frozen=True, slots=True, kw_only=True)
class CropTaken:
    """A region's box for one destination."""

    destination: str
    region: Region
    placed: Placed


def crops_from_regions(
    regions: Iterable[Region], size: Size, destinations: Iterable[Destination]
) -> tuple[CropTaken, ...]:
    """For each destination the region that names it, else the first crop of a shape it takes.

    A region of our own names its destination; one from elsewhere goes by role and shape.
    """
    known = tuple(regions)
    taken = []
    for destination in destinations:
        one = _named(known, destination) or _shaped(known, size, destination)
        if one is not None:
            where = placed(one, size)
            taken.append(CropTaken(destination=destination.name, region=one, placed=where))
    return tuple(taken)


def _named(regions: tuple[Region, ...], destination: Destination) -> Region | None:
    wanted = f"{OUR_ID}{destination.name}"
    return next((one for one in regions if one.id == wanted), None)


def _shaped(regions: tuple[Region, ...], size: Size, destination: Destination) -> Region | None:
    strangers = (one for one in regions if one.is_crop and not one.id.startswith(OUR_ID))
    return next((one for one in strangers if fits(placed(one, size), destination)), None)


def fits(where: Placed, destination: Destination) -> bool:
    """Whether the box has a shape that the destination takes, its sides within one pixel."""
    wide, high = where.box.width, where.box.height
    return any(
        _off(wide, high, one.shape.least, one.shape.most) <= 1 for one in destination.orientations
    )


def _off(wide: float, high: float, least: Fraction, most: Fraction) -> float:
    """Pixels by which the width misses the nearest allowed shape."""
    return max(0.0, high * float(least) - wide, wide - high * float(most))
