"""Load the finding engine without what it draws with.

Its package imports matplotlib for one function that plots its results, which nothing here calls:
.3 s of CPU and 30 MB in every process that finds (measured on two cores of a server processor).
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from types import ModuleType
from typing import Final

_NAMES: Final = ("matplotlib", "matplotlib.pyplot")


@contextlib.contextmanager
def undrawn() -> Iterator[None]:
    """Let empty modules stand in for matplotlib meanwhile; one that is loaded already stays.

    Afterwards matplotlib can be imported as ever. Only the engine's own plotting stays without.
    """
    if _NAMES[0] in sys.modules:
        yield
        return
    stand_ins = {name: ModuleType(name) for name in _NAMES}
    sys.modules.update(stand_ins)
    vars(stand_ins[_NAMES[0]])["pyplot"] = stand_ins[_NAMES[1]]
    try:
        yield
    finally:
        for name in _NAMES:
            sys.modules.pop(name, None)
