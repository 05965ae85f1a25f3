"""A change of a crop as a photographer says it: tighter, eyes higher, straighter.

All shares are of the seen frame (the trim). The eyes are what moves in the frame: eyes that go
**higher** make the frame move down over the master. Where nobody is known, the middle of the crop
stands for the eyes. Size first, then place (see :mod:`cropper.geometry`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

from cropper.destination.destination import Destination
from cropper.geometry import Crop, Extent, PixelBox, Point, Size
from cropper.job.adjusting import Drawn, fitted
from cropper.proposal.delivering import lying_as
from cropper.proposal.measuring import people_outside
from cropper.proposal.turning import turned_about
from cropper.subject.subject import Finding

THIRD: Final = 1 / 3
GIVES_WAY: Final = 0.25
"""House: so much shorter a crop may become where its frame cannot move any further. Most crops are
the largest of their shape, and could not be moved at all otherwise."""
HALVINGS: Final = 16
"""To the pixel in masters of 65,000 px a side."""
NEAR_PX: Final = 1.5
"""House: whole pixels in size and place may miss a wish by so much and still have met it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """What to change. Nothing stated: nothing changes.

    ``sides`` multiplies both sides of the crop (0.9 is tighter by a tenth, 1.1 looser).
    ``eyes_right`` and ``eyes_down`` are shares of the seen width and height, negative for left and
    higher. ``eyes_on_third`` puts the eyes a third below the seen frame's upper edge.
    ``straighten_deg`` is the crop's new turn, clockwise; None leaves it. Raises ``ValueError``
    where the values fit no crop.
    """

    sides: float = 1.0
    eyes_right: float = 0.0
    eyes_down: float = 0.0
    eyes_on_third: bool = False
    straighten_deg: float | None = None

    def __post_init__(self) -> None:
        if self.sides <= 0 or (self.eyes_on_third and self.eyes_down):
            message = f"sides are above 0, and the eyes go to one place: {self}"
            raise ValueError(message)

    @property
    def stated(self) -> bool:
        """Whether it changes anything at all."""
        return self != Adjustment()

    @property
    def to_a_place(self) -> bool:
        """Whether it says where the eyes go."""
        return bool(self.eyes_right or self.eyes_down or self.eyes_on_third)


class Place(NamedTuple):
    """Where the eyes, or what stands for them, lie in the seen frame; 0 is left and top."""

    across: float
    down: float


class Moved(NamedTuple):
    """An adjusted crop. ``whole``: the master's edges allowed all that was wished.

    ``gave_way``: the crop is smaller than wished, so that the eyes can stand where they were
    wished.
    """

    crop: Crop
    whole: bool
    gave_way: bool


def eyes_in(finding: Finding, crop: Crop) -> Point | None:
    """The middle of all principals' eyes that lie in a crop, in px of the master; None: nobody's.

    Down, it is half way between the highest and the lowest pair of eyes, as the rules have it.
    """
    seen = turned_about(finding, crop)
    outside = people_outside(seen, crop.box)
    eyes = [one.eyes for at, one in enumerate(seen.principals) if at not in outside]
    if not all(_holds(crop.box, one) for one in eyes):  # nobody's eyes are inside
        return None
    xs, ys = [one.x for one in eyes], [one.y for one in eyes]
    if not eyes:
        return None
    centre = crop.box.centre
    off = Point((min(xs) + max(xs)) / 2 - centre.x, (min(ys) + max(ys)) / 2 - centre.y)
    turned = _turned(off, crop.straighten_deg)
    return Point(centre.x + turned.x, centre.y + turned.y)


def _holds(box: PixelBox, at: Point) -> bool:
    return box.x0 < at.x < box.x1 and box.y0 < at.y < box.y1


