"""A visible mark on client proofs: words across the picture, clear of eyes and faces.

Diagonal, white with a dark rim, so that it reads on any ground; as large as it can be where it
covers no head, and smaller rather than over one. A second, fine line crosses each face below the
eyes: whoever crops the large one away has it still.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from cropper.geometry import Crop, Extent, Point, Size

if TYPE_CHECKING:
    from PIL import Image, ImageFont

LONG_EDGE_PX: Final = 1600
"""A proof's long edge (house: a screen, not a print)."""
WORDS: Final = "proof, not for publication"
DIAGONALS_DEG: Final = (30.0, -30.0, 45.0, -45.0, 60.0, -60.0)
STRAIGHT_DEG: Final = (0.0, 90.0)
"""Only where no diagonal is clear: a mark along an edge is soon cut off (house)."""
SIZES: Final = tuple(round(0.09 - 0.005 * step, 3) for step in range(14))
"""Height of the letters as a share of the long edge, the largest first (house); the last, 0.025,
is 40 px of 1600, which a screen at arm's length shows as plainly as a heading."""
OPACITY: Final = 0.75
PLACES: Final = 12
"""Places tried each way."""
MARGIN: Final = 0.02
"""Share of the long edge left free at the picture's edges (house)."""
EYE_ROOM: Final = 0.6
"""Radius kept clear round a pupil, in distances between the pupils (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clear:
    """What the mark stays away from, in pixels of the proof: heads if it can, eyes always."""

    heads: tuple[Extent, ...] = ()
    eyes: tuple[Extent, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the words stand: centre, slope (rising to the right above 0), height of letters."""

    centre: Point
    slope_deg: float
    letters_px: int


def on_proof(point: Point, crop: Crop, proof: Size) -> Point:
    """A place in the master, in pixels of a proof of the crop."""
    centre, turn = crop.box.centre, math.radians(crop.straighten_deg)
    dx, dy = point.x - centre.x, point.y - centre.y
    across = dx * math.cos(turn) + dy * math.sin(turn)
    down = dy * math.cos(turn) - dx * math.sin(turn)
    return Point(
        (across / crop.box.width + 0.5) * proof.width,
        (down / crop.box.height + 0.5) * proof.height,
    )


def extent_on_proof(box: Extent, crop: Crop, proof: Size) -> Extent:
    """The upright box round a box of the master, in pixels of a proof of the crop."""
    corners = [Point(x, y) for x in (box.x0, box.x1) for y in (box.y0, box.y1)]
    there = [on_proof(one, crop, proof) for one in corners]
    xs, ys = [one.x for one in there], [one.y for one in there]
    return Extent(min(xs), min(ys), max(xs), max(ys))


def round_eyes(left: Point, right: Point) -> tuple[Extent, Extent]:
    """The room kept clear round two pupils."""
    room = max(EYE_ROOM * left.to(right), 1.0)
    boxes = [
        Extent(one.x - room, one.y - room, one.x + room, one.y + room) for one in (left, right)
    ]
    return boxes[0], boxes[1]


def place_for(text: str, size: Size, clear: Clear) -> Place | None:
    """The largest clear place for the words; over a head, but never an eye, where none is clear.

    None where they could only stand over an eye.
    """
    for zones in (clear.heads + clear.eyes, clear.eyes):
        for slopes in (DIAGONALS_DEG, STRAIGHT_DEG):
            for share in SIZES:
                found = _largest(text, size, zones, slopes, share)
                if found is not None:
                    return found
    return None


def places_on_faces(text: str, clear: Clear) -> tuple[Place, ...]:
    """A line across each head, between eyes and chin, so that no crop of a face is without one.

    As wide as the head, below the eyes where there is room, else above them; none on a head that
    is too small for letters of :data:`LEAST_LETTERS_PX`, or whose eyes fill it.
    """
    found = (_across(text, head, clear.eyes) for head in clear.heads)
    return tuple(one for one in found if one is not None)


LEAST_LETTERS_PX: Final = 8
"""Smaller letters cannot be read on a screen (house)."""
ON_A_HEAD: Final = 0.8
"""Share of the head's width that the line takes (house)."""
DOWN_A_HEAD: Final = (0.78, 0.72, 0.84, 0.66, 0.9, 0.14, 0.22)
"""Heights tried, as shares of the head from its top: the mouth, the chin, then the forehead."""


