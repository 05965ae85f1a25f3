"""Proportions of the human head, for what a picture does not show.

Source: ANSUR II (men n = 4082, women n = 1986), reference ids eye_crown, menton_sellion, ipd,
breadths, crown_k, crown_err; hair is common practice. One head = skull top to chin.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from cropper.subject.engine_points import Points

BETWEEN_EYES: Final = 0.281
"""Distance between the pupils, in heads [ratios: .277 men, .285 women, sd .02]."""
CHIN_BELOW_EYES: Final = 0.505
"""Eyes to chin along the head's axis, in heads [eye_frac: .49-.50 of the head lies above]."""
BREADTH: Final = 0.675
"""Head breadth, in heads [ratios: .682 men, .668 women, sd .04]."""
CROWN_OVER_CHIN: Final = 1.0
"""Eyes to skull top over eyes to chin [crown_k]."""
CROWN_OVER_CHIN_SD: Final = 0.09
"""Its coefficient of variation [crown_k]."""
HAIR: Final = 0.09
"""Hair above the skull where none can be seen, in heads: 20 mm of 10-40 mm [hair]."""
HAIR_SD: Final = 0.07
"""Half of that range is 15 mm, .07 head; buns and hats reach further (house)."""
HAIRLINE_ABOVE_EYES: Final = 0.30
"""Eyes to hairline, in heads: the hair begins about a fifth of the head below the skull top
(artists' canon; house)."""
BROWS_ABOVE_EYES: Final = 0.085
"""Eyes to brows, in heads (house, from the mean face of the mesh)."""


def up_from(left_eye: Points, right_eye: Points) -> Points:
    """Unit vector square to the eye line, up a face whose ``left_eye`` is the one on our left."""
    along = right_eye[:2] - left_eye[:2]
    up: Points = np.array([along[1], -along[0]]) / max(1e-9, float(np.hypot(along[0], along[1])))
    return up
