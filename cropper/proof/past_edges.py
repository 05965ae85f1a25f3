"""The parts of a crop that lie past its master, and the lines that hatch them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from cropper.geometry import Crop, Extent, Point, Size
from cropper.proposal.filling import past_edges


def past_boxes(crop: Crop, size: Size) -> Iterator[tuple[int, Extent]]:
    """The parts past the master, none over another, each with how many px it reaches."""
    box, past = crop.box, past_edges(crop.box, size)
    x0, x1 = box.x0 + past.left, box.x1 - past.right
    y0, y1 = box.y0 + past.top, box.y1 - past.bottom
    edges = (
        (box.x0, box.y0, x0, box.y1),
        (x0, box.y0, x1, y0),
        (x1, box.y0, box.x1, box.y1),
        (x0, y1, x1, box.y1),
    )
    for px, sides in zip(past, edges, strict=True):
        if px:
            yield px, Extent(*sides)


def hatched(box: Extent, apart: float) -> tuple[tuple[Point, Point], ...]:
    """Lines rising to the right, each from edge to edge of the box."""
    least, most = box.x0 + box.y0, box.x1 + box.y1
    sums = (least + apart * number for number in range(1, math.ceil((most - least) / apart)))
    return tuple(
        (
            Point(max(box.x0, both - box.y1), min(box.y1, both - box.x0)),
            Point(min(box.x1, both - box.y0), max(box.y0, both - box.x1)),
        )
        for both in sums
    )
