"""How many cores a picture's arithmetic takes: one.

The matrices here are small. A linear-algebra library that puts a thread on every core for them
wins no time, and its idle threads spin: planning a master took 1.7 cores for the work of one
(measured with ``bench/season.py``). Whoever wants more cores asks for more workers.
"""

from __future__ import annotations

import os
from typing import Final

_THREADS: Final = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")


def one_core() -> None:
    """Ask for a single thread, unless the user's environment says otherwise.

    Only libraries that are loaded afterwards hear of it: call it before numpy is imported.
    """
    for name in _THREADS:
        os.environ.setdefault(name, "1")
