"""The finding engine, one set per thread: face detectors, mesh, irises, person mask, body pose.

Everything that knows the networks' own layouts stands here; the networks run on LiteRT
(:mod:`cropper.subject.network`), their weights are told in :mod:`cropper.subject.weights`.

Points go in and out in pixels of the picture given, pixel-edge convention.
"""

from __future__ import annotations

import math
import os
import threading
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from cropper.subject.anchors import anchors, decoded, level_anchors
from cropper.subject.engine_points import Points
from cropper.subject.finders import Pixels
from cropper.subject.network import Network

SHORT, FULL = 0, 1
"""The two detectors: faces near the lens, and faces further away."""
LEAST_SCORE: Final = 0.5
"""No detection below this is told."""
_SHORT_LAYERS: Final = ((8, 2), (16, 6))
_FULL_LAYERS: Final = ((4, 1),)
_BODY_LAYERS: Final = ((8, 2), (16, 2), (32, 6))
MESH_POINTS: Final = 478
_IRIS_VALUES: Final = 15
"""Middle and four rim points of the iris, three values each."""
_BODY_REGION: Final = 1.25
"""Of the body's circle: what the joints' network was made for."""
_LEAST_BODY: Final = 0.5
_MOST_BOXES: Final = 100
_BODY_POINTS: Final = 33
_JOINT_VALUES: Final = 39 * 5
BLENDSHAPES: Final = {
    "blink_left": 9,
    "blink_right": 10,
    "in_left": 13,
    "in_right": 14,
    "out_left": 15,
    "out_right": 16,
    "jaw_open": 25,
}
"""Where the scores used here stand among the network's 52; sides are the person's own."""
_BLENDSHAPE_POINTS: Final = (
    *(0, 1, 4, 5, 6, 7, 8, 10, 13, 14, 17, 21, 33, 37, 39, 40, 46, 52, 53, 54, 55, 58, 61, 63),
    *(65, 66, 67, 70, 78, 80, 81, 82, 84, 87, 88, 91, 93, 95, 103, 105, 107, 109, 127, 132, 133),
    *(136, 144, 145, 146, 148, 149, 150, 152, 153, 154, 155, 157, 158, 159, 160, 161, 162, 163),
    *(168, 172, 173, 176, 178, 181, 185, 191, 195, 197, 234, 246, 249, 251, 263, 267, 269, 270),
    *(276, 282, 283, 284, 285, 288, 291, 293, 295, 296, 297, 300, 308, 310, 311, 312, 314, 317),
    *(318, 321, 323, 324, 332, 334, 336, 338, 356, 361, 362, 365, 373, 374, 375, 377, 378, 379),
    *(380, 381, 382, 384, 385, 386, 387, 388, 389, 390, 397, 398, 400, 402, 405, 409, 415, 454),
    *(466, 468, 469, 470, 471, 472, 473, 474, 475, 476, 477),
)
"""The mesh points that the blendshape network was made for, in its order."""


@dataclass(frozen=True, slots=True)
class Detection:
    """A detector's square box (x, y, side), its two eyes, and its score 0..1."""

    x: float
    y: float
    side: float
    eyes: Points
    score: float

    @property
    def middle(self) -> tuple[float, float]:
        """Middle of the box."""
        return self.x + self.side / 2, self.y + self.side / 2


def _squared(picture: Pixels) -> tuple[Pixels, float, float]:
    """The picture in the middle of a black square, and how far right and down it was moved."""
    high, wide = picture.shape[:2]
    side = max(high, wide)
    if high == wide:
        return picture, 0.0, 0.0
    left, top = (side - wide) // 2, (side - high) // 2
    square = np.zeros((side, side, 3), np.uint8)
    square[top : top + high, left : left + wide] = picture
    return square, float(left), float(top)


