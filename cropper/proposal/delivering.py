"""How many pixels a crop delivers, and at what density: what proposals promise, export keeps."""

from __future__ import annotations

from cropper.destination.destination import Destination
from cropper.geometry import Size, half_up


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
    most = int(longer * destination.greatest_enlargement)
    long_edge = min(destination.long_edge_px, max(longer, most))
    shorter = max(1, half_up(min(crop.width, crop.height) * long_edge / longer))
    return Size(long_edge, shorter) if crop.width >= crop.height else Size(shorter, long_edge)


def effective_ppi(destination: Destination, crop: Size) -> float | None:
    """Master pixels per printed inch; None for screens."""
    inches = destination.width_in_inches()
    return None if inches is None else float(crop.width / inches)
