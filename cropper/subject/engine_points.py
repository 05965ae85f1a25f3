"""The one array type that the finding modules pass about."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
"""(n, 2) or (n, 3) points, or one of them: x, y and, for the mesh, depth on the scale of x."""
