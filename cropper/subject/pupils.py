"""The pupils, looked at more closely than the mesh does: the iris network's word beside it.

The mesh sees the whole face and errs little anywhere; the iris network sees one eye and errs less,
but now and then it takes something else for an iris. So its median over regions of several sizes,
straight and mirrored, counts for more, and the less the further it leads away from the mesh.
"""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np

from cropper.subject.engine import FULL, SHORT, Engine
from cropper.subject.engine_points import Points
from cropper.subject.finders import Pixels
from cropper.subject.meshing import Face
from cropper.subject.proportions import up_from
from cropper.subject.pyramid import LOOK, Pyramid

REGIONS: Final = (2.3, 2.8, 3.3)
"""Sides of what the iris network is shown, in eye widths: their mean errs less than any alone
(.010 / .029 of the eyes' distance, median and p95, on 40 real portraits; alone .011 / .041)."""
MESH_SHARE: Final = 0.3
"""How much the mesh counts where both agree."""
AGREED: Final = 0.02
"""Further apart than this, in distances between the eyes, the mesh counts for more."""
PUPIL_OVER_IRIS: Final = 0.003
"""The upper lid covers part of the iris, so the pupil stands a little above the middle of what
shows, in distances between the eyes (the mesh alone lies .0065 low, the iris network .002)."""
COVERED_REGIONS: Final = (1.4, 1.7, 2.0)
"""Sides of what the detectors are shown of a face whose eyes are covered, in sides of the face."""
COVERED_MESH_SHARE: Final = 0.5
"""How much the mesh counts then."""
_LEFT_CORNERS: Final = (33, 133)
_RIGHT_CORNERS: Final = (263, 362)
"""Outer and inner corner of the eye on our left, of the one on our right."""


def _looked_at(engine: Engine, picture: Pixels, points: Points) -> Points:
    """The irises' middles in a piece, (2, 2), as a mean over the regions and over both sides."""
    mirrored = np.ascontiguousarray(picture[:, ::-1])
    corners = np.array([points[list(pair), :2] for pair in (_LEFT_CORNERS, _RIGHT_CORNERS)])
    swapped = corners[::-1].copy()
    swapped[:, :, 0] = LOOK - swapped[:, :, 0]
    looks = []
    for region in REGIONS:
        looks.append(engine.irises(picture, corners, region))
        other = engine.irises(mirrored, swapped, region)[::-1]
        other[:, 0] = LOOK - other[:, 0]
        looks.append(other)
    mean: Points = np.mean(looks, axis=0)
    return mean


def pupils_of(engine: Engine, pyramid: Pyramid, face: Face) -> Points:
    """The pupils of a face whose eyes are open, (2, 2), in master px; the one on our left first."""
    piece = pyramid.piece(
        face.middle, 2 * face.side, angle_deg=face.angle_deg, outside=cv2.BORDER_REPLICATE
    )
    irises = piece.to_master(
        _looked_at(engine, piece.pixels, piece.from_master(face.points[:, :2]))
    )
    between = float(np.linalg.norm(face.pupils[1] - face.pupils[0]))
    apart = np.linalg.norm(irises - face.pupils, axis=1) / max(1.0, between)
    share = 1 - (1 - MESH_SHARE) * np.minimum(1.0, AGREED / np.maximum(apart, 1e-9))
    mixed = share[:, None] * face.pupils + (1 - share[:, None]) * irises
    lifted: Points = mixed + up_from(mixed[0], mixed[1]) * (PUPIL_OVER_IRIS * between)
    return lifted


def covered_pupils(engine: Engine, pyramid: Pyramid, face: Face) -> Points:
    """Eyes behind something, (2, 2): what the detectors say counts for more than the mesh.

    The mesh invents irises behind dark glasses and lids; the detectors were made to place eyes
    from the whole face.
    """
    seen = []
    for times in COVERED_REGIONS:
        piece = pyramid.piece(
            face.middle, times * face.side, angle_deg=face.angle_deg, outside=cv2.BORDER_REPLICATE
        )
        for which in (SHORT, FULL):
            near = [
                one
                for one in engine.detect(piece.pixels, which)
                if math.dist(one.middle, (LOOK / 2, LOOK / 2)) < LOOK / 4
            ]
            if near:
                best = max(near, key=lambda one: one.score)
                seen.append(piece.to_master(best.eyes))
    if not seen:
        return face.pupils
    detected: Points = np.mean(seen, axis=0)
    mixed: Points = COVERED_MESH_SHARE * face.pupils + (1 - COVERED_MESH_SHARE) * detected
    return mixed
