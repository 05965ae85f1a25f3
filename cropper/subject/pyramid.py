"""One picture at several sizes, and square, levelled pieces cut from the fitting one.

Resizing a large master costs far more than looking at it, so every size is made once, from the
next larger one. OpenCV names pixel centres; this program names edges: the half pixel is added
here and nowhere else.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from cropper.subject.engine_points import Points
from cropper.subject.finders import Pixels

LOOK: Final = 512
"""Side of every piece that is looked at, px. The detectors work at 128 and 192 px inside."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A square piece of the master: its pixels, and the 2 x 3 matrix from master to piece."""

    pixels: Pixels
    matrix: NDArray[np.float64]

    @property
    def scale(self) -> float:
        """Piece pixels per master pixel."""
        return math.hypot(self.matrix[0, 0], self.matrix[0, 1])

    def to_master(self, points: Points) -> Points:
        """Points of the piece, (n, 2), in master pixels."""
        inverse = np.linalg.inv(self.matrix[:, :2])
        return np.asarray((points - self.matrix[:, 2]) @ inverse.T, np.float64)

    def from_master(self, points: Points) -> Points:
        """Master points, (n, 2), in pixels of the piece."""
        turned: Points = points @ self.matrix[:, :2].T + self.matrix[:, 2]
        return turned


class Pyramid:
    """The picture at full size and at each smaller size asked for."""

    def __init__(self, pixels: Pixels) -> None:
        self.height, self.width = pixels.shape[:2]
        self.longest = max(self.width, self.height)
        self._made: dict[int, Pixels] = {self.longest: np.ascontiguousarray(pixels)}
        self._grey: Pyramid | None = None

    @property
    def top(self) -> Pixels:
        """The picture at full size."""
        return self._made[self.longest]

    @property
    def in_grey(self) -> Pyramid:
        """The same picture in normalised grey; made once."""
        if self._grey is None:
            self._grey = Pyramid(normalised_grey(self.top))
        return self._grey

    def _level(self, longest: int) -> Pixels:
        """The picture with this long side; never enlarged."""
        if longest >= self.longest:
            return self._made[self.longest]
        if longest not in self._made:
            larger = self._made[min(side for side in self._made if side > longest)]
            scale = longest / self.longest
            size = (max(1, round(self.width * scale)), max(1, round(self.height * scale)))
            self._made[longest] = np.asarray(
                cv2.resize(larger, size, interpolation=cv2.INTER_AREA), np.uint8
            )
        return self._made[longest]

    def _fitting(self, scale: float) -> Pixels:
        """The smallest of 1024, 2048, 4096 px and full size that need not be enlarged."""
        for longest in (1024, 2048, 4096):
            if longest < self.longest and longest / self.longest >= scale:
                return self._level(longest)
        return self._made[self.longest]

    def piece(
        self,
        middle: tuple[float, float],
        side: float,
        *,
        angle_deg: float = 0.0,
        out: int = LOOK,
        outside: int = cv2.BORDER_CONSTANT,
    ) -> Piece:
        """The square of ``side`` master px about ``middle``, turned so that ``angle_deg`` is level.

        What lies outside the picture is black, or repeats its edge (``cv2.BORDER_REPLICATE``).
        """
        scale = out / side
        source = self._fitting(scale)
        wide_ratio = source.shape[1] / self.width
        high_ratio = source.shape[0] / self.height
        turn = math.radians(angle_deg)
        across = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
        linear = across * scale
        matrix = np.hstack([linear, (out / 2 - linear @ np.array(middle))[:, None]])
        centred = matrix / np.array([wide_ratio, high_ratio, 1.0])
        centred[:, 2] += centred[:, :2] @ np.array([0.5, 0.5]) - 0.5
        pixels = cv2.warpAffine(
            source, centred, (out, out), flags=cv2.INTER_LINEAR, borderMode=outside
        )
        return Piece(np.asarray(pixels, np.uint8), matrix)


def normalised_grey(pixels: Pixels) -> Pixels:
    """The brightest of R, G, B, with 1..99 % stretched over 0..255, in all three channels.

    A picture in light of one pure colour keeps its whole face in one channel; a luminance would
    lose it (measured: recall .40 -> 1.00).
    """
    brightest = pixels.max(axis=2)
    sample = brightest[:: max(1, brightest.shape[0] // 512), :: max(1, brightest.shape[1] // 512)]
    low, high = np.percentile(sample, (1, 99))
    ramp = (np.arange(256) - low) * (255.0 / max(1.0, float(high - low)))
    table = np.clip(np.round(ramp), 0, 255).astype(np.uint8)
    return np.ascontiguousarray(np.repeat(table[brightest][:, :, None], 3, axis=2))
