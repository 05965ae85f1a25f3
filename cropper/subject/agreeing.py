"""A face that one mesh cannot be trusted with: many meshes, and what most of them agree on.

Profiles, heads bent down or thrown back and faces behind something confuse the detectors, so
nothing says which way up or how large the face is. Shown regions that are shifted, turned and
scaled, the mesh answers somewhere else each time where there is no face, and nearly the same where
there is one.
"""

from __future__ import annotations

from itertools import product
from typing import Final

import cv2
import numpy as np

from cropper.subject.detecting import Sighting
from cropper.subject.engine import Engine, slope_deg
from cropper.subject.engine_points import Points
from cropper.subject.meshing import CHIN, PUPILS, Face
from cropper.subject.pyramid import LOOK, Pyramid

_ANGLES: Final = (-30.0, -15.0, 0.0, 15.0, 30.0)
_SIDES: Final = (0.9, 1.2)
_SHIFTS: Final = (-0.25, 0.0, 0.25)
"""The regions: degrees about upright, and sides and shifts across in sides of the sighting."""
_REGION: Final = 0.75 * LOOK
LEAST_PRESENCE: Final = 0.9
FEWEST: Final = 4
"""So many of the thirty meshes must agree. Profiles and bent heads: 4-20; hands: up to 4, which is
why a person's body must say that a head is there."""
ALIKE: Final = 0.12
"""Meshes that lie this near to each other agree, in heights of the mesh."""
_KEYS: Final = (*PUPILS, 1, CHIN, 13, 33, 263)
"""Pupils, nose, chin, lips and outer corners of the eyes: what is compared."""
_TOP: Final = 10


def agreed(engine: Engine, pyramid: Pyramid, seen: Sighting) -> Face | None:
    """The face at a sighting that most meshes agree on; None when too few do.

    Its ``spread`` is how far their pupils lie apart, in heights of the mesh; ``assurance`` is 0.
    """
    meshes, presences = [], []
    for angle, times, shift in product(_ANGLES, _SIDES, _SHIFTS):
        piece = pyramid.piece(
            (seen.x + shift * seen.side, seen.y),
            2 * times * seen.side,
            angle_deg=angle,
            outside=cv2.BORDER_REPLICATE,
        )
        points, presence = engine.mesh(piece.pixels, (LOOK / 2, LOOK / 2), _REGION)
        if presence >= LEAST_PRESENCE:
            meshes.append(
                np.column_stack([piece.to_master(points[:, :2]), points[:, 2] / piece.scale])
            )
            presences.append(presence)
    if len(meshes) < FEWEST:
        return None
    return _middle_of(np.array(meshes), float(np.median(presences)))


def _middle_of(meshes: Points, presence: float) -> Face | None:
    """The mean of the largest group of meshes, (n, 478, 3), that lie near one of them."""
    keys = meshes[:, list(_KEYS), :2]
    apart = np.linalg.norm(keys[:, None] - keys[None], axis=3).mean(axis=2)
    height = float(np.median(np.linalg.norm(meshes[:, _TOP, :2] - meshes[:, CHIN, :2], axis=1)))
    near = apart < ALIKE * height
    centre = max(range(len(meshes)), key=lambda i: (int(near[i].sum()), -float(apart[i].sum())))
    group = meshes[near[centre]]
    if len(group) < FEWEST:
        return None
    points: Points = group.mean(axis=0)
    pupils = group[:, list(PUPILS), :2]
    wander = pupils - pupils.mean(axis=0)
    spread = float(np.sqrt((wander**2).sum(axis=2).mean())) / height
    angle = _level(points)
    return Face(points, angle, presence, 0.0, spread)


def _level(points: Points) -> float:
    """What levels the face: from chin to forehead, since in profile both eyes lie in one place."""
    return slope_deg(points[CHIN, :2], points[_TOP, :2]) + 90.0
