"""Local features of a grey picture, and which of two pictures' features belong together.

SIFT [sift] as OpenCV ships it; its patent has run out. Descriptors are compared after the
square root of their shares (Hellinger's kernel, [rootsift]), so that a matrix product does
the comparing. Points are pixel **edges** of the picture they were found in; OpenCV's name centres,
and half a pixel is added here and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Grey = npt.NDArray[np.uint8]
"""(rows, columns), 8 bit."""
Floats = npt.NDArray[np.float32]

DESCRIPTOR: Final = 128
"""Numbers in a SIFT descriptor [sift]."""
FAINTEST: Final = 0.01
"""Contrast that a feature needs; a quarter of the usual 0.04, for soft light on wool (house)."""
NEARNESS: Final = 0.8
"""A match must be this much nearer than the next best [sift, section 7.1]."""
LEAST_SIDE_PX: Final = 16
"""Below this a picture has no features to speak of (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Features:
    """``points`` (n, 2) float32 in pixel edges, ``descriptors`` (n, 128) uint8; strongest first."""

    points: Floats
    descriptors: npt.NDArray[np.uint8]

    def __post_init__(self) -> None:
        count = len(self.points)
        if self.points.shape != (count, 2) or self.descriptors.shape != (count, DESCRIPTOR):
            message = f"points {self.points.shape} and descriptors {self.descriptors.shape} differ"
            raise ValueError(message)

    def __len__(self) -> int:
        return len(self.points)

    def rooted(self, most: int | None = None) -> Floats:
        """Unit vectors (n, 128) whose dot products say how alike descriptors are, 0..1."""
        return rooted(self.descriptors[:most])


def rooted(descriptors: npt.NDArray[np.uint8]) -> Floats:
    """Square roots of each descriptor's shares: unit vectors [rootsift]."""
    wide = descriptors.astype(np.float32)
    sums = wide.sum(axis=1, keepdims=True)
    return np.asarray(np.sqrt(wide / np.maximum(sums, 1)), np.float32)


def none_found() -> Features:
    """No features at all: a blank picture."""
    return Features(
        points=np.zeros((0, 2), np.float32), descriptors=np.zeros((0, DESCRIPTOR), np.uint8)
    )


def features(grey: Grey, most: int) -> Features:
    """At most ``most`` features of ``grey``, strongest first; none in a blank or tiny picture."""
    import cv2  # noqa: PLC0415 - heavy, only when pictures are looked at

    if min(grey.shape) < LEAST_SIDE_PX:
        return none_found()
    engine: Any = cv2.SIFT_create(nfeatures=most, contrastThreshold=FAINTEST)  # type: ignore[attr-defined]
    points, descriptors = engine.detectAndCompute(grey, None)
    if descriptors is None or not points:
        return none_found()
    order = np.argsort([-one.response for one in points], kind="stable")[:most]
    places = np.array([points[n].pt for n in order], np.float32) + np.float32(0.5)
    return Features(points=places, descriptors=descriptors[order].astype(np.uint8))


def matched(one: Features, other: Features) -> tuple[Floats, Floats]:
    """Points of ``one`` and of ``other`` that belong together, row by row (n, 2) each."""
    if len(one) < 2 or len(other) < 2:  # noqa: PLR2004 - the ratio needs a second best
        return np.zeros((0, 2), np.float32), np.zeros((0, 2), np.float32)
    alike = one.rooted() @ other.rooted().T
    best = alike.argmax(axis=1)
    rows = np.arange(len(one))
    nearest = alike[rows, best].copy()
    alike[rows, best] = -1
    # Distance between unit vectors: sqrt(2 - 2 s). The ratio is taken of distances.
    first = 2 - 2 * np.minimum(nearest, 1)
    second = 2 - 2 * np.minimum(alike.max(axis=1), 1)
    kept = first < NEARNESS**2 * second
    return one.points[kept], other.points[best[kept]]
