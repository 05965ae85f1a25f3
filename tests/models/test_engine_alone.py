"""The finding engine keeps to itself: no connection, no network, nothing loaded to draw with."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.models
FACE = Path(__file__).resolve().parents[2] / "demo_images" / "fernhollow_a_frontal.jpg"
FINDING = """
import json, os, sys
refused = []
def guard(event, given):
    if event.startswith("socket."):
        refused.append(event)
        raise RuntimeError(f"{event} while finding")
sys.addaudithook(guard)
import cv2
from cropper.subject.finders import default_finder
pixels = cv2.imread(sys.argv[1])[:, :, ::-1].copy()
(one,) = default_finder().find(pixels).subjects
folder = "/proc/self/fd"
opened = [os.readlink(f"{folder}/{name}") for name in os.listdir(folder)
          if os.path.lexists(f"{folder}/{name}")] if os.path.isdir(folder) else []
print(json.dumps({
    "eyes": [one.left_eye.x, one.left_eye.y, one.right_eye.x, one.right_eye.y],
    "sockets": [name for name in opened if name.startswith("socket:")],
    "refused": refused,
    "heavy": sorted({"matplotlib", "mediapipe", "tensorflow", "jax"} & set(sys.modules)),
}))
"""


def found(*before: str) -> dict[str, list[object]]:
    told = subprocess.run(
        [*before, sys.executable, "-c", FINDING, str(FACE)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert told.stderr == ""
    answer: dict[str, list[object]] = json.loads(told.stdout)
    return answer


@pytest.fixture(scope="module")
def alone() -> dict[str, list[object]]:
    return found()


def test_finding_opens_no_socket(alone: dict[str, list[object]]) -> None:
    """Python's own sockets raise, and none that native code opened is left."""
    assert alone["sockets"] == []
    assert alone["refused"] == []
    assert len(alone["eyes"]) == 4


def test_finding_loads_no_other_engine_and_nothing_to_draw_with(
    alone: dict[str, list[object]],
) -> None:
    assert alone["heavy"] == []


def test_the_same_is_found_where_there_is_no_network(alone: dict[str, list[object]]) -> None:
    cut = ("unshare", "--user", "--map-root-user", "--net")
    able = shutil.which("unshare") is not None and (
        subprocess.run([*cut, "true"], check=False, capture_output=True).returncode == 0
    )
    if not able:
        pytest.skip("this machine cannot cut a process off the network")
    assert found(*cut)["eyes"] == alone["eyes"]
