"""Body joints of each person: where a frame's edge must not cut.

The pose finds one person per picture and finds none in some (4 of 35), so it is shown a piece
about one body at a time, and believed only when its eyes are the eyes that were found.
"""

from __future__ import annotations

import math
from typing import Final

from cropper.geometry import Point
from cropper.subject.engine import Engine
from cropper.subject.meshing import Face
from cropper.subject.pyramid import Pyramid
from cropper.subject.subject import Joint

_PLACES: Final = {
    "shoulder": (11, 12),
    "elbow": (13, 14),
    "wrist": (15, 16),
    "fingers": (19, 20),
    "hip": (23, 24),
    "knee": (25, 26),
    "ankle": (27, 28),
}
"""Pose points of each joint: of the person's left side, of the right."""
_EYES: Final = (2, 5)
LEAST_VISIBLE: Final = 0.5
"""Less visible joints are guesses and are left out (rules use .8 and more)."""
_BODY_HEADS: Final = 8.5
"""A standing figure with a little room, in heads [ratios: 7.5]."""
_ASTRAY: Final = 0.35
"""How far the pose's eyes may lie from the found ones, in heads (house)."""


def joints_of(engine: Engine, pyramid: Pyramid, face: Face, head_px: float) -> tuple[Joint, ...]:
    """Joints inside the master, at least half visible; none when the pose saw somebody else."""
    upright = 90.0 * round(face.angle_deg / 90.0)
    eyes = face.pupils.mean(axis=0)
    turn = math.radians(upright)
    down = (-math.sin(turn), math.cos(turn))
    for heads in (_BODY_HEADS, _BODY_HEADS / 2):
        side = min(heads * head_px, 1.3 * pyramid.longest)
        drop = side / 2 - 1.2 * head_px
        middle = (float(eyes[0]) + down[0] * drop, float(eyes[1]) + down[1] * drop)
        piece = pyramid.piece(middle, side, angle_deg=upright)
        body = engine.pose(piece.pixels)
        if body is None:
            continue
        places = piece.to_master(body[:, :2])
        seen = places[list(_EYES)].mean(axis=0)
        if math.dist(seen, eyes) <= _ASTRAY * head_px:
            return _named(places.tolist(), body[:, 2].tolist(), pyramid)
    return ()


def _named(places: list[list[float]], visible: list[float], pyramid: Pyramid) -> tuple[Joint, ...]:
    """The joints that rules speak of, named by the person's own left and right."""
    found = []
    for name, sides in _PLACES.items():
        for side, index in zip(("left", "right"), sides, strict=True):
            x, y = places[index]
            inside = 0 <= x <= pyramid.width and 0 <= y <= pyramid.height
            if inside and visible[index] >= LEAST_VISIBLE:
                found.append(
                    Joint(
                        f"{side}_{name}", Point(round(x, 2), round(y, 2)), round(visible[index], 3)
                    )
                )
    return tuple(found)
