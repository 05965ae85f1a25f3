"""Which exported crop a found one comes from: geometry alone, in pixels of the upright master.

A file can be cut down from a deliverable but never shows more than it. So a deliverable is possible
only when the found crop lies inside its crop. The nearest possible one is named, others as near
beside it; of a file that was cut further any crop that holds it may be the origin.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar

import numpy as np

from cropper.geometry import Crop, Point
from cropper.likeness.likeness import FoundCrop

INSIDE: Final = 0.985
"""Share of the found crop that must lie in the exported one (house: edges waver by a pixel)."""
THE_SAME: Final = 0.97
"""Intersection over union from which the file was not cut any further (house)."""
AS_NEAR: Final = 0.01
"""Crops whose overlap is less than this behind the nearest are named beside it (house)."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut(Generic[T]):
    """A deliverable that the file may come from; ``overlap`` is intersection over union, 0..1."""

    of: T
    overlap: float

    @property
    def whole(self) -> bool:
        """Whether the file shows all of that crop."""
        return self.overlap >= THE_SAME


def cut_from(found: FoundCrop, crops: Iterable[tuple[T, Crop]]) -> tuple[Cut[T], ...]:
    """All exported crops that hold ``found``, nearest first; none when no crop does."""
    area = found.width * found.height
    told: list[Cut[T]] = []
    for of, crop in crops:
        both = _shared(found.corners, corners(crop))
        if both >= INSIDE * area:
            union = area + crop.box.width * crop.box.height - both
            told.append(Cut(of=of, overlap=min(1.0, both / union)))
    return tuple(sorted(told, key=lambda one: -one.overlap))


def nearest(cuts: Sequence[Cut[T]]) -> tuple[Cut[T], ...]:
    """The nearest of them and those as near: one crop may serve several destinations."""
    return tuple(one for one in cuts if one.overlap >= cuts[0].overlap - AS_NEAR)


def corners(crop: Crop) -> tuple[Point, ...]:
    """The four corners of a crop, turned clockwise about its centre as it says."""
    box = crop.box
    turned = FoundCrop(
        centre=box.centre,
        width=box.width,
        height=box.height,
        turn_deg=crop.straighten_deg,
        give_px=0.0,
    )
    return turned.corners


def _shared(one: Sequence[Point], other: Sequence[Point]) -> float:
    """Area that two four-cornered shapes have in common, in square pixels."""
    import cv2  # noqa: PLC0415

    first, second = (np.array([(p.x, p.y) for p in shape], np.float32) for shape in (one, other))
    area: Any = cv2.intersectConvexConvex(first, second)[0]
    return float(area)
