"""The native engine, one set per thread: two face detectors, face mesh, person mask, body pose.

Everything that knows the engine's own types stands here. It is mediapipe 0.10.21, the last
release whose wheel carries its models (nothing is fetched at run time); see
docs/decisions/0003-finding.md for what would end that. A mesh shared by two threads crashes, so
sets are kept in thread-local storage, and made anew after a fork.

Points go in and out in pixels of the picture given, pixel-edge convention.
"""

from __future__ import annotations

import math
import os
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from cropper.errors import FinderError
from cropper.subject.engine_points import Points
from cropper.subject.finders import Pixels
from cropper.subject.hush import hushed
from cropper.subject.undrawn import undrawn

SHORT, FULL = 0, 1
"""The two detectors: faces near the lens, and faces further away."""

_MESH_GRAPH: Final = """
input_stream: "image"
input_stream: "roi"
input_side_packet: "with_attention"
output_stream: "landmarks"
node {
  calculator: "FaceLandmarkCpu"
  input_stream: "IMAGE:image"
  input_stream: "ROI:roi"
  output_stream: "LANDMARKS:landmarks"
  input_side_packet: "WITH_ATTENTION:with_attention"
}
"""
_PRESENCE: Final = "facelandmarkcpu__face_presence_score"
_GATE: Final = "facelandmarkcpu__ThresholdingCalculator"


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


class _Settling:
    """Calls ``run`` hushed until it has once answered with something."""

    def __init__(self, run: Callable[..., Any], answered: Callable[[Any], bool]) -> None:
        self._run, self._answered, self._settled = run, answered, False

    def __call__(self, given: Any) -> Any:
        if self._settled:
            return self._run(given)
        with hushed():
            result = self._run(given)
        self._settled = self._answered(result)
        return result


def _load() -> Any:
    """Import mediapipe, or say which system package is missing."""
    try:
        with hushed(), undrawn():
            import mediapipe  # noqa: PLC0415 - heavy, and may lack system libraries
            from mediapipe.python import solution_base  # noqa: F401, PLC0415 - as above
    except (ImportError, OSError) as error:
        raise FinderError(
            f"the finding engine cannot be loaded ({error})",
            way_out="On Debian and its kin install the system packages libgl1 and libglib2.0-0 "
            "(apt-get install libgl1 libglib2.0-0); the Python packages are mediapipe 0.10.21 "
            "and opencv-python-headless 4.11.0.86. Eyes can also be placed by hand with --eyes",
        ) from error
    return mediapipe


def _mesh_config() -> Any:
    """The landmark graph opened up, so that it runs on a region of ours and tells its score.

    The public face mesh runs its own detector on the picture first and keeps the score to itself.
    """
    from google.protobuf import text_format  # type: ignore[import-untyped] # noqa: PLC0415
    from mediapipe.calculators.util import thresholding_calculator_pb2  # noqa: PLC0415
    from mediapipe.framework import calculator_pb2  # noqa: PLC0415
    from mediapipe.python._framework_bindings import calculator_graph  # noqa: PLC0415

    short = text_format.Parse(_MESH_GRAPH, calculator_pb2.CalculatorGraphConfig())
    opened = text_format.Parse(
        calculator_graph.CalculatorGraph(graph_config=short).text_config,
        calculator_pb2.CalculatorGraphConfig(),
    )
    opened.output_stream.append(_PRESENCE)
    for node in opened.node:
        if node.name == _GATE:
            extension = thresholding_calculator_pb2.ThresholdingCalculatorOptions.ext
            node.options.Extensions[extension].threshold = 0.0
    return opened