def _across(text: str, head: Extent, eyes: Sequence[Extent]) -> Place | None:
    per_px = _font(100).getlength(text) / 100
    letters = int(ON_A_HEAD * head.width / per_px)
    if letters < LEAST_LETTERS_PX:
        return None
    box = (per_px * letters, 1.3 * letters)
    trials = (
        Point((head.x0 + head.x1) / 2, head.y0 + share * head.height) for share in DOWN_A_HEAD
    )
    points = _points(box, 0.0)
    at = next((one for one in trials if not _covers(points, one, eyes)), None)
    return None if at is None else Place(centre=at, slope_deg=0.0, letters_px=letters)


def _largest(
    text: str, size: Size, zones: Sequence[Extent], slopes: Sequence[float], share: float
) -> Place | None:
    """A clear place for letters of one height, at the first slope that has one."""
    letters = max(8, round(share * max(size.width, size.height)))
    box = (_font(letters).getlength(text), 1.3 * letters)
    for slope in slopes:
        found = _clear_place(size, box, slope, zones)
        if found is not None:
            return Place(centre=found, slope_deg=slope, letters_px=letters)
    return None


def _clear_place(
    size: Size, box: tuple[float, float], slope: float, zones: Sequence[Extent]
) -> Point | None:
    """The clear place nearest to the middle for a box turned by ``slope``."""
    points, margin = _points(box, slope), MARGIN * max(size.width, size.height)
    reach_x = float(np.abs(points[:, 0]).max()) + margin
    reach_y = float(np.abs(points[:, 1]).max()) + margin
    if 2 * reach_x > size.width or 2 * reach_y > size.height:
        return None
    trials = [
        Point(x, y) for x in _along(reach_x, size.width) for y in _along(reach_y, size.height)
    ]
    middle = Point(size.width / 2, size.height / 2)
    return next(
        (at for at in sorted(trials, key=middle.to) if not _covers(points, at, zones)), None
    )


def _along(reach: float, length: int) -> Iterator[float]:
    return (reach + (length - 2 * reach) * step / (PLACES - 1) for step in range(PLACES))


def _points(
    box: tuple[float, float], slope: float
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """A grid over the words' box about (0, 0), turned; denser than any eye is wide."""
    cos, sin = math.cos(math.radians(slope)), math.sin(math.radians(slope))
    u, v = np.meshgrid(np.linspace(-0.5, 0.5, 61) * box[0], np.linspace(-0.5, 0.5, 7) * box[1])
    turned = np.stack([u * cos + v * sin, v * cos - u * sin], axis=-1)
    return np.asarray(turned.reshape(-1, 2), np.float64)


def _covers(
    points: np.ndarray[tuple[int, int], np.dtype[np.float64]], at: Point, zones: Sequence[Extent]
) -> bool:
    x, y = points[:, 0] + at.x, points[:, 1] + at.y
    return any(
        bool(np.any((x >= one.x0) & (x <= one.x1) & (y >= one.y0) & (y <= one.y1))) for one in zones
    )


def marked(picture: Image.Image, text: str, place: Place) -> Image.Image:
    """A new RGB picture with the words on it."""
    from PIL import Image, ImageDraw  # noqa: PLC0415 - loads the picture library

    font, rim = _font(place.letters_px), max(1, place.letters_px // 14)
    width = math.ceil(font.getlength(text)) + 4 * rim
    words = Image.new("RGBA", (width, round(1.6 * place.letters_px)), (0, 0, 0, 0))
    pen = ImageDraw.Draw(words)
    middle = (words.width / 2, words.height / 2)
    pen.text(
        middle, text, font=font, fill="white", anchor="mm", stroke_width=rim, stroke_fill="#222"
    )
    words.putalpha(words.getchannel("A").point(lambda value: round(value * OPACITY)))
    turned = words.rotate(place.slope_deg, expand=True, resample=Image.Resampling.BICUBIC)
    at = (round(place.centre.x - turned.width / 2), round(place.centre.y - turned.height / 2))
    under = picture.convert("RGB").convert("RGBA")
    layer = Image.new("RGBA", under.size, (0, 0, 0, 0))
    layer.paste(turned, at)
    return Image.alpha_composite(under, layer).convert("RGB")


def _font(letters_px: int) -> ImageFont.FreeTypeFont:
    """The picture library's own typeface, so that every machine marks alike."""
    from PIL import ImageFont  # noqa: PLC0415

    font = ImageFont.load_default(size=letters_px)
    if not isinstance(font, ImageFont.FreeTypeFont):
        raise TypeError("the picture library was built without scalable type")
    return font
