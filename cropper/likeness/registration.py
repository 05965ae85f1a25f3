"""How one picture lies on another: matched features, and the plane map most of them agree on.

A :class:`Lie` is an affine map between two pictures' pixel-edge coordinates. Random sampling finds
it [ransac]; what a picture on a page cannot be (squeezed to a third, sheared, turned over) is no
lie. OpenCV's warps name pixel centres; they are shifted by half a pixel in here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.likeness.features import Features, Floats, Grey, matched

Matrix = npt.NDArray[np.float64]

REACH_PX: Final = 3.0
"""A pair may miss the common map by this, in pixels of the known picture (house)."""
LEAST_PAIRS: Final = 8
"""Fewer agreeing pairs come about by chance (house); more may too, and the tiles decide then."""
MOST_SQUEEZE: Final = 1.3
"""Width may be scaled by this much more than height, or the other way (house: a careless page)."""
MOST_SHEAR: Final = 0.08
"""How far from a right angle the axes may lie, as a cosine (house)."""
MOST_SCALE: Final = 40.0
"""Enlarged or reduced further than this nothing is told (house)."""
TRIES: Final = 4000
"""Random samples at most; a share of 10 % true pairs is found by then with 99 % (computed)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lie:
    """Edge coordinates (x, y) -> ``across`` . (x, y, 1), ``down`` . (x, y, 1)."""

    across: tuple[float, float, float]
    down: tuple[float, float, float]

    def __post_init__(self) -> None:
        if not all(math.isfinite(v) for v in (*self.across, *self.down)) or not self.area_scale:
            message = f"no plane map: {self.across}, {self.down}"
            raise ValueError(message)

    @staticmethod
    def of(matrix: Matrix) -> Lie:
        """From a 2 x 3 matrix."""
        first, second = (tuple(float(v) for v in row) for row in matrix)
        return Lie(across=(first[0], first[1], first[2]), down=(second[0], second[1], second[2]))

    @property
    def matrix(self) -> Matrix:
        """As a 2 x 3 matrix."""
        return np.array([self.across, self.down], np.float64)

    @property
    def area_scale(self) -> float:
        """Target pixels for each pixel; negative when mirrored."""
        return self.across[0] * self.down[1] - self.across[1] * self.down[0]

    @property
    def scale(self) -> float:
        """Target pixels along a length of one pixel."""
        return math.sqrt(abs(self.area_scale))

    @property
    def turn_deg(self) -> float:
        """Clockwise turn of the picture's upper edge, as seen in the target."""
        return math.degrees(math.atan2(self.down[0], self.across[0]))

    @property
    def squeeze(self) -> float:
        """Scale along the width over scale along the height."""
        wide = math.hypot(self.across[0], self.down[0])
        return wide / math.hypot(self.across[1], self.down[1])

    @property
    def shear(self) -> float:
        """Cosine between the axes: 0 when they stand at right angles."""
        a, b = (self.across[0], self.down[0]), (self.across[1], self.down[1])
        return abs(a[0] * b[0] + a[1] * b[1]) / (math.hypot(*a) * math.hypot(*b))

    @property
    def plausible(self) -> bool:
        """Whether a picture shown on a page can lie so."""
        return (
            self.area_scale > 0
            and 1 / MOST_SCALE < self.scale < MOST_SCALE
            and 1 / MOST_SQUEEZE < self.squeeze < MOST_SQUEEZE
            and self.shear < MOST_SHEAR
        )

    def __call__(self, points: npt.NDArray[Any]) -> Matrix:
        """Points (n, 2) mapped."""
        matrix = self.matrix
        return np.asarray(points @ matrix[:, :2].T + matrix[:, 2], np.float64)

    def back(self) -> Lie:
        """The map the other way."""
        square = np.vstack([self.matrix, [0, 0, 1]])
        return Lie.of(np.linalg.inv(square)[:2])

    def then(self, other: Lie) -> Lie:
        """First this map, then ``other``."""
        first, second = (np.vstack([one.matrix, [0, 0, 1]]) for one in (self, other))
        return Lie.of((second @ first)[:2])

    @staticmethod
    def scaled(across: float, down: float, x0: float = 0.0, y0: float = 0.0) -> Lie:
        """Scaling about the origin, then a shift."""
        return Lie(across=(across, 0.0, x0), down=(0.0, down, y0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Registered:
    """``lie`` leads from the found picture to the known one; ``pairs`` features agree on it."""

    lie: Lie
    pairs: int
    residual_px: float
    """Root mean square miss of those pairs, in pixels of the known picture."""


def registered(found: Features, known: Features) -> Registered | None:
    """How ``found`` lies on ``known``; None when too few features agree on one map."""
    import cv2  # noqa: PLC0415

    here, there = matched(found, known)
    if len(here) < LEAST_PAIRS:
        return None
    cv2.setRNGSeed(0)  # the same file gets the same answer
    rough, kept = cv2.estimateAffinePartial2D(
        here, there, method=cv2.RANSAC, ransacReprojThreshold=REACH_PX, maxIters=TRIES
    )
    if rough is None:
        return None
    agreeing = kept.ravel().astype(bool)
    return _settled(here[agreeing], there[agreeing])


def _settled(here: Floats, there: Floats) -> Registered | None:
    """The least-squares affine map of the agreeing pairs, each counted once."""
    apart = np.unique(np.round(there), axis=0)
    if len(apart) < LEAST_PAIRS or len(np.unique(np.round(here), axis=0)) < LEAST_PAIRS:
        return None  # many to one spot agree on any map
    ones = np.hstack([here, np.ones((len(here), 1))]).astype(np.float64)
    solved, *_ = np.linalg.lstsq(ones, there.astype(np.float64), rcond=None)
    try:
        lie = Lie.of(np.asarray(solved.T, np.float64))
    except ValueError:
        return None
    miss = np.sqrt(np.mean(np.sum((lie(here) - there) ** 2, axis=1)))
    if not lie.plausible:
        return None
    return Registered(lie=lie, pairs=len(apart), residual_px=float(miss))


def laid(picture: Grey, lie: Lie, size: tuple[int, int]) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """``picture`` drawn through ``lie`` (its edges -> target edges) on ``size`` (width, height).

    With the mask of what it covers. When it shrinks it is first reduced by area, so that nothing
    aliases.
    """
    import cv2  # noqa: PLC0415

    if lie.scale < 1:
        high, wide = picture.shape
        less = (max(1, round(wide * lie.scale)), max(1, round(high * lie.scale)))
        reduced = cv2.resize(picture, less, interpolation=cv2.INTER_AREA)
        lie = Lie.scaled(wide / less[0], high / less[1]).then(lie)
        picture = np.asarray(reduced, np.uint8)
    drawn = cv2.warpAffine(
        picture.astype(np.float32), _centres(lie), size, borderMode=cv2.BORDER_REPLICATE
    )
    mask = cv2.warpAffine(
        np.full(picture.shape, 255, np.uint8), _centres(lie), size, flags=cv2.INTER_NEAREST
    )
    return np.asarray(drawn, np.float32), mask > 0


def _centres(lie: Lie) -> Matrix:
    """The same map between pixel centres: shifted in by half a pixel, and out again."""
    half = Lie.scaled(1, 1, 0.5, 0.5)
    return half.then(lie).then(half.back()).matrix
