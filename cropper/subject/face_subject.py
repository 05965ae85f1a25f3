"""One face made into a person: pupils, head, lids, turn, joints, and whether the eyes are sure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np

from cropper.geometry import Point, Size
from cropper.subject import turn
from cropper.subject.crown import axes_of, head_of
from cropper.subject.detecting import Sighting
from cropper.subject.engine import Engine
from cropper.subject.engine_points import Points
from cropper.subject.eyes import details_of, expression_of, visible_in_profile
from cropper.subject.joints import joints_of
from cropper.subject.meshing import ASSURED, Face
from cropper.subject.proportions import BETWEEN_EYES, CHIN_BELOW_EYES
from cropper.subject.pupils import covered_pupils, pupils_of
from cropper.subject.pyramid import Piece, Pyramid
from cropper.subject.subject import EyeDetail, EyesState, Origin, Subject

HEAD_OVER: Final = 120.0
"""Tilt beyond which a face stands on its head: eyes are reported, and called estimated."""
IRIS: Final = 0.09
"""Radius of the iris in distances between the eyes (11.7 mm across, of 63 mm)."""
EYE_SIGMA: Final = 0.0125
"""One standard deviation of a pupil, in distances between the eyes (calibrated)."""
ESTIMATED_EYE_SIGMA: Final = 0.085
"""The same where something hides the eyes: .04-.22 measured under bars, cloth and dark glasses."""
PROFILE_SIGMAS: Final = (0.02, 0.09)
"""The same of a profile's visible and hidden eye, in heads."""
DETECTORS_BELOW: Final = 0.5
"""Turned less than this, the detectors place covered eyes better than the mesh does."""


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
        (not face.sure, "the face could not be confirmed"),
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


def sharpness_at(pyramid: Pyramid, seen: Sighting) -> float:
    """The same over a sighting's square."""
    piece = pyramid.piece((seen.x, seen.y), 2 * seen.side, outside=cv2.BORDER_REPLICATE)
    corners = np.array([[-0.5, -0.5], [0.5, 0.5]]) * seen.side + np.array([seen.x, seen.y])
    return round(_sharpness(piece, corners), 4)


def _pupils(native: Engine, pyramid: Pyramid, face: Face, state: EyesState) -> Points:
    """The pupils, as well as they can be known in this state."""
    if state is EyesState.OPEN and not turn.in_profile(face):
        return pupils_of(native, pyramid, face)
    turned = abs(turn.turn_of(face)) >= DETECTORS_BELOW
    if state is EyesState.COVERED and face.assurance >= ASSURED and not turned:
        return covered_pupils(native, pyramid, face)
    return face.pupils


def _point(at: Points) -> Point:
    return Point(round(float(at[0]), 2), round(float(at[1]), 2))


def _sigmas(face: Face, apart: float, head_px: float, *, doubtful: bool) -> tuple[float, float]:
    """One standard deviation of each pupil in master px, the one on the levelled left first."""
    shown = visible_in_profile(face)
    if shown is not None:
        near, far = (max(one, face.spread * 0.5) * head_px for one in PROFILE_SIGMAS)
        return (near, far) if shown == 0 else (far, near)
    if doubtful:
        apart = max(apart, 0.5 * BETWEEN_EYES * head_px)
    sigma = (ESTIMATED_EYE_SIGMA if doubtful else EYE_SIGMA) * apart + 0.3
    return sigma, sigma


def _state_of(state: EyesState, details: tuple[EyeDetail, EyeDetail]) -> EyesState:
    """Of both eyes together: nearly shut where no eye that shows is more open."""
    seen = {one.state for one in details if one.state is not EyesState.HIDDEN}
    if state is EyesState.OPEN and seen <= {EyesState.HALF, EyesState.CLOSED}:
        return EyesState.HALF
    return state


def subject_of(native: Engine, pyramid: Pyramid, face: Face, faces: Sequence[Face]) -> Subject:
    """One face made into a person."""
    others = [other for other in faces if other is not face]
    head = head_of(native, pyramid, face, others)
    piece = pyramid.piece(
        face.middle, 2 * face.side, angle_deg=face.angle_deg, outside=cv2.BORDER_REPLICATE
    )
    state = turn.eyes_state(face, piece)
    doubt = _doubt(face, state, Size(pyramid.width, pyramid.height))
    pupils = _pupils(native, pyramid, face, state)
    apart = float(np.linalg.norm(pupils[1] - pupils[0]))
    head_px = axes_of(face).reach / CHIN_BELOW_EYES
    sigmas = _sigmas(face, apart, head_px, doubtful=bool(doubt))
    expression = expression_of(native, piece, face)
    details = details_of(pyramid, face, pupils, state=state, expression=expression, sigmas=sigmas)
    left, right = sorted(
        zip((_point(one) for one in pupils), details, strict=True),
        key=lambda eye: (eye[0].x, eye[0].y),
    )
    return Subject(
        left_eye=left[0],
        right_eye=right[0],
        left_detail=left[1],
        right_detail=right[1],
        eye_sigma_px=round(float(np.mean(sigmas)), 2),
        chin=head.chin,
        skull_top=head.skull_top,
        hair_top=head.hair_top,
        hairline=head.hairline,
        brows=head.brows,
        crown_in_frame=head.crown_in_frame,
        head_box=head.head_box,
        turn=round(turn.turn_of(face), 3),
        turn_deg=round(turn.turn_deg_of(face), 1),
        gaze=None if state is not EyesState.OPEN else expression.gaze,
        mouth_open=expression.mouth_open,
        pitch=round(turn.pitch_of(face), 1),
        eyes_from=Origin.ESTIMATED if doubt else Origin.FOUND,
        eyes_state=_state_of(state, details),
        openness=round(float(np.mean(turn.openness_of(face))), 3),
        score=round(min(1.0, face.assurance / 2) * face.presence, 3),
        sharpness=round(_sharpness(piece, face.points[:468, :2]), 4),
        doubt=doubt,
        joints=joints_of(native, pyramid, face, 2 * axes_of(face).reach),
    )
