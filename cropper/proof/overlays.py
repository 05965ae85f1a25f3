"""The overlays of a proof, as plain marks in master pixels: one set for the page and for the PDF.

Pure arithmetic: what is drawn where. How a layer looks is decided by the style sheet and by the
PDF's own table. A straightened crop is drawn upright: found points are turned into its frame.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from cropper.destination.destination import CoveredZone, Destination, Frame, KeepClear, Surround
from cropper.geometry import WHOLE, Crop, Extent, Point, Size
from cropper.proof.past_edges import hatched, past_boxes
from cropper.proposal.filling import filled_as
from cropper.proposal.proposal import Measure, Proposal
from cropper.subject.subject import Finding, Subject


class Layer(StrEnum):
    """What can be laid over a crop, each shown or hidden by itself."""

    THIRDS = "thirds"
    EYE_LINE = "eye-line"
    PUPILS = "pupils"
    HEADROOM = "headroom"
    SAFE = "safe"
    BLEED = "bleed"
    GUTTER = "gutter"
    COVERED = "covered"
    CIRCLE = "circle"
    LIVE = "live"
    FILLED = "filled"


@dataclass(frozen=True, slots=True)
class LayerName:
    """A layer's word on the sheet, what it shows, and whether it shows at first."""

    layer: Layer
    title: str
    says: str
    at_first: bool


LAYERS: Final = (
    LayerName(Layer.THIRDS, "thirds", "lines at one and two thirds of the frame", False),
    LayerName(Layer.EYE_LINE, "eye line", "the height of the eyes, and where it should be", False),
    LayerName(Layer.PUPILS, "pupils", "the pupils as found or placed", False),
    LayerName(Layer.HEADROOM, "headroom", "from the edge above to the top of the hair", False),
    LayerName(Layer.SAFE, "safe area", "what a printer or player promises to show", False),
    LayerName(Layer.BLEED, "bleed and trim", "what the knife takes away", True),
    LayerName(Layer.GUTTER, "gutter", "the fold, and the margin no face may enter", True),
    LayerName(Layer.COVERED, "covered zones", "what a title or a button may lie over", True),
    LayerName(Layer.CIRCLE, "circle", "what a round frame hides", True),
    LayerName(Layer.LIVE, "live areas", "the narrower frames some viewers see", False),
    LayerName(Layer.FILLED, "filled part", "past the master: made, not photographed", True),
)
"""All layers in the order of the toggles. At first only what hides the picture is shown."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line between two points."""

    layer: Layer
    a: Point
    b: Point
    kind: str = "line"


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle: ``filled`` covers the picture a little, otherwise only its outline counts."""

    layer: Layer
    box: Extent
    filled: bool
    kind: str = "area"


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle's outline."""

    layer: Layer
    centre: Point
    radius: float
    kind: str = "ring"


@dataclass(frozen=True, slots=True)
class Veil:
    """Everything of ``outer`` that lies outside ``hole`` (or outside the circle in it)."""

    layer: Layer
    outer: Extent
    hole: Extent
    round_hole: bool
    kind: str = "veil"


@dataclass(frozen=True, slots=True)
class Label:
    """A few words at a point; ``anchor`` is start, middle or end. ``upwards``: read from below."""

    layer: Layer
    at: Point
    text: str
    anchor: str = "start"
    upwards: bool = False
    kind: str = "label"


@dataclass(frozen=True, slots=True)
class Fill:
    """What of a crop lies past the master: in the border's ``colour`` ('#rrggbb'), or hatched.

    ``hatch`` are straight lines across ``box``, where the backdrop will be carried on.
    """

    layer: Layer
    box: Extent
    colour: str
    hatch: tuple[tuple[Point, Point], ...] = ()
    kind: str = "fill"


Mark = Line | Area | Ring | Veil | Label | Fill

UNMADE: Final = "#8f8b86"
"""Stands for a backdrop that is carried on only when the file is made: nobody has seen it yet."""
HATCH: Final = 1 / 12
"""Hatch lines lie this share of the crop's shorter side apart (house)."""

INSET: Final = 0.02
"""Labels stand this share of the frame's shorter side off its edge (house)."""


NARROW: Final = 0.35
"""A zone higher than wide and narrower than this share of the crop is labelled upwards (house)."""


def into_frame(point: Point, crop: Crop) -> Point:
    """Where a point of the master lies once the crop's straightening has turned the picture."""
    if crop.straighten_deg == 0:
        return point
    angle = -math.radians(crop.straighten_deg)
    middle = crop.box.centre
    dx, dy = point.x - middle.x, point.y - middle.y
    return Point(
        middle.x + dx * math.cos(angle) - dy * math.sin(angle),
        middle.y + dx * math.sin(angle) + dy * math.cos(angle),
    )


