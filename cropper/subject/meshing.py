"""From a sighting to a confirmed face: levelled, meshed, and looked at from all four sides.

The mesh invents a face wherever it is pointed, and a face upside down comes back with *wrong*
eyes rather than none. So a face counts only when the mesh believes in it **and** the detectors
see it again in the levelled piece, and the quarter turn they like best is the one taken.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np

from cropper.subject.detecting import Sighting, in_master
from cropper.subject.engine import FULL, SHORT, Detection, Engine, slope_deg
from cropper.subject.engine_points import Points
from cropper.subject.pyramid import LOOK, Piece, Pyramid

PUPILS: Final = (468, 473)
"""Iris centres; the first is the one on the left of a level picture."""
CHIN: Final = 152
_OUTLINE = 468
_ROOM: Final = 2.0
"""Side of the piece in sides of the face."""
_REGION: Final = 0.75 * LOOK
"""Of the piece, what the mesh is shown: 1.5 faces, as it was trained."""
_RETRIES: Final = (1.0, 1.3, 0.8)
ASSURED: Final = 1.3
"""Both detectors on the levelled piece, summed: faces 1.39-1.86 plain, dark, blurred, in
spectacles or turned; everything else at most .87 (design/finding)."""
SURE_PRESENCE: Final = 0.9
LEAST_PRESENCE: Final = 0.5
_LEVEL_DEG: Final = 3.0
_AGREED_DEG: Final = 18.0
"""Mesh and detector may differ by this much about what is level (house; on level faces 6)."""
_STRAY: Final = 0.6
"""The mesh's middle may lie this far (in sides) from the sighting's."""


@dataclass(frozen=True, slots=True)
class Face:
    """A meshed face: 478 points (x, y, depth) in master px, and how sure we are of it.

    ``angle_deg`` is what levels it; ``assurance`` is what the two detectors say of the levelled
    piece, summed (0..2); ``presence`` what the mesh says (0..1); ``spread`` how far the pupils
    wander when the region is shifted, in distances between the eyes. ``ambiguous``: the detectors
    like another quarter turn better, and the mesh would not follow.
    """

    points: Points
    angle_deg: float
    presence: float
    assurance: float
    spread: float
    ambiguous: bool = False

    @property
    def sure(self) -> bool:
        """Whether detectors and mesh agree that this is a face, and which way up."""
        return self.assurance >= ASSURED and self.presence >= SURE_PRESENCE and not self.ambiguous

    @property
    def middle(self) -> tuple[float, float]:
        """Middle of the mesh's outline, master px."""
        outline = self.points[:_OUTLINE, :2]
        centre = (outline.min(axis=0) + outline.max(axis=0)) / 2
        return float(centre[0]), float(centre[1])

    @property
    def side(self) -> float:
        """The longer side of the outline, levelled, master px."""
        turn = math.radians(self.angle_deg)
        level = self.points[:_OUTLINE, :2] @ np.array(
            [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
        )
        return float((level.max(axis=0) - level.min(axis=0)).max())

    @property
    def pupils(self) -> Points:
        """The two pupils, (2, 2): first the one on the left of the levelled face."""
        return self.points[list(PUPILS), :2]


def _piece(pyramid: Pyramid, x: float, y: float, side: float, angle_deg: float) -> Piece:
    return pyramid.piece((x, y), side * _ROOM, angle_deg=angle_deg, outside=cv2.BORDER_REPLICATE)


def _back(piece: Piece, points: Points) -> Points:
    """Mesh points of a piece in master px, depth scaled along."""
    return np.column_stack([piece.to_master(points[:, :2]), points[:, 2] / piece.scale])


def _meshed(engine: Engine, pyramid: Pyramid, seen: Sighting) -> Face | None:
    """The mesh in the sighting's piece, at three sizes of region; None if it never believes."""
    for times in _RETRIES:
        piece = _piece(pyramid, seen.x, seen.y, seen.side * times, seen.angle_deg)
        points, presence = engine.mesh(piece.pixels, (LOOK / 2, LOOK / 2), _REGION)
        if presence < LEAST_PRESENCE:
            continue
        found = _back(piece, points)
        angle = slope_deg(found[PUPILS[0]], found[PUPILS[1]])
        face = Face(found, angle, presence, 0.0, 0.0)
        if math.dist(face.middle, (seen.x, seen.y)) <= _STRAY * seen.side:
            return face
    return None


def _refined(engine: Engine, pyramid: Pyramid, face: Face) -> Face:
    """Meshed again in its own levelled piece: straight, mirrored, and with the region shifted.

    The points are the median of the straight looks; the pupils also average the mirrored one,
    which removes the mesh's own leaning to one side.
    """
    piece = _piece(pyramid, *face.middle, face.side, face.angle_deg)
    half = LOOK / 2
    looks, presences = [], []
    for shift_x, shift_y, size in ((0.0, 0.0, 1.0), (0.04, 0.03, 1.06), (-0.04, -0.03, 0.95)):
        points, presence = engine.mesh(
            piece.pixels, (half + shift_x * LOOK, half + shift_y * LOOK), _REGION * size
        )
        looks.append(points)
        presences.append(presence)
    mirrored, _ = engine.mesh(np.ascontiguousarray(piece.pixels[:, ::-1]), (half, half), _REGION)
    mirrored[:, 0] = LOOK - mirrored[:, 0]
    points = np.median(np.array(looks), axis=0)
    pupils = np.array([*(look[list(PUPILS)] for look in looks), mirrored[[PUPILS[1], PUPILS[0]]]])
    points[list(PUPILS)] = pupils.mean(axis=0)
    between = max(1.0, float(np.linalg.norm(points[PUPILS[1], :2] - points[PUPILS[0], :2])))
    wander = pupils[:, :, :2] - pupils[:, :, :2].mean(axis=0)
    spread = float(np.sqrt((wander**2).sum(axis=2).mean())) / between
    found = _back(piece, points)
    angle = slope_deg(found[PUPILS[0]], found[PUPILS[1]])
    return Face(found, angle, float(np.median(presences)), 0.0, spread)


def _levelled_out(engine: Engine, pyramid: Pyramid, face: Face) -> Face:
    """Refined until the piece it was refined in was level: a slanted one misplaces the eyes."""
    for _ in range(3):
        refined = _refined(engine, pyramid, face)
        change = abs((refined.angle_deg - face.angle_deg + 180) % 360 - 180)
        face = refined
        if change <= _LEVEL_DEG:
            break
    return face


def _liked(engine: Engine, piece: Piece) -> tuple[float, Detection | None]:
    """The detectors' scores for the face in the middle of a piece, summed, and the better one."""
    near = [
        max(
            (
                found
                for found in engine.detect(piece.pixels, which)
                if math.dist(found.middle, (LOOK / 2, LOOK / 2)) < LOOK / 4
                and LOOK / 5 < found.side < LOOK
            ),
            key=lambda found: found.score,
            default=None,
        )
        for which in (SHORT, FULL)
    ]
    seen = [found for found in near if found is not None]
    total = sum(found.score for found in seen)
    return total, max(seen, key=lambda found: found.score, default=None)


def _looked_round(engine: Engine, pyramid: Pyramid, face: Face) -> tuple[float, Sighting | None]:
    """How much the detectors like the levelled face, and the sighting in a turn they like better.

    The sighting is None when no turn is better than the face as it stands.
    """
    pieces = [
        _piece(pyramid, *face.middle, face.side, face.angle_deg + turn)
        for turn in (0, 90, 180, 270)
    ]
    liked = [_liked(engine, piece) for piece in pieces]
    winner = max(range(4), key=lambda quarter: (liked[quarter][0], -quarter))
    found = liked[winner][1]
    level = found is None or abs(slope_deg(found.eyes[0], found.eyes[1])) <= _AGREED_DEG
    if found is None or (winner == 0 and level):
        return liked[0][0], None
    return liked[0][0], in_master(pieces[winner], found)


def confirmed(engine: Engine, pyramid: Pyramid, seen: Sighting) -> Face | None:
    """The face at a sighting in its best orientation; None when the mesh does not believe in it.

    How sure: see ``assurance``; the caller decides what that is enough for.
    """
    face = _meshed(engine, pyramid, seen)
    settled = None
    for _ in range(3):
        if face is None:
            return settled
        face = _levelled_out(engine, pyramid, face)
        assurance, better = _looked_round(engine, pyramid, face)
        settled = replace(face, assurance=assurance, ambiguous=better is not None)
        if better is None:
            return settled
        face = _meshed(engine, pyramid, better)
    return settled
