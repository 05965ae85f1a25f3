"""What a found file shows of one known picture: where, how well, and what differs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from cropper.geometry import Extent, PixelBox, Point, Size
from cropper.likeness.faces import Faces
from cropper.likeness.registration import Lie

SURE_AGREEING: Final = 0.92
"""Share of telling tiles that must show the same (design/likeness: own all, others <= .88)."""
SURE_MEAN: Final = 0.88
"""And their mean correlation."""
LEAST_TILES: Final = 12
"""Fewer telling tiles than this settle nothing (house)."""
MOSTLY_AGREEING: Final = 0.75
"""With places covered or changed, so much must show the same ..."""
MOSTLY_ELSEWHERE: Final = 0.96
"""... and so much outside those places (house)."""
NEAR_AGREEING: Final = 0.5
"""From here on a picture that is not the one is still worth naming (house)."""
MOST_SHEAR: Final = 0.007
"""A picture shown on a page keeps its right angles; a figure that leans over before a plain
backdrop looks sheared (design/likeness: own files at most .005, as a cosine)."""
PLAIN_TURN_DEG: Final = 0.25
"""A smaller turn is a plain crop: small files waver by that much (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundCrop:
    """A rectangle of the upright master, turned clockwise about its centre by ``turn_deg``.

    ``give_px`` is how far an edge may be off, in pixels of the master, one standard deviation.
    """

    centre: Point
    width: float
    height: float
    turn_deg: float
    give_px: float

    @property
    def corners(self) -> tuple[Point, ...]:
        """Top left, top right, bottom right, bottom left as the file shows them."""
        turn = math.radians(self.turn_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        half = ((-1, -1), (1, -1), (1, 1), (-1, 1))
        return tuple(
            Point(
                self.centre.x + (x * self.width * cos - y * self.height * sin) / 2,
                self.centre.y + (x * self.width * sin + y * self.height * cos) / 2,
            )
            for x, y in half
        )

    @property
    def box(self) -> PixelBox:
        """The whole-pixel box, its turn left out: as :class:`cropper.geometry.Crop` has it."""
        x0, y0 = self.centre.x - self.width / 2, self.centre.y - self.height / 2
        left, top = round(x0), round(y0)
        right, bottom = round(x0 + self.width), round(y0 + self.height)
        return PixelBox(left, top, max(right, left + 1), max(bottom, top + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How the file lies on one known picture.

    ``shown``: the picture's part of the file, in its pixels. ``agreeing``: share of ``tiles`` that
    show the same, ``correlation`` their mean. ``differs``: where in the file it does not,
    ``elsewhere``: what share agrees outside all such places. ``faces``: what a closer look told.
    ``shear``: by how much the file's sides miss right angles on the picture, as a cosine.
    """

    sha256: str
    size: Size
    crop: FoundCrop
    shown: Extent
    mirrored: bool
    pairs: int
    residual_px: float
    tiles: int
    agreeing: float
    correlation: float
    differs: Extent | None = None
    elsewhere: float = 0.0
    faces: Faces = Faces.NONE
    shear: float = 0.0

    @property
    def leans(self) -> bool:
        """Whether it lies on the picture aslant, as another frame does and a copy does not."""
        return self.shear > MOST_SHEAR

    @property
    def doubtful(self) -> bool:
        """Whether a place of it shows something else, though it is sure on the whole."""
        return self.differs is not None or self.faces is Faces.DIFFER or self.leans

    @property
    def mostly(self) -> bool:
        """Whether it is this picture but for some places: covered, retouched, or a twin."""
        return (
            self.tiles >= LEAST_TILES
            and self.differs is not None
            and self.agreeing >= MOSTLY_AGREEING
            and self.elsewhere >= MOSTLY_ELSEWHERE
        )

    @property
    def sure(self) -> bool:
        """Whether it is this picture (or one of which the file cannot tell it)."""
        return (
            self.tiles >= LEAST_TILES
            and self.agreeing >= SURE_AGREEING
            and self.correlation >= SURE_MEAN
        )

    @property
    def near(self) -> bool:
        """Whether it is at least worth naming."""
        return self.tiles >= LEAST_TILES and self.agreeing >= NEAR_AGREEING


def crop_through(lie: Lie, shown: Extent, give_px: float) -> FoundCrop:
    """Where ``shown`` lies in the master; ``lie`` leads there from the file (as looked at).

    A mirrored file was looked at turned over; the crop is the same rectangle of the master.
    """
    corners = np.array(
        [[shown.x0, shown.y0], [shown.x1, shown.y0], [shown.x1, shown.y1], [shown.x0, shown.y1]]
    )
    there = lie(corners)
    centre = there.mean(axis=0)
    top, side = there[1] - there[0], there[3] - there[0]
    turn = lie.turn_deg
    return FoundCrop(
        centre=Point(float(centre[0]), float(centre[1])),
        width=_length(top),
        height=_length(side),
        turn_deg=turn if abs(turn) >= PLAIN_TURN_DEG else 0.0,
        give_px=give_px,
    )


def _length(vector: npt.NDArray[np.float64]) -> float:
    return float(np.hypot(*vector))