def place_of(at: Point, crop: Crop, destination: Destination) -> Place:
    """Where a point of the master lies in the seen frame of a crop."""
    centre, trim = crop.box.centre, destination.trim
    off = _turned(Point(at.x - centre.x, at.y - centre.y), -crop.straighten_deg)
    across, down = 0.5 + off.x / crop.box.width, 0.5 + off.y / crop.box.height
    return Place(
        (across - float(trim.x0)) / float(trim.x1 - trim.x0),
        (down - float(trim.y0)) / float(trim.y1 - trim.y0),
    )


def adjusted(crop: Crop, wish: Adjustment, destination: Destination, finding: Finding) -> Moved:
    """The nearest crop to the wish that lies in the master, in the destination's shape.

    Where a place is wished that the frame cannot reach for the master's edge, the crop becomes
    smaller, by a quarter at most. Where only a size is wished, the place gives way instead.
    """
    lying = lying_as(destination, crop.box.size)
    eyes = eyes_in(finding, crop) or crop.box.centre
    here = place_of(eyes, crop, lying)
    wanted = Place(
        here.across + wish.eyes_right,
        THIRD if wish.eyes_on_third else here.down + wish.eyes_down,
    )
    turn = crop.straighten_deg if wish.straighten_deg is None else wish.straighten_deg
    wide, high = crop.box.width * wish.sides, crop.box.height * wish.sides

    def placed(share: float) -> Crop:
        return _placed(eyes, wanted, (share * wide, share * high), turn, lying, finding.size)

    def reached(done: Crop) -> bool:
        there = place_of(eyes, done, lying)
        across = (there.across - wanted.across) * done.box.width
        down = (there.down - wanted.down) * done.box.height
        return _near((across, down), (0.0, 0.0))

    sized = placed(1.0)
    done = placed(_largest(placed, reached, sized.box.width / wide, to_place=wish.to_a_place))
    met = _near(_sides(done), (wide, high))
    gave_way = reached(done) and not _near(_sides(done), _sides(sized))
    return Moved(done, reached(done) and (met or wish.to_a_place), gave_way)


def _largest(
    placed: Callable[[float], Crop],
    reached: Callable[[Crop], bool],
    most: float,
    *,
    to_place: bool,
) -> float:
    """The greatest share of the wished size, up to ``most``, at which the eyes reach their place.

    Frames of one place are nested, so what a smaller one reaches no larger one need be asked for.
    """
    least = most * (1 - GIVES_WAY)
    if not to_place or reached(placed(most)) or not reached(placed(least)):
        return least if to_place and not reached(placed(most)) else most
    below, above = least, most
    for _ in range(HALVINGS):
        middle = (below + above) / 2
        below, above = (middle, above) if reached(placed(middle)) else (below, middle)
    return below


def _sides(crop: Crop) -> tuple[float, float]:
    return float(crop.box.width), float(crop.box.height)


def _near(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return all(abs(a - b) <= NEAR_PX for a, b in zip(one, other, strict=True))


def _placed(  # noqa: PLR0917 - a frame is its eyes, their place, its size and its turn
    eyes: Point,
    wanted: Place,
    sides: tuple[float, float],
    turn: float,
    destination: Destination,
    size: Size,
) -> Crop:
    """The crop of such sides that has the eyes at the wanted place of its seen frame."""
    trim = destination.trim
    across = float(trim.x0) + wanted.across * float(trim.x1 - trim.x0)
    down = float(trim.y0) + wanted.down * float(trim.y1 - trim.y0)
    wide, high = sides
    off = _turned(Point((across - 0.5) * wide, (down - 0.5) * high), turn)
    x, y = eyes.x - off.x, eyes.y - off.y
    box = Extent(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
    return fitted(Drawn(box=box, straighten_deg=turn), destination, size)


def _turned(off: Point, degrees: float) -> Point:
    """A step turned clockwise (y runs down)."""
    angle = math.radians(degrees)
    cos, sin = math.cos(angle), math.sin(angle)
    return Point(off.x * cos - off.y * sin, off.x * sin + off.y * cos)