def outline(crop: Crop) -> tuple[Point, ...]:
    """The four corners of the crop on the master, clockwise from the top left."""
    box = crop.box
    corners = ((box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1))
    back = Crop(box, -crop.straighten_deg)
    return tuple(into_frame(Point(x, y), back) for x, y in corners)


def seen_frame(destination: Destination, crop: Crop) -> Extent:
    """The primary seen frame: the trim, or the square around the circle inside it."""
    trim = destination.trim.of(crop.box)
    if destination.frame is not Frame.CIRCLE:
        return trim
    half = min(trim.width, trim.height) / 2
    middle = trim.centre
    return Extent(middle.x - half, middle.y - half, middle.x + half, middle.y + half)


def marks(destination: Destination, proposal: Proposal, finding: Finding) -> tuple[Mark, ...]:
    """Every mark of every layer that means something for this destination, in drawing order.

    ``destination`` must lie the way the crop does (:func:`cropper.proposal.measuring.lying_as`).
    """
    crop, destination = proposal.crop, filled_as(destination, proposal)
    frame = seen_frame(destination, crop)
    people = tuple(_Head.of(one, crop) for one in finding.principals)
    filled = tuple(_filled(destination, crop, finding.size))
    return (
        *(one for one in filled if isinstance(one, Fill)),
        *_veils(destination, crop, frame),
        *_covered(destination, crop),
        *_gutter(destination, crop),
        *_safe(destination, crop),
        *_live(destination, crop),
        *_thirds(frame),
        *_eye_line(frame, people, proposal.measures),
        *_headroom(destination, crop, frame, people),
        *_pupils(finding, crop),
        *(one for one in filled if isinstance(one, Label)),
    )


def ground(destination: Destination) -> str:
    """The colour under a crop past its master: the border's, or one that stands for the backdrop.

    Empty where the destination fills nothing.
    """
    fill = destination.finish.fill
    if fill is Surround.NOTHING:
        return ""
    return destination.finish.border_colour if fill is Surround.BORDER else UNMADE


def _filled(destination: Destination, crop: Crop, size: Size) -> Iterator[Fill | Label]:
    if crop.straighten_deg:
        return
    border = destination.finish.fill is Surround.BORDER
    colour = ground(destination)
    apart = HATCH * min(crop.box.width, crop.box.height)
    for px, box in past_boxes(crop, size):
        yield Fill(Layer.FILLED, box, colour, () if border else hatched(box, apart))
        narrow = box.width < NARROW * crop.box.width and box.height > box.width
        said = f"{'border' if border else 'carried on'}: {px} px"
        yield Label(Layer.FILLED, box.centre, said, "middle", upwards=narrow)


@dataclass(frozen=True, slots=True)
class _Head:
    """The few points of a principal that overlays need, in the crop's upright frame."""

    left: Point
    right: Point
    hair_top: Point
    sigma: float
    head_px: float

    @classmethod
    def of(cls, subject: Subject, crop: Crop) -> _Head:
        return cls(
            into_frame(subject.left_eye, crop),
            into_frame(subject.right_eye, crop),
            into_frame(subject.hair_top.at, crop),
            subject.hair_top.sigma_px,
            subject.head_height_px,
        )


def _veils(destination: Destination, crop: Crop, frame: Extent) -> Iterator[Mark]:
    whole = WHOLE.of(crop.box)
    trim = destination.trim.of(crop.box)
    if destination.trim != WHOLE:
        yield Veil(Layer.BLEED, whole, trim, False)
        yield Area(Layer.BLEED, trim, False)
    if destination.frame is Frame.CIRCLE:
        yield Veil(Layer.CIRCLE, whole, frame, True)
        yield Ring(Layer.CIRCLE, frame.centre, frame.width / 2)


def _covered(destination: Destination, crop: Crop) -> Iterator[Mark]:
    for zone in destination.covered:
        box = zone.box.within(destination.trim).of(crop.box)
        yield Area(Layer.COVERED, box, True)
        narrow = box.height > box.width and box.width < NARROW * crop.box.width
        yield Label(Layer.COVERED, box.centre, zone.name, "middle", upwards=narrow)


def _gutter(destination: Destination, crop: Crop) -> Iterator[Mark]:
    gutter = destination.gutter
    if gutter is None:
        return
    trim = destination.trim.of(crop.box)
    x = trim.x0 + float(gutter.at) * trim.width
    reach = float(gutter.margin) * trim.width
    if reach > 0:
        yield Area(Layer.GUTTER, Extent(x - reach, trim.y0, x + reach, trim.y1), True)
    yield Line(Layer.GUTTER, Point(x, trim.y0), Point(x, trim.y1))
    yield Label(Layer.GUTTER, Point(x, trim.y1 - INSET * trim.height), "fold", "middle")


def _safe(destination: Destination, crop: Crop) -> Iterator[Mark]:
    if destination.safe != WHOLE:
        yield Area(Layer.SAFE, destination.safe.within(destination.trim).of(crop.box), False)


