"""How a crop lies and how many pixels it delivers: what proposals promise, export keeps."""

from __future__ import annotations

import math
from fractions import Fraction

from cropper.destination.destination import Destination
from cropper.geometry import Size, shorter_side


def delivered_size(destination: Destination, crop: Size) -> Size:
    """Pixels written for a crop: the destination's, its long edge, or the crop's own.

    A long edge is an upper bound: a smaller crop is enlarged only as far as the destination
    allows, and delivered smaller otherwise.
    """
    if destination.delivered is not None:
        return destination.delivered
    if destination.long_edge_px is None:
        return crop
    longer = max(crop.width, crop.height)
    most = math.floor(longer * max(destination.greatest_enlargement, Fraction(1)))
    long_edge = min(destination.long_edge_px, most)
    shorter = shorter_side(long_edge, Fraction(crop.width, crop.height))
    return Size(long_edge, shorter) if crop.width >= crop.height else Size(shorter, long_edge)


def effective_ppi(destination: Destination, crop: Size) -> float | None:
    """Master pixels per printed inch; None for screens."""
    inches = destination.width_in_inches()
    return None if inches is None else float(crop.width / inches)


def lying_as(destination: Destination, size: Size) -> Destination:
    """The orientation of a turnable destination whose shape is nearer to ``size``."""
    shape = math.log(size.width / size.height)

    def off(one: Destination) -> float:
        least, most = math.log(one.shape.least), math.log(one.shape.most)
        return max(0.0, least - shape, shape - most)

    return min(destination.orientations, key=off)