class Engine:
    """One thread's set. Built on first use; each part only when it is asked for."""

    def __init__(self) -> None:
        mediapipe = _load()
        from mediapipe.framework.formats import rect_pb2  # noqa: PLC0415
        from mediapipe.python import solution_base  # noqa: PLC0415

        self._rect = rect_pb2.NormalizedRect
        self._solutions = mediapipe.solutions
        with hushed():
            self._detectors = tuple(
                _Settling(
                    mediapipe.solutions.face_detection.FaceDetection(
                        min_detection_confidence=0.5, model_selection=which
                    ).process,
                    lambda answer: bool(answer.detections),
                )
                for which in (SHORT, FULL)
            )
            self._mesh = _Settling(
                solution_base.SolutionBase(
                    graph_config=_mesh_config(),
                    side_inputs={"with_attention": True},
                    outputs=["landmarks", _PRESENCE],
                ).process,
                lambda answer: answer.landmarks is not None,
            )
            self._mask = _Settling(
                mediapipe.solutions.selfie_segmentation.SelfieSegmentation(
                    model_selection=0
                ).process,
                lambda answer: answer.segmentation_mask is not None,
            )
            # Models load while the first picture passes, and speak then.
            blank = np.zeros((64, 64, 3), np.uint8)
            self.detect(blank, SHORT)
            self.detect(blank, FULL)
            self.mesh(blank, (32, 32), 48)
            self.mask(blank)
        self._pose: _Settling | None = None

    def detect(self, picture: Pixels, which: int) -> list[Detection]:
        """Faces that one detector sees, scores of .5 and above (its own floor)."""
        high, wide = picture.shape[:2]
        seen = []
        for found in self._detectors[which](picture).detections or ():
            box = found.location_data.relative_bounding_box
            keys = found.location_data.relative_keypoints
            eyes = np.array([(key.x * wide, key.y * high) for key in keys[:2]], np.float64)
            side = max(box.width * wide, box.height * high)
            middle_x = (box.xmin + box.width / 2) * wide
            middle_y = (box.ymin + box.height / 2) * high
            seen.append(
                Detection(
                    middle_x - side / 2, middle_y - side / 2, side, eyes, float(found.score[0])
                )
            )
        return seen

    def mesh(
        self, picture: Pixels, middle: tuple[float, float], side: float
    ) -> tuple[Points, float]:
        """478 points (x, y, depth) of the face in a square region, and its presence 0..1.

        There is always an answer; the presence says whether to believe it.
        """
        high, wide = picture.shape[:2]
        region = self._rect(
            x_center=middle[0] / wide,
            y_center=middle[1] / high,
            width=side / wide,
            height=side / high,
            rotation=0.0,
        )
        answer = self._mesh({"image": picture, "roi": region})
        if answer.landmarks is None:
            return np.zeros((478, 3)), 0.0
        points = np.array(
            [(mark.x * wide, mark.y * high, mark.z * wide) for mark in answer.landmarks.landmark],
            np.float64,
        )
        return points, float(getattr(answer, _PRESENCE))

    def mask(self, picture: Pixels) -> NDArray[np.float32]:
        """How much of each pixel is a person, 0..1."""
        mask: NDArray[np.float32] = self._mask(picture).segmentation_mask
        return mask

    def pose(self, picture: Pixels) -> NDArray[np.float64] | None:
        """33 body points (x, y, visibility) of the one clearest person, or None."""
        if self._pose is None:
            with hushed():
                self._pose = _Settling(
                    self._solutions.pose.Pose(static_image_mode=True, model_complexity=1).process,
                    lambda answer: answer.pose_landmarks is not None,
                )
        found = self._pose(picture).pose_landmarks
        if found is None:
            return None
        high, wide = picture.shape[:2]
        return np.array(
            [(mark.x * wide, mark.y * high, mark.visibility) for mark in found.landmark],
            np.float64,
        )


_mine = threading.local()


def engine() -> Engine:
    """The engine of the calling thread, made on first use (about two seconds, once)."""
    made: Engine | None = getattr(_mine, "engine", None)
    if made is None or _mine.process != os.getpid():
        made = Engine()
        _mine.engine, _mine.process = made, os.getpid()
    return made


def slope_deg(start: Points, end: Points) -> float:
    """Direction from one point to another, clockwise from the right, degrees."""
    return math.degrees(math.atan2(float(end[1] - start[1]), float(end[0] - start[0])))
