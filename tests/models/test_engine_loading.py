"""What a process pays to have the finding engine."""

from __future__ import annotations

import subprocess
import sys

import pytest

pytestmark = pytest.mark.models

LOADING = """
import sys
from cropper.subject.engine import engine
engine()
assert "mediapipe" in sys.modules
print(sorted(name for name in sys.modules if name.startswith("matplotlib")))
from matplotlib import pyplot
print(pyplot.figure is not None)
"""


def test_the_engine_loads_nothing_to_draw_with_and_leaves_it_to_be_loaded() -> None:
    told = subprocess.run(
        [sys.executable, "-c", LOADING], capture_output=True, text=True, check=True
    )
    assert told.stdout.splitlines() == ["[]", "True"]
