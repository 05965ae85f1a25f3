"""A found picture and a known one drawn on one grid, at the coarser one's resolution.

The grid is the found file's frame, reduced where the known view holds less detail, so that neither
picture is enlarged and the comparison is fair.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from cropper.likeness.features import Floats, Grey
from cropper.likeness.registration import Lie, laid


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlay:
    """Both pictures on the grid; ``covered``: where the known picture has pixels.

    ``from_found`` leads from pixels of the found picture to the grid.
    """

    found: Floats
    known: Floats
    covered: npt.NDArray[np.bool_]
    from_found: Lie

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) of the grid."""
        return self.found.shape[1], self.found.shape[0]


def overlaid(found: Grey, known: Grey, lie: Lie, share: float | None = None) -> Overlay:
    """Draw both; ``lie`` leads from ``found`` to ``known``.

    ``share``: grid pixels for each pixel of ``found``; None: as many as the coarser one has.
    """
    high, wide = found.shape
    share = min(1.0, lie.scale) if share is None else share
    size = max(1, round(wide * share)), max(1, round(high * share))
    grid = Lie.scaled(size[0] / wide, size[1] / high)
    drawn, _ = laid(found, grid, size)
    there, covered = laid(known, lie.back().then(grid), size)
    return Overlay(found=drawn, known=there, covered=covered, from_found=grid)
