"""What the mesh says of a face's pose and eyes: turn, pitch, lids, and whether eyes show at all."""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from cropper.subject.engine_points import Points
from cropper.subject.meshing import Face
from cropper.subject.pyramid import Piece
from cropper.subject.subject import EyesState

_NOSE, _CHEEK_LEFT, _CHEEK_RIGHT, _TOP, _CHIN = 1, 234, 454, 10, 152
_LIDS: Final = (
    ((33, 133), ((160, 144), (159, 145), (158, 153))),
    ((362, 263), ((385, 380), (386, 374), (387, 373))),
)
"""Per eye: its corners, and pairs of upper and lower lid."""
CLOSED_BELOW: Final = 0.12
"""Both eyes' openness below this: closed (house, from 35 photographs marked by hand)."""
PROFILE: Final = 0.9
"""Nose to cheeks beyond this: one eye is out of sight (house; .66 at 30 degrees of yaw)."""
PROFILE_WANDERING: Final = 0.03
"""Of such a face's pupils: less, and both eyes are seen (.008 on a face whose nose covers its
cheek, .035-.47 on profiles)."""
FAR_TURN_DEG: Final = 44.0
"""By the depth of the mesh: beyond it one eye is out of sight (profiles 46-57, and turned heads
that show both eyes up to 40)."""
TURN_OVER_DEPTH: Final = 1.25
"""The mesh is flatter than heads are: 8, 16, 20 and 30 degrees of rendered heads come out as 9,
11, 17 and 23."""
WANDERING: Final = 0.017
"""Spread of the pupils over shifted regions, in distances between them: plain .002-.009, blurred
or tiny up to .014, covered .011-.10 (design/finding)."""
WANDERING_PALE: Final = 0.0105
"""The same, enough when the eye also lacks contrast."""
PALE: Final = 0.155
"""White over iris, of the cheek's lightness: plain .40 and more, blurred .09, covered 0-.2."""
FLAT: Final = 0.03
"""Unevenness of the eye, of the cheek's lightness: plain .17 and more, blurred .05, bars 0."""
_LEAST_LIGHT: Final = 20.0
"""Of 255: what differs by less than a part of this is noise (house)."""
_FEWEST_PIXELS = 5
_CHEEK_A: Final = [50, 101, 205, 207, 187, 123]
_CHEEK_B: Final = [280, 330, 425, 427, 411, 352]
_EYES: Final = (
    (
        [33, 246, 161, 160, 159, 158, 157, 173, 133, 155, 154, 153, 145, 144, 163, 7],
        [469, 470, 471, 472],
    ),
    (
        [362, 398, 384, 385, 386, 387, 388, 466, 263, 249, 390, 373, 374, 380, 381, 382],
        [474, 475, 476, 477],
    ),
)
"""Per eye: the rim of the lids, and the rim of the iris."""


