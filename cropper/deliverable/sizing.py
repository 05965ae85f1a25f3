"""How many pixels a finished file has, how much that enlarges, and its effective ppi."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from cropper.destination.destination import Destination
from cropper.errors import DeliveryError
from cropper.geometry import Crop, PixelBox, Size
from cropper.proposal.delivering import delivered_size, lying_as

SHAPE_SLACK_PX: Final = Fraction(1)
"""A crop may miss the delivered shape by this many master px: whole-pixel rounding, no more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """``enlargement`` is delivered px per master px (1 and less: none); ``ppi`` None on screens."""

    destination: Destination
    size: Size
    enlargement: Fraction
    ppi: Fraction | None
    notes: tuple[str, ...] = ()


def sized(crop: Crop, destination: Destination) -> Sized:
    """The pixel size to deliver; refuses more enlargement than the destination allows."""
    oriented = lying_as(destination, crop.box.size)
    size, notes = _size(crop.box, oriented)
    _refuse_distortion(crop.box, size, oriented)
    enlargement = max(Fraction(size.width, crop.box.width), Fraction(size.height, crop.box.height))
    if enlargement > 1:
        notes = (*notes, f"enlarged to {float(enlargement):.0%} of the master's own pixels")
    return Sized(
        destination=oriented,
        size=size,
        enlargement=enlargement,
        ppi=_ppi(size, oriented),
        notes=notes,
    )


def _ppi(size: Size, destination: Destination) -> Fraction | None:
    """Pixels per inch on paper; exactly what was asked where only rounding to pixels differs."""
    inches, asked = destination.width_in_inches(), destination.ppi
    if inches is None:
        return asked
    if asked is not None and abs(size.width - asked * inches) < 1:
        return asked
    return Fraction(size.width) / inches


def _size(box: PixelBox, destination: Destination) -> tuple[Size, tuple[str, ...]]:
    """Delivered size and what to say about it."""
    if destination.delivered is not None:
        _refuse_enlargement(box, destination.delivered, destination)
        return destination.delivered, ()
    size = delivered_size(destination, box.size)
    wanted, aimed = destination.long_edge_px, max(size.width, size.height)
    if wanted is None or aimed == wanted:
        return size, ()
    said = (
        f"the long edge is {aimed} px, not {wanted}: "
        "the crop has no more, and this destination allows no more enlargement"
    )
    return size, (said,)


def _refuse_enlargement(box: PixelBox, size: Size, destination: Destination) -> None:
    """Half a pixel of the crop is forgiven: it was rounded to whole ones."""
    most = destination.greatest_enlargement
    if size.width > most * (box.width + Fraction(1, 2)):
        raise DeliveryError(
            f"{destination.name}: {size.width} x {size.height} px from a crop of {box.width} x "
            f"{box.height} px enlarges {size.width / box.width:.2f} times; "
            f"{float(most):g} is the most it allows",
            way_out="Take a larger crop, another master, or a destination that asks for less",
        )


def _refuse_distortion(box: PixelBox, size: Size, destination: Destination) -> None:
    """Nothing is ever squeezed: the crop must have the delivered shape to within a pixel."""
    # A whole-pixel crop is rounded on its shorter side only: the lesser of the two misses counts.
    wide = abs(Fraction(box.height * size.width, size.height) - box.width)
    high = abs(Fraction(box.width * size.height, size.width) - box.height)
    per_px = max(Fraction(box.width, size.width), Fraction(box.height, size.height))
    if min(wide, high) > max(SHAPE_SLACK_PX, per_px):
        raise DeliveryError(
            f"{destination.name}: a crop of {box.width} x {box.height} px would be squeezed into "
            f"{size.width} x {size.height} px",
            way_out="Give the crop the destination's shape; planning it again does",
        )