def _region(
    picture: Pixels, middle: Points, side: float, angle_deg: float, out: int
) -> tuple[Pixels, NDArray[np.float64]]:
    """A square region brought to ``out`` px, turned level, and its 2 x 3 matrix (edges)."""
    scale = out / side
    turn = math.radians(angle_deg)
    linear = scale * np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    shift = out / 2 - linear @ middle
    centred = np.hstack([linear, (shift + linear @ np.array([0.5, 0.5]) - 0.5)[:, None]])
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    pixels = cv2.warpAffine(
        picture, centred, (out, out), flags=how, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(pixels, np.uint8), np.hstack([linear, shift[:, None]])


def _placed(matrix: NDArray[np.float64], points: Points) -> Points:
    """Points of a region back in the picture."""
    placed: Points = (points - matrix[:, 2]) @ np.linalg.inv(matrix[:, :2]).T
    return placed


class Engine:
    """One thread's set; each network is loaded when it is first asked for."""

    @cached_property
    def _detectors(self) -> tuple[tuple[Network, NDArray[np.float64]], ...]:
        made = []
        for name, layers in (
            ("face_short_range", _SHORT_LAYERS),
            ("face_full_range", _FULL_LAYERS),
        ):
            network = Network(name, span=(-1.0, 1.0))
            made.append((network, anchors(network.side, layers)))
        return tuple(made)

    @cached_property
    def _mesh(self) -> Network:
        return Network("face_mesh")

    @cached_property
    def _iris(self) -> Network:
        return Network("iris")

    @cached_property
    def _blendshapes(self) -> Network:
        return Network("blendshapes")

    @cached_property
    def _mask(self) -> Network:
        return Network("person_mask")

    @cached_property
    def _persons(self) -> tuple[Network, NDArray[np.float64]]:
        network = Network("person_boxes")
        return network, level_anchors(network.side)

    @cached_property
    def _bodies(self) -> tuple[Network, NDArray[np.float64]]:
        network = Network("body_detector", span=(-1.0, 1.0))
        return network, anchors(network.side, _BODY_LAYERS)

    @cached_property
    def _joints(self) -> Network:
        return Network("body_joints")

    def detect(self, picture: Pixels, which: int) -> list[Detection]:
        """Faces that one detector sees, scores of .5 and above."""
        square, left, top = _squared(picture)
        network, middles = self._detectors[which]
        logits, answers = sorted(network.look(square), key=len)
        found = decoded(answers, logits, middles, network.side, LEAST_SCORE)
        side, shift = float(len(square)), np.array([left, top])
        seen = []
        for box, keys, score in zip(found.boxes, found.keys, found.scores, strict=True):
            across = float(max(box[2], box[3])) * side
            middle = box[:2] * side - shift
            seen.append(
                Detection(
                    float(middle[0]) - across / 2,
                    float(middle[1]) - across / 2,
                    across,
                    keys[:2] * side - shift,
                    float(score),
                )
            )
        return seen

    def mesh(
        self, picture: Pixels, middle: tuple[float, float], side: float
    ) -> tuple[Points, float]:
        """478 points (x, y, depth) of the face in a square region, and its presence 0..1.

        There is always an answer; the presence says whether to believe it.
        """
        network = self._mesh
        region, matrix = _region(picture, np.array(middle), side, 0.0, network.side)
        answers = network.look(region)
        points = next(one for one in answers if one.size == 3 * MESH_POINTS).astype(np.float64)
        points = points.reshape(MESH_POINTS, 3)
        presence = 1 / (1 + math.exp(-float(answers[1][0])))
        flat = _placed(matrix, points[:, :2])
        return np.column_stack([flat, points[:, 2] * side / network.side]), presence

    def irises(self, picture: Pixels, corners: Points, region: float) -> Points:
        """The middles of both irises, (2, 2).

        ``corners`` are outer and inner corner of the eye on our left and of the one on our right,
        (2, 2, 2); ``region`` is the side of what the network is shown, in eye widths. The network
        knows eyes on our left alone: the other is mirrored.
        """
        network, found = self._iris, []
        for which, (outer, inner) in enumerate(corners):
            along = (outer - inner) if which else (inner - outer)
            width = max(1.0, float(np.hypot(*along)))
            angle = math.degrees(math.atan2(float(along[1]), float(along[0])))
            middle = (outer + inner) / 2
            pixels, matrix = _region(picture, middle, region * width, angle, network.side)
            if which:
                pixels = np.ascontiguousarray(pixels[:, ::-1])
            iris = next(one for one in network.look(pixels) if one.size == _IRIS_VALUES)
            at = iris[None, :2].astype(np.float64)
            if which:
                at[0, 0] = network.side - at[0, 0]
            found.append(_placed(matrix, at)[0])
        return np.array(found)

    def expression(self, points: Points) -> dict[str, float]:
        """Scores 0..1 of lids, gaze and jaw, by the names of :data:`BLENDSHAPES`."""
        chosen = points[list(_BLENDSHAPE_POINTS), :2].astype(np.float32)
        (scores,) = self._blendshapes.run(chosen[None])
        return {name: float(scores[index]) for name, index in BLENDSHAPES.items()}

    def mask(self, picture: Pixels) -> NDArray[np.float32]:
        """How much of each pixel of a square picture is a person, 0..1."""
        (mask,) = self._mask.look(picture)
        side = len(picture)
        grown = cv2.resize(mask.reshape(self._mask.side, self._mask.side), (side, side))
        return np.asarray(grown, np.float32)

    def bodies(self, picture: Pixels) -> list[tuple[NDArray[np.float64], Points, float]]:
        """Persons in a square picture: box (x0, y0, x1, y1), key points (4, 2), score.

        Key points: middle of the hips, a point of the circle about the whole body, middle of the
        shoulders, a point of the circle about the upper body.
        """
        network, middles = self._bodies
        logits, answers = sorted(network.look(picture), key=len)
        found = decoded(answers, logits, middles, network.side, _LEAST_BODY)
        side = len(picture)
        return [
            (
                np.concatenate([box[:2] - box[2:] / 2, box[:2] + box[2:] / 2]) * side,
                keys * side,
                float(score),
            )
            for box, keys, score in zip(found.boxes, found.keys, found.scores, strict=True)
        ]

    def persons(self, picture: Pixels, least: float) -> list[tuple[NDArray[np.float64], float]]:
        """Persons in a square picture, best first: box (x0, y0, x1, y1) and score >= ``least``.

        Several boxes of one person may be among them.
        """
        network, places = self._persons
        offsets, classes = sorted(network.look(picture), key=len)
        scores = classes.reshape(len(places), -1)[:, 0].astype(np.float64)
        chosen = np.flatnonzero(scores >= least)
        chosen = chosen[np.argsort(-scores[chosen], kind="stable")][:_MOST_BOXES]
        moved = offsets.reshape(len(places), 4)[chosen].astype(np.float64)
        middles = moved[:, :2] * places[chosen, 2:] + places[chosen, :2]
        halves = np.exp(np.minimum(moved[:, 2:], 5.0)) * places[chosen, 2:] / 2
        boxes = np.hstack([middles - halves, middles + halves])[:, [1, 0, 3, 2]]
        boxes = np.clip(boxes, 0, network.side) * (len(picture) / network.side)
        return [(box, float(scores[index])) for box, index in zip(boxes, chosen, strict=True)]

    def pose(self, picture: Pixels) -> NDArray[np.float64] | None:
        """33 body points (x, y, visibility) of the one clearest person, or None."""
        seen = self.bodies(picture)
        return self.joints(picture, seen[0][1]) if seen else None

    def joints(self, picture: Pixels, keys: Points) -> NDArray[np.float64] | None:
        """33 body points (x, y, visibility) of the body whose key points are given, or None."""
        rise = keys[1] - keys[0]
        side = 2 * _BODY_REGION * max(1.0, float(np.hypot(*rise)))
        angle = math.degrees(math.atan2(float(rise[0]), float(-rise[1])))
        network = self._joints
        region, matrix = _region(picture, keys[0], side, angle, network.side)
        answers = network.look(region)
        presence = next(one for one in answers if one.size == 1)
        if float(presence[0]) < _LEAST_BODY:
            return None
        points = next(one for one in answers if one.size == _JOINT_VALUES).astype(np.float64)
        points = points.reshape(39, 5)[:_BODY_POINTS]
        visible = 1 / (1 + np.exp(-points[:, 3]))
        return np.column_stack([_placed(matrix, points[:, :2]), visible])


_mine = threading.local()


def engine() -> Engine:
    """The engine of the calling thread, made on first use."""
    made: Engine | None = getattr(_mine, "engine", None)
    if made is None or _mine.process != os.getpid():
        made = Engine()
        _mine.engine, _mine.process = made, os.getpid()
    return made


def slope_deg(start: Points, end: Points) -> float:
    """Direction from one point to another, clockwise from the right, degrees."""
    return math.degrees(math.atan2(float(end[1] - start[1]), float(end[0] - start[0])))