def levelled(face: Face) -> Points:
    """The mesh turned so that the eye line is level; depth kept."""
    turn = math.radians(face.angle_deg)
    level = face.points.copy()
    level[:, :2] = face.points[:, :2] @ np.array(
        [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
    )
    return level


def nose_to_cheeks(level: Points) -> float:
    """Signed -1..1: how much nearer the nose stands to one cheek; + to the face's right-hand one.

    Measured in levelled coordinates. A pose solved from points would read 45 degrees for frontal
    faces at the edge of a wide group; the ratio does not.
    """
    left = float(level[_NOSE, 0] - level[_CHEEK_LEFT, 0])
    right = float(level[_CHEEK_RIGHT, 0] - level[_NOSE, 0])
    across = max(1e-6, abs(left) + abs(right))
    return max(-1.0, min(1.0, (left - right) / across))


def in_profile(face: Face) -> bool:
    """Whether the face is turned so far that the mesh must invent the further eye."""
    level = levelled(face)
    if abs(_depth_turn(level)) > FAR_TURN_DEG:
        return True
    return abs(nose_to_cheeks(level)) > PROFILE and face.spread > PROFILE_WANDERING


def _depth_turn(level: Points) -> float:
    """How far the line between the cheeks leads into the picture, degrees."""
    across = level[_CHEEK_RIGHT] - level[_CHEEK_LEFT]
    return math.degrees(math.atan2(float(across[2]), float(across[0])))


def turn_deg_of(face: Face) -> float:
    """Degrees by which the face looks to the picture's right (left: negative), -90..90."""
    right_way = 1.0 if math.cos(math.radians(face.angle_deg)) >= 0 else -1.0
    return right_way * max(-90.0, min(90.0, TURN_OVER_DEPTH * _depth_turn(levelled(face))))


def turn_of(face: Face) -> float:
    """Which side of the PICTURE the face looks to, -1..1; one on its head looks the other way."""
    ratio = nose_to_cheeks(levelled(face))
    return ratio * (1.0 if math.cos(math.radians(face.angle_deg)) >= 0 else -1.0)


def pitch_of(face: Face) -> float:
    """Hint, degrees, positive looks up: the slope of the mesh from chin to forehead in depth."""
    level = levelled(face)
    rise = float(level[_CHIN, 1] - level[_TOP, 1])
    return math.degrees(math.atan2(float(level[_TOP, 2] - level[_CHIN, 2]), max(1e-6, rise)))


def openness_of(face: Face) -> tuple[float, float]:
    """Lid distance over eye width, per eye; about .25-.35 open."""
    opened = []
    for (inner, outer), lids in _LIDS:
        width = max(1e-6, float(np.linalg.norm(face.points[inner, :2] - face.points[outer, :2])))
        gaps = [np.linalg.norm(face.points[up, :2] - face.points[low, :2]) for up, low in lids]
        opened.append(float(np.mean(gaps)) / width)
    return opened[0], opened[1]


def _inside(points: Points, size: int) -> NDArray[np.bool_]:
    """The pixels inside the outline of some points."""
    mask = np.zeros((size, size), np.uint8)
    hull = np.asarray(cv2.convexHull(np.round(points).astype(np.int32)), np.int32)
    cv2.fillConvexPoly(mask, hull, (255,))
    return mask > 0


def _eye_looks(light: NDArray[np.float64], points: Points) -> tuple[float, float]:
    """White of the eye over iris, and how uneven the flatter eye is, over the cheek's lightness.

    Lightness counts from the darkest of the piece: haze and light into the lens lift everything.
    """
    size = len(light)
    darkest = float(np.percentile(light, 1))
    cheeks = np.median(light[_inside(points[_CHEEK_A], size) | _inside(points[_CHEEK_B], size)])
    contrasts, textures = [], []
    for ring, rim in _EYES:
        opening, iris = _inside(points[ring], size), _inside(points[rim], size)
        white = opening & ~iris
        if min(white.sum(), iris.sum()) < _FEWEST_PIXELS:
            continue
        contrasts.append(np.percentile(light[white], 70) - np.percentile(light[iris], 30))
        textures.append(light[opening].std())
    if not contrasts:
        return 1.0, 1.0
    scale = max(_LEAST_LIGHT, float(cheeks) - darkest)
    return float(np.mean(contrasts)) / scale, float(min(textures)) / scale


def hidden(face: Face, piece: Piece) -> bool:
    """Whether something lies over the eyes, so that the mesh invented them.

    ``piece`` is the levelled piece of the face. Real pupils stay put when the mesh is shown a
    shifted region, invented ones wander; and an eye has a white and a dark. Measured with bars,
    dark glasses, cloth and brims painted over 16 faces, against the same faces plain, dark,
    blurred and with clear spectacles (design/finding).
    """
    light = cv2.cvtColor(piece.pixels, cv2.COLOR_RGB2LAB)[:, :, 0].astype(np.float64)
    contrast, texture = _eye_looks(light, piece.from_master(face.points[:, :2]))
    if face.spread > WANDERING or texture < FLAT:
        return True
    return face.spread > WANDERING_PALE and contrast < PALE


def eyes_state(face: Face, piece: Piece) -> EyesState:
    """Open, closed or covered."""
    if max(openness_of(face)) < CLOSED_BELOW:
        return EyesState.CLOSED
    covered = hidden(face, piece) and not in_profile(face)
    return EyesState.COVERED if covered else EyesState.OPEN
