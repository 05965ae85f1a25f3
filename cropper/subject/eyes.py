"""Each eye by itself: what its lids do, whether it shows, how sharp it is; gaze and mouth.

Lids, gaze and mouth are scores of the blendshape network held beside the mesh's own lids. How
blurred an eye is, is measured on the picture, not judged: whether it is sharp enough depends on
the size at which it is delivered.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from cropper.subject import turn
from cropper.subject.engine import Engine
from cropper.subject.engine_points import Points
from cropper.subject.meshing import Face
from cropper.subject.pyramid import Piece, Pyramid
from cropper.subject.subject import EyeDetail, EyesState

HALF_BELOW: Final = 0.18
"""Lids this near to each other, of the eye's width, are nearly shut (open eyes on forty portraits
.21-.46, one winking eye .11)."""
BLINK: Final = 0.45
"""The network's score from which lids count as nearly shut, if they are not wide apart (open eyes
.01-.33 on the same portraits, lowered ones .35-.55)."""
WIDE: Final = 0.28
REBLUR: Final = 1.0
"""The picture is blurred once more by this sigma, px; how much its edges lose tells how blurred
they were [zhuo2011]."""
DIFFERENCE_VARIANCE: Final = 1 / 3
"""What taking slopes over two pixels blurs by itself, px squared: a box of 2 px has 2**2 / 12."""
STRONGEST: Final = 95
"""Per cent: the edges above it are looked at; the others are skin."""
LEAST_EDGE: Final = 4.0
"""Weaker edges than this, in 8-bit codes per px, say nothing."""
LEAST_EYE_PX: Final = 12.0
"""Distance between the eyes below which no blur can be measured."""
_AROUND: Final = 0.28
"""Half the side of what is looked at about a pupil, in distances between the eyes."""


@dataclass(frozen=True, slots=True)
class Expression:
    """Lids of both eyes (the one on the left of the levelled face first), gaze and mouth.

    ``gaze`` is positive to the right of the upright picture; all are 0..1 or -1..1.
    """

    blinks: tuple[float, float]
    gaze: float
    mouth_open: float


def expression_of(engine: Engine, piece: Piece, face: Face) -> Expression:
    """What the blendshape network says of a face in its levelled piece."""
    points = face.points.copy()
    points[:, :2] = piece.from_master(face.points[:, :2])
    scores = engine.expression(points)
    rightwards = scores["in_right"] - scores["out_right"] + scores["out_left"] - scores["in_left"]
    upright = 1.0 if math.cos(math.radians(face.angle_deg)) >= 0 else -1.0
    return Expression(
        (round(scores["blink_right"], 3), round(scores["blink_left"], 3)),
        round(max(-1.0, min(1.0, upright * rightwards / 2)), 3),
        round(scores["jaw_open"], 3),
    )


def _state(openness: float, blink: float) -> tuple[EyesState, float]:
    """What one visible eye's lids do, and how sure that is."""
    if openness < turn.CLOSED_BELOW:
        return EyesState.CLOSED, round(max(0.5, blink), 3)
    if openness < HALF_BELOW or (blink > BLINK and openness < WIDE):
        return EyesState.HALF, round(max(0.5, blink), 3)
    return EyesState.OPEN, round(1 - blink, 3)


def visible_in_profile(face: Face) -> int | None:
    """Which eye shows in a profile: 0 the one on the left of the levelled face; None: both do."""
    if not turn.in_profile(face):
        return None
    return 0 if turn.nose_to_cheeks(turn.levelled(face)) > 0 else 1


def blur_px(pyramid: Pyramid, eye: Points, between_px: float) -> float | None:
    """How far an eye's edges are blurred, one standard deviation in px; None where it has none."""
    half = _AROUND * between_px
    low = np.maximum(np.floor(eye - half), 0).astype(int)
    high = np.ceil(eye + half).astype(int)
    part = pyramid.top[low[1] : high[1], low[0] : high[0]]
    if between_px < LEAST_EYE_PX or min(part.shape[:2]) < LEAST_EDGE:
        return None
    light = cv2.cvtColor(np.ascontiguousarray(part), cv2.COLOR_RGB2GRAY).astype(np.float64)
    again = np.asarray(cv2.GaussianBlur(light, (0, 0), REBLUR), np.float64)
    steep, less = _slopes(light), _slopes(again)
    strong = steep >= max(LEAST_EDGE, float(np.percentile(steep, STRONGEST)))
    if not strong.any():
        return None
    ratio = float(np.median(steep[strong] / np.maximum(less[strong], 1e-6)))
    variance = REBLUR**2 / max(1e-4, ratio**2 - 1) - DIFFERENCE_VARIANCE
    return round(math.sqrt(max(0.0, variance)), 2)


def _slopes(light: Points) -> Points:
    down, across = np.gradient(light)
    return np.asarray(np.hypot(down, across), np.float64)


def details_of(
    pyramid: Pyramid,
    face: Face,
    pupils: Points,
    *,
    state: EyesState,
    expression: Expression,
    sigmas: tuple[float, float],
) -> tuple[EyeDetail, EyeDetail]:
    """Both eyes, the one on the left of the levelled face first; ``sigmas`` in master px."""
    between = float(np.linalg.norm(pupils[1] - pupils[0]))
    shown = visible_in_profile(face)
    openness = turn.openness_of(face)
    made = []
    for index in (0, 1):
        if shown is not None and index != shown:
            made.append(
                EyeDetail(state=EyesState.HIDDEN, score=0.9, sigma_px=round(sigmas[index], 2))
            )
            continue
        lids, sure = _state(openness[index], expression.blinks[index])
        if state is EyesState.COVERED:
            lids, sure = EyesState.COVERED, 0.7
        made.append(
            EyeDetail(
                state=lids,
                score=sure,
                sigma_px=round(sigmas[index], 2),
                openness=round(openness[index], 3),
                blur_px=blur_px(pyramid, pupils[index], max(between, face.side / 3)),
            )
        )
    return made[0], made[1]