def _live(destination: Destination, crop: Crop) -> Iterator[Mark]:
    for area in destination.live_areas:
        box = area.box.within(destination.trim).of(crop.box)
        inset = INSET * min(box.width, box.height)
        yield Area(Layer.LIVE, box, False)
        yield Label(Layer.LIVE, Point(box.x0 + inset, box.y1 - inset), area.name)


def _thirds(frame: Extent) -> Iterator[Mark]:
    for part in (1 / 3, 2 / 3):
        x, y = frame.x0 + part * frame.width, frame.y0 + part * frame.height
        yield Line(Layer.THIRDS, Point(x, frame.y0), Point(x, frame.y1))
        yield Line(Layer.THIRDS, Point(frame.x0, y), Point(frame.x1, y))


def _eye_line(
    frame: Extent, people: tuple[_Head, ...], measures: tuple[Measure, ...]
) -> Iterator[Mark]:
    if not people:
        return
    middles = [head.left.midway(head.right).y for head in people]
    y = (min(middles) + max(middles)) / 2
    band = _eye_band(measures, (y - frame.y0) / frame.height)
    if band is not None:
        top, bottom = (frame.y0 + part * frame.height for part in band)
        yield Area(Layer.EYE_LINE, Extent(frame.x0, top, frame.x1, bottom), True)
    yield Line(Layer.EYE_LINE, Point(frame.x0, y), Point(frame.x1, y))
    share = f"{100 * (y - frame.y0) / frame.height:.0f} %"
    yield Label(Layer.EYE_LINE, Point(frame.x0 + INSET * frame.width, y), share)
    for head in people:
        yield Line(Layer.EYE_LINE, head.left, head.right)


SAME_HEIGHT: Final = 0.005
"""A measure is about the eye line we draw when its value agrees to half a percent (house)."""


def _eye_band(measures: tuple[Measure, ...], height: float) -> tuple[float, float] | None:
    """The target band of the eye line, if the rule measured just the height that is drawn."""
    for measure in measures:
        if measure.rule != "eye line asked" or measure.value is None or measure.target is None:
            continue
        least, most = measure.target
        if least is None or most is None or abs(measure.value - height) > SAME_HEIGHT:
            continue
        if 0 <= least < most <= 1:
            return least, most
    return None


def _pupils(finding: Finding, crop: Crop) -> Iterator[Mark]:
    for subject in finding.subjects:
        radius = max(0.035 * subject.head_height_px, 2 * subject.eye_sigma_px)
        for eye in (subject.left_eye, subject.right_eye):
            at = into_frame(eye, crop)
            if crop.box.x0 <= at.x <= crop.box.x1 and crop.box.y0 <= at.y <= crop.box.y1:
                yield Ring(Layer.PUPILS, at, radius)


def _headroom(
    destination: Destination, crop: Crop, frame: Extent, people: tuple[_Head, ...]
) -> Iterator[Mark]:
    if not people:
        return
    tallest = min(people, key=lambda head: head.hair_top.y)
    x, y = tallest.hair_top.x, tallest.hair_top.y
    top = headroom_edge(destination, crop, frame, tallest.hair_top)
    if not frame.x0 <= x <= frame.x1:
        return
    foot = 0.12 * tallest.head_px
    visible = max(y, frame.y0)
    yield Line(Layer.HEADROOM, Point(x, top), Point(x, visible))
    for level in (top, visible):
        yield Line(Layer.HEADROOM, Point(x - foot, level), Point(x + foot, level))
    if tallest.sigma > 0 and y - tallest.sigma > frame.y0:
        sure = Extent(x - foot / 2, y - tallest.sigma, x + foot / 2, y + tallest.sigma)
        yield Area(Layer.HEADROOM, sure, True)
    share = 100 * (y - top) / frame.height
    words = f"{share:.0f} %" if share >= 0 else "crown cut"
    yield Label(Layer.HEADROOM, Point(x + 1.2 * foot, visible), words)


def headroom_edge(destination: Destination, crop: Crop, frame: Extent, hair_top: Point) -> float:
    """The y that headroom counts from: the frame's top, a zone the head must clear, or the arc."""
    if destination.frame is Frame.CIRCLE:
        radius, middle = frame.width / 2, frame.centre
        off = abs(hair_top.x - middle.x)
        return middle.y - math.sqrt(radius**2 - off**2) if off < radius else middle.y
    bottoms = [
        box.y1
        for zone, box in _zones(destination, crop)
        if zone.keep_clear is KeepClear.HEAD and zone.box.y0 == 0 and box.x0 <= hair_top.x <= box.x1
    ]
    return max([frame.y0, *bottoms])


def _zones(destination: Destination, crop: Crop) -> Iterator[tuple[CoveredZone, Extent]]:
    for zone in destination.covered:
        yield zone, zone.box.within(destination.trim).of(crop.box)
