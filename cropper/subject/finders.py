"""What every maker of findings looks like, and the one used when nobody names another."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from cropper.subject.subject import Finding

Pixels = NDArray[np.uint8]
"""(height, width, 3), red green blue, 8-bit sRGB, upright."""


class Finder(Protocol):
    """Finds people in a picture. Same pixels in, same finding out."""

    name: str

    def find(self, pixels: Pixels, *, small_faces: bool = False) -> Finding:
        """Everybody in ``pixels``, in its own pixel coordinates; nobody is an answer, not an error.

        ``small_faces`` also looks for heads down to about 2 % of the frame's height, which takes
        several times longer.
        """
        ...


def default_finder() -> Finder:
    """The shipped finder. Cheap to make: the engine is loaded at the first picture.

    May be shared by threads (each gets its own engine) and made anew in spawned processes.
    """
    from cropper.subject.mesh_finder import MeshFinder  # noqa: PLC0415 - keeps `--help` instant

    return MeshFinder()
