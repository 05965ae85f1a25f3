"""Where faces may be: both detectors over the sizes of the pyramid, turned and tiled.

The tolerance of the detectors to tilt ends near 60 degrees, so the smallest size is also looked
at turned. What is found here is only a sighting; :mod:`cropper.subject.meshing` confirms it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from cropper.subject.engine import FULL, SHORT, Detection, Engine, slope_deg
from cropper.subject.pyramid import LOOK, Piece, Pyramid

LEAST_SCORE: Final = 0.6
"""On the sizes of 512 and 1024 px (measured on 35 photographs, 63 faces)."""
DEEP_SCORE: Final = 0.7
"""On the deeper sizes, where there are many more tiles to be wrong in (house: .8 lost 3 % heads
that the mesh then confirmed)."""
SAME_FACE: Final = 0.3
"""Intersection over union above which two sightings are one face."""
OVERLAP: Final = 0.25
"""Of neighbouring tiles."""
_STANDING = (0.0,)
_TURNS: Final = (90.0, 180.0, 270.0)
_HALF_TURNS: Final = (45.0, 135.0, 225.0, 315.0)


@dataclass(frozen=True, slots=True)
class Sighting:
    """A square about a possible face, in master px: middle, side, tilt of its eyes, score."""

    x: float
    y: float
    side: float
    angle_deg: float
    score: float


def overlap(one: Sighting, other: Sighting) -> float:
    """Intersection over union of two sightings taken as upright squares."""
    reach = (one.side + other.side) / 2
    across = min(reach - abs(one.x - other.x), one.side, other.side)
    down = min(reach - abs(one.y - other.y), one.side, other.side)
    if across <= 0 or down <= 0:
        return 0.0
    both = across * down
    return both / (one.side**2 + other.side**2 - both)


def merged(sightings: Iterable[Sighting]) -> list[Sighting]:
    """One sighting per face, the best-scoring of each, best first."""
    kept: list[Sighting] = []
    for seen in sorted(sightings, key=lambda s: (-s.score, s.x, s.y, s.side)):
        if all(overlap(seen, other) < SAME_FACE for other in kept):
            kept.append(seen)
    return kept


def in_master(piece: Piece, found: Detection) -> Sighting:
    """A detection in a piece, as a sighting in the master."""
    at = piece.to_master(np.array([found.middle]))[0]
    eyes = piece.to_master(found.eyes)
    return Sighting(
        float(at[0]),
        float(at[1]),
        found.side / piece.scale,
        slope_deg(eyes[0], eyes[1]),
        found.score,
    )


def _seen(engine: Engine, piece: Piece, least: float) -> Iterator[Detection]:
    for which in (SHORT, FULL):
        for found in engine.detect(piece.pixels, which):
            if found.score >= least:
                yield found


def _whole(
    engine: Engine, pyramid: Pyramid, turns: Iterable[float], least: float
) -> Iterator[Sighting]:
    """The whole picture at the smallest size, turned."""
    middle = (pyramid.width / 2, pyramid.height / 2)
    for turn in turns:
        slanted = turn % 90 != 0
        side = math.hypot(pyramid.width, pyramid.height) if slanted else float(pyramid.longest)
        piece = pyramid.piece(middle, side, angle_deg=turn)
        for found in _seen(engine, piece, least):
            yield in_master(piece, found)


def _starts(length: float, tile: float) -> list[float]:
    """Where tiles start so that they cover ``length`` with at least the overlap."""
    if length <= tile:
        return [(length - tile) / 2]
    count = math.ceil((length - tile) / (tile * (1 - OVERLAP))) + 1
    return [index * (length - tile) / (count - 1) for index in range(count)]


def _cut(found: Detection, inner: tuple[bool, bool, bool, bool]) -> bool:
    """Whether the box leaves the tile over an edge behind which the picture goes on."""
    left, top, right, bottom = inner
    return (
        (left and found.x < 0)
        or (top and found.y < 0)
        or (right and found.x + found.side > LOOK)
        or (bottom and found.y + found.side > LOOK)
    )


def _tiles(
    engine: Engine, pyramid: Pyramid, longest: int, turns: Iterable[float], least: float
) -> Iterator[Sighting]:
    """Tiles of one deeper size; a box cut by an inner edge is whole in the neighbouring tile."""
    tile = LOOK * pyramid.longest / longest
    for top in _starts(pyramid.height, tile):
        for left in _starts(pyramid.width, tile):
            edges = (
                left > 0,
                top > 0,
                left + tile < pyramid.width,
                top + tile < pyramid.height,
            )
            for turn in turns:
                piece = pyramid.piece((left + tile / 2, top + tile / 2), tile, angle_deg=turn)
                inner = edges if turn == 0 else (any(edges),) * 4
                for found in _seen(engine, piece, least):
                    if not _cut(found, inner):
                        yield in_master(piece, found)


def ordinary(engine: Engine, pyramid: Pyramid) -> list[Sighting]:
    """Heads of about 8 % of the frame and more, upright or lying."""
    seen = list(_whole(engine, pyramid, (*_STANDING, *_TURNS), LEAST_SCORE))
    if pyramid.longest > LOOK:
        seen += _tiles(engine, pyramid, 2 * LOOK, _STANDING, LEAST_SCORE)
    return merged(seen)


def lying(engine: Engine, pyramid: Pyramid) -> list[Sighting]:
    """Smaller heads that lie or stand on their heads."""
    return merged(_tiles(engine, pyramid, 2 * LOOK, _TURNS, LEAST_SCORE))


def slanted(engine: Engine, pyramid: Pyramid) -> list[Sighting]:
    """Once more, at the angles between the quarter turns and at a lower score."""
    return merged(_whole(engine, pyramid, _HALF_TURNS, LEAST_SCORE))


def deeper(engine: Engine, pyramid: Pyramid, times: int) -> list[Sighting]:
    """Tiles of the picture ``times`` (4, 8) the smallest size; enlarged at most twofold."""
    longest = min(times * LOOK, 2 * pyramid.longest)
    return merged(_tiles(engine, pyramid, longest, _STANDING, DEEP_SCORE))
