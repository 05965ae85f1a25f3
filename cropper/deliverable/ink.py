"""How much ink a picture in four colours puts on paper, and how much its profile allows.

Total coverage is the sum of the four inks, 400 % at most. A press sets a limit for its paper, and
the profile made for it keeps that limit in its own separations: so the most that the profile makes
of any colour is taken for its limit, and the file is measured against it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.deliverable.conversion import Target, converted_out

INKS: Final = 4
STEPS: Final = 33
"""Codes of each of red, green and blue that the profile's separations are tried at (house)."""
SLACK_PERCENT: Final = 2.0
"""Rounding of four inks to 8 bits, and colours between those tried (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """Percent of the paper's area, the four inks added: the most, and the most allowed."""

    most: float
    limit: float

    @property
    def too_much(self) -> bool:
        """Whether some place has more than the profile allows."""
        return self.most > self.limit + SLACK_PERCENT

    def sentence(self) -> str:
        """The same for people."""
        said = f"total ink is up to {self.most:.0f} %, of {self.limit:.0f} % that its profile makes"
        return f"{said}: more than it allows" if self.too_much else said


def ink_of(pixels: npt.NDArray[Any], target: Target) -> Ink | None:
    """The ink of a finished picture; None where ``target`` is not four inks."""
    if target.device is None or target.device_channels != INKS:
        return None
    return Ink(most=most_ink(pixels), limit=_limit(target))


def most_ink(pixels: npt.NDArray[Any]) -> float:
    """The largest sum of the four inks, in percent; ``pixels`` (rows, columns, 4), 8 or 16 bit."""
    full = float(np.iinfo(pixels.dtype).max)
    rows = (pixels[top : top + 256].sum(axis=2, dtype=np.uint32).max() for top in _tops(pixels))
    return 100 * max(int(row) for row in rows) / full


def _tops(pixels: npt.NDArray[Any]) -> range:
    return range(0, len(pixels), 256)


def _limit(target: Target) -> float:
    """The most ink that the profile makes of any colour."""
    codes = np.linspace(0, 65535, STEPS).astype(np.uint16)
    grid = np.stack(np.meshgrid(codes, codes, codes, indexing="ij"), axis=-1).reshape(STEPS, -1, 3)
    return most_ink(converted_out(np.ascontiguousarray(grid), target, 16))
