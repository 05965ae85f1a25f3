"""What the finder must not do: see faces where there are none, or invent eyes in silence."""

from __future__ import annotations

import concurrent.futures
import multiprocessing
import os
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage.data
from skimage import io

from cropper.geometry import Point
from cropper.subject.finders import Finder, default_finder
from cropper.subject.subject import EyesState, Finding, Origin, Subject
from tests.models.varieties import DEMO, Pixels, loaded

pytestmark = pytest.mark.models

SHIPPED = Path(skimage.data.__file__).parent
NO_FACES = (
    "brick.png",
    "cell.png",
    "chelsea.png",
    "clock_motion.png",
    "coffee.png",
    "coins.png",
    "color.png",
    "grass.png",
    "gravel.png",
    "horse.png",
    "hubble_deep_field.jpg",
    "ihc.png",
    "moon.png",
    "motorcycle_left.png",
    "motorcycle_right.png",
    "page.png",
    "retina.jpg",
    "rocket.jpg",
    "text.png",
)
"""Pictures that the scientific library carries inside its package; a cat and a horse among them."""


def shipped(name: str) -> Pixels:
    picture = np.asarray(io.imread(SHIPPED / name))
    if picture.ndim == 2:
        picture = np.repeat(picture[:, :, None], 3, axis=2)
    return np.ascontiguousarray(picture[:, :, :3], np.uint8)


@pytest.fixture(scope="module")
def finder() -> Finder:
    return default_finder()


@pytest.fixture(scope="module")
def portrait() -> Pixels:
    return loaded(DEMO / "fernhollow_a_frontal.jpg", 1200)[0]


@pytest.fixture(scope="module")
def seen(finder: Finder, portrait: Pixels) -> Subject:
    return finder.find(portrait).subjects[0]


@pytest.mark.parametrize("name", NO_FACES)
def test_no_face_is_seen_where_there_is_none(finder: Finder, name: str) -> None:
    finding = finder.find(shipped(name))
    assert finding.subjects == ()
    assert finding.problem is not None
    assert "--eyes" in finding.problem


@pytest.mark.parametrize("name", ["coffee.png", "hubble_deep_field.jpg", "motorcycle_right.png"])
def test_looking_deeper_sees_no_face_either(finder: Finder, name: str) -> None:
    assert finder.find(shipped(name), small_faces=True).subjects == ()


def test_a_real_photograph_is_found(finder: Finder) -> None:
    (person,) = finder.find(shipped("astronaut.png")).subjects
    assert person.eyes_from is Origin.FOUND
    # Marked by hand on the photograph, enlarged fourteen times: to about half a pixel.
    assert person.left_eye.to(Point(203.7, 100.8)) < 1.3
    assert person.right_eye.to(Point(246.8, 103.4)) < 1.3


def test_a_profile_is_called_estimated(finder: Finder) -> None:
    finding = finder.find(shipped("camera.png"))
    assert [one.eyes_from for one in finding.subjects] == [Origin.ESTIMATED]
    assert finding.problem is not None
    assert "profile" in finding.problem


def eyes_of(seen: Subject) -> tuple[np.ndarray, np.ndarray, float]:
    left = np.array([seen.left_eye.x, seen.left_eye.y])
    right = np.array([seen.right_eye.x, seen.right_eye.y])
    return left, right, seen.between_eyes_px


def bar(pixels: Pixels, seen: Subject, colour: tuple[int, int, int]) -> Pixels:
    left, right, between = eyes_of(seen)
    covered = pixels.copy()
    spare = np.array([0.6, 0.3]) * between
    low, high = np.minimum(left, right) - spare, np.maximum(left, right) + spare
    start, end = (int(low[0]), int(low[1])), (int(high[0]), int(high[1]))
    cv2.rectangle(covered, start, end, colour, -1)
    return covered


def spectacles(pixels: Pixels, seen: Subject, *, dark: bool) -> Pixels:
    left, right, between = eyes_of(seen)
    worn = pixels.copy()
    axes = (int(0.42 * between), int(0.33 * between))
    for eye in (left, right):
        thick = -1 if dark else max(2, int(0.05 * between))
        cv2.ellipse(worn, (int(eye[0]), int(eye[1])), axes, 0, 0, 360, (18, 16, 17), thick)
    return worn


@pytest.mark.parametrize("colour", [(5, 5, 5), (140, 130, 125), (201, 150, 125)])
def test_eyes_behind_a_bar_are_called_covered(
    finder: Finder, portrait: Pixels, seen: Subject, colour: tuple[int, int, int]
) -> None:
    finding = finder.find(bar(portrait, seen, colour))
    assert_not_silent(finding)


def test_eyes_behind_dark_glasses_are_called_covered(
    finder: Finder, portrait: Pixels, seen: Subject
) -> None:
    finding = finder.find(spectacles(portrait, seen, dark=True))
    assert [one.eyes_state for one in finding.subjects] == [EyesState.COVERED]
    assert_not_silent(finding)


def assert_not_silent(finding: Finding) -> None:
    assert finding.problem is not None
    assert all(one.eyes_from is Origin.ESTIMATED for one in finding.subjects)


def test_eyes_behind_clear_spectacles_are_found(
    finder: Finder, portrait: Pixels, seen: Subject
) -> None:
    (person,) = finder.find(spectacles(portrait, seen, dark=False)).subjects
    assert person.eyes_from is Origin.FOUND
    assert person.eyes_state is EyesState.OPEN


@pytest.mark.parametrize("angle", [-90, -75, -60, -45, -30, 15, 35, 60, 75, 90])
def test_every_tilt_up_to_a_right_angle_is_found(
    finder: Finder, portrait: Pixels, angle: int
) -> None:
    high, wide = portrait.shape[:2]
    turn = cv2.getRotationMatrix2D((wide / 2, high * 0.42), -angle, 0.6)
    tilted = cv2.warpAffine(portrait, turn, (wide, high), borderMode=cv2.BORDER_REPLICATE)
    (person,) = finder.find(np.asarray(tilted, np.uint8)).subjects
    assert person.eyes_from is Origin.FOUND
    assert abs((person.tilt_deg - angle + 90) % 180 - 90) < 2.5


def test_the_same_pixels_give_the_same_finding(finder: Finder, portrait: Pixels) -> None:
    assert finder.find(portrait) == finder.find(portrait.copy())


def test_threads_may_share_a_finder(finder: Finder, portrait: Pixels, seen: Subject) -> None:
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        findings = list(pool.map(finder.find, [portrait] * 3))
    assert all(finding.subjects == (seen,) for finding in findings)


def find_in_a_process(path: str) -> int:
    return len(default_finder().find(loaded(Path(path), 800)[0]).subjects)


def test_spawned_processes_make_their_own_engine() -> None:
    spawn = multiprocessing.get_context("spawn")
    with concurrent.futures.ProcessPoolExecutor(1, mp_context=spawn) as pool:
        found = pool.submit(find_in_a_process, str(DEMO / "fernhollow_d_pair.jpg"))
        assert found.result(timeout=120) == 2


def test_the_engine_is_quiet() -> None:
    code = (
        "import numpy as np, skimage.data\n"
        "from cropper.subject.finders import default_finder\n"
        "default_finder().find(np.ascontiguousarray(skimage.data.astronaut()))\n"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, env=dict(os.environ)
    )
    assert said.stdout == b""
    assert said.stderr == b""
