"""Whether a finished destination leaves room for a picture: pixels its format holds, free places.

These contradictions only show once sizes are worked out and areas are laid over each other.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Final

from cropper.destination.contradictions import Fault
from cropper.destination.destination import Destination, Frame
from cropper.destination.reading import GREATEST_SIDE_PX
from cropper.geometry import WHOLE, NormalBox

WEBP_GREATEST_SIDE_PX: Final = 16_383
"""14 bits a side [WebP lossy bitstream, RFC 6386 section 9.1; from memory]."""


def in_destination(destination: Destination) -> list[Fault]:
    """All that contradicts itself in the destination as built."""
    return [*_pixels(destination), *_room(destination)]


def _pixels(destination: Destination) -> Iterator[Fault]:
    size = destination.delivered
    sides = (size.width, size.height) if size else (destination.long_edge_px or 1,)
    webp = destination.finish.format == "webp"
    most = WEBP_GREATEST_SIDE_PX if webp else GREATEST_SIDE_PX
    if max(sides) > most:
        yield Fault(
            "finish.format",
            f"{destination.finish.format} cannot hold a side of {max(sides)} px,"
            f" only {most}: fewer ppi, or another format",
        )


def _room(destination: Destination) -> Iterator[Fault]:
    """Eyes must be able to stand somewhere that every viewer sees and nothing covers."""
    seen = [WHOLE, *(area.box for area in destination.live_areas)]
    blocked = [zone.box for zone in destination.covered]
    gutter = destination.gutter
    if gutter is not None:
        blocked.append(
            NormalBox(gutter.at - gutter.margin, Fraction(0), gutter.at + gutter.margin, WHOLE.y1)
        )
    cells = list(_cells([*seen, *blocked]))
    common = [cell for cell in cells if all(_holds(area, cell) for area in seen)]
    if not common:
        yield Fault("live_areas", "have no part in common, so no eyes could be seen in all of them")
        return
    if destination.frame is Frame.CIRCLE:
        common = [cell for cell in common if _meets_circle(cell, destination)]
    if all(any(_holds(zone, cell) for zone in blocked) for cell in common):
        yield Fault(
            "covered" if destination.covered else "frame",
            "leaves no place where eyes would be seen and nothing covers them",
        )


def _cells(boxes: list[NormalBox]) -> Iterator[NormalBox]:
    across = sorted({edge for box in boxes for edge in (box.x0, box.x1)})
    down = sorted({edge for box in boxes for edge in (box.y0, box.y1)})
    for x0, x1 in pairwise(across):
        for y0, y1 in pairwise(down):
            yield NormalBox(x0, y0, x1, y1)


def _holds(area: NormalBox, cell: NormalBox) -> bool:
    across = area.x0 <= cell.x0 and cell.x1 <= area.x1
    return across and area.y0 <= cell.y0 and cell.y1 <= area.y1


def _meets_circle(cell: NormalBox, destination: Destination) -> bool:
    """Whether the cell reaches into the circle inscribed in the trim (sides: shape to 1)."""
    half = Fraction(1, 2)
    wide = destination.shape.least * (destination.trim.x1 - destination.trim.x0)
    high = destination.trim.y1 - destination.trim.y0
    nearest_x = (min(max(half, cell.x0), cell.x1) - half) * wide
    nearest_y = (min(max(half, cell.y0), cell.y1) - half) * high
    return nearest_x**2 + nearest_y**2 < (min(wide, high) / 2) ** 2
