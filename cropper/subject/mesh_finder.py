"""The shipped finder: detectors over a pyramid, a mesh that confirms, a mask for the hair.

Order of looking: ordinary sizes; on normalised grey when nobody or somebody doubtful was found;
between the quarter turns; four times deeper when asked or nothing found; eight times when asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Final

import cv2
import numpy as np

from cropper.geometry import Point, Size
from cropper.subject import detecting, turn
from cropper.subject.crown import axes_of, head_of
from cropper.subject.detecting import Sighting
from cropper.subject.engine import Engine, engine
from cropper.subject.engine_points import Points
from cropper.subject.finders import Pixels
from cropper.subject.glimpsed import STRONG_SIGHTING, glimpsed
from cropper.subject.joints import joints_of
from cropper.subject.meshing import LEAST_PRESENCE, Face, confirmed
from cropper.subject.principal import question, ranked
from cropper.subject.pupils import pupils_of
from cropper.subject.pyramid import Piece, Pyramid
from cropper.subject.subject import EyesState, Finding, Origin, Subject

ASSURED: Final = 1.3
"""Both detectors on the levelled piece, summed: faces 1.39-1.86 plain, dark, blurred, in
spectacles or turned; everything else at most .87 (design/finding)."""
DOUBTFUL: Final = 0.74
"""One detector alone: a covered face or a profile, or nothing at all. Kept only when the sighting
was strong, and then called estimated."""
SURE_PRESENCE: Final = 0.9
HEAD_OVER: Final = 120.0
"""Tilt beyond which a face stands on its head: eyes are reported, and called estimated."""
IRIS: Final = 0.09
"""Radius of the iris in distances between the eyes (11.7 mm across, of 63 mm)."""
EYE_SIGMA: Final = 0.0125
"""One standard deviation of a pupil, in distances between the eyes (calibrated)."""
ESTIMATED_EYE_SIGMA: Final = 0.12
"""The same where something hides the eyes: .04-.22 measured under bars, cloth and dark glasses."""
_MIN_FACE_PX: Final = 8.0


class MeshFinder:
    """Finds eyes and heads with the native engine, one set of it per thread."""

    name = "mesh"

    def find(self, pixels: Pixels, *, small_faces: bool = False) -> Finding:
        """Everybody in ``pixels`` (rows, columns, 3; uint8 sRGB, upright), in its coordinates."""
        if pixels.shape[2:] != (3,) or pixels.dtype != np.uint8:
            message = f"a finder needs 8-bit RGB, (rows, columns, 3), not {pixels.shape}"
            raise ValueError(message)
        size = Size(pixels.shape[1], pixels.shape[0])
        pyramid = Pyramid(pixels)
        native = engine()
        seen = detecting.ordinary(native, pyramid)
        faces = _faces(native, pyramid, seen, small_faces=small_faces)
        people = [_subject(native, pyramid, face, faces) for face in faces]
        people += glimpsed(seen, people, size, partial(_sharpness_at, pyramid))
        subjects = ranked(people, size)
        return Finding(size=size, subjects=subjects, problem=question(subjects), finder=self.name)


def _sure(face: Face) -> bool:
    return face.assurance >= ASSURED and face.presence >= SURE_PRESENCE and not face.ambiguous


def _possible(face: Face, seen: Sighting) -> bool:
    """Worth reporting at all: sure, or doubtful after a strong sighting."""
    if face.side < _MIN_FACE_PX or face.presence < LEAST_PRESENCE:
        return False
    if face.assurance >= ASSURED:
        return True
    return (
        face.assurance >= DOUBTFUL
        and seen.score >= STRONG_SIGHTING
        and face.presence >= SURE_PRESENCE
        and not face.ambiguous
    )


def _same(one: Face, other: Face) -> bool:
    """Whether two meshes lie on one face."""
    near = math.dist(one.middle, other.middle)
    return near < 0.5 * max(one.side, other.side)


def _added(faces: list[Face], found: Iterable[Face]) -> list[Face]:
    """One mesh per face, the most assured of each."""
    kept: list[Face] = []
    for face in sorted([*faces, *found], key=lambda f: (-f.assurance, f.middle)):
        if not any(_same(face, other) for other in kept):
            kept.append(face)
    return kept


def _confirmed(
    native: Engine, pyramid: Pyramid, seen: Iterable[Sighting], known: Sequence[Face]
) -> list[Face]:
    """Faces at sightings that are not known yet."""
    found = []
    for sighting in seen:
        if any(
            math.dist(face.middle, (sighting.x, sighting.y)) < 0.35 * face.side
            for face in known
            if _sure(face)
        ):
            continue
        face = confirmed(native, pyramid, sighting)
        if face is not None and _possible(face, sighting):
            found.append(face)
    return found


def _faces(
    native: Engine, pyramid: Pyramid, seen: Sequence[Sighting], *, small_faces: bool
) -> list[Face]:
    """Looks at what was ``seen``, then further and further, until somebody is surely found."""
    faces = _added([], _confirmed(native, pyramid, seen, ()))
    if not any(_sure(face) for face in faces):
        faces = _harder(native, pyramid, faces)
    if small_faces or not faces:
        depths: tuple[int, ...] = (4, 8) if small_faces else (4,)
        for times in depths:
            small = detecting.deeper(native, pyramid, times)
            faces = _added(faces, _confirmed(native, pyramid, small, faces))
    steady = [_steadied(native, pyramid, face) for face in faces]
    return sorted(steady, key=lambda face: face.middle)


def _steadied(native: Engine, pyramid: Pyramid, face: Face) -> Face:
    """A face whose pupils wander, meshed on normalised grey as well; the steady one is taken.

    In the light of one colour the mesh sees too little; something over the eyes stays unsteady.
    """
    if face.spread <= turn.WANDERING_PALE:
        return face
    seen = Sighting(*face.middle, face.side, face.angle_deg, 1.0)
    other = confirmed(native, pyramid.in_grey, seen)
    if other is None or not _sure(other) or not _same(face, other):
        return face
    return other if other.spread <= turn.WANDERING_PALE else face


def _harder(native: Engine, pyramid: Pyramid, faces: list[Face]) -> list[Face]:
    """On normalised grey, in quarter-turned tiles, then between the quarter turns."""
    grey = pyramid.in_grey
    looks: tuple[tuple[Pyramid, Callable[[Engine, Pyramid], list[Sighting]]], ...] = (
        (grey, detecting.ordinary),
        (pyramid, detecting.lying),
        (pyramid, detecting.slanted),
        (grey, detecting.slanted),
    )
    for pictures, look in looks:
        faces = _added(faces, _confirmed(native, pictures, look(native, pictures), faces))
        if any(_sure(face) for face in faces):
            break
    return faces


def _at_edge(face: Face, size: Size) -> bool:
    """Whether the picture's edge cuts an iris, or leaves a whole eye to be invented."""
    spare = IRIS * float(np.linalg.norm(face.pupils[1] - face.pupils[0]))
    limits = np.array([size.width, size.height]) - spare
    return bool((face.pupils < spare).any() or (face.pupils > limits).any())


def _doubt(face: Face, state: EyesState, size: Size) -> str:
    """Why the eyes must be called estimated; empty when they need not."""
    reasons = (
        (_at_edge(face, size), "the picture's edge cuts an eye off"),
        (turn.in_profile(face), "the face is in profile"),
        (state is EyesState.COVERED, "the eyes are covered, nearly shut, or too soft to tell"),
        (abs(face.angle_deg) > HEAD_OVER, "the face stands on its head"),
        (face.ambiguous, "it is unclear which way up the face is"),
        (not _sure(face), "the face could not be confirmed"),
    )
    return next((reason for true, reason in reasons if true), "")


def _sharpness(piece: Piece, outline: Points) -> float:
    """Variance of the Laplacian over the face at a fixed size, over the variance of its light."""
    points = piece.from_master(outline)
    low = np.clip(points.min(axis=0), 0, len(piece.pixels) - 2).astype(int)
    high = np.clip(points.max(axis=0), low + 2, len(piece.pixels)).astype(int)
    light = cv2.cvtColor(piece.pixels, cv2.COLOR_RGB2GRAY)[low[1] : high[1], low[0] : high[0]]
    edges = cv2.Laplacian(light.astype(np.float64), cv2.CV_64F)
    return float(edges.var() / max(1.0, float(light.var())))


def _sharpness_at(pyramid: Pyramid, seen: Sighting) -> float:
    """The same over a sighting's square."""
    piece = pyramid.piece((seen.x, seen.y), 2 * seen.side, outside=cv2.BORDER_REPLICATE)
    corners = np.array([[-0.5, -0.5], [0.5, 0.5]]) * seen.side + np.array([seen.x, seen.y])
    return round(_sharpness(piece, corners), 4)


def _subject(native: Engine, pyramid: Pyramid, face: Face, faces: Sequence[Face]) -> Subject:
    """One face made into a person."""
    others = [other for other in faces if other is not face]
    head = head_of(native, pyramid, face, others)
    piece = pyramid.piece(
        face.middle, 2 * face.side, angle_deg=face.angle_deg, outside=cv2.BORDER_REPLICATE
    )
    state = turn.eyes_state(face, piece)
    doubt = _doubt(face, state, Size(pyramid.width, pyramid.height))
    pupils = pupils_of(native, pyramid, face) if state is EyesState.OPEN else face.pupils
    eyes = sorted(
        (Point(round(float(x), 2), round(float(y), 2)) for x, y in pupils),
        key=lambda eye: (eye.x, eye.y),
    )
    between = eyes[0].to(eyes[1])
    return Subject(
        left_eye=eyes[0],
        right_eye=eyes[1],
        eye_sigma_px=round((ESTIMATED_EYE_SIGMA if doubt else EYE_SIGMA) * between + 0.3, 2),
        chin=head.chin,
        skull_top=head.skull_top,
        hair_top=head.hair_top,
        hairline=head.hairline,
        brows=head.brows,
        crown_in_frame=head.crown_in_frame,
        head_box=head.head_box,
        turn=round(turn.turn_of(face), 3),
        pitch=round(turn.pitch_of(face), 1),
        eyes_from=Origin.ESTIMATED if doubt else Origin.FOUND,
        eyes_state=state,
        openness=round(float(np.mean(turn.openness_of(face))), 3),
        score=round(min(1.0, face.assurance / 2) * face.presence, 3),
        sharpness=round(_sharpness(piece, face.points[:468, :2]), 4),
        doubt=doubt,
        joints=joints_of(native, pyramid, face, 2 * axes_of(face).reach),
    )
