"""Heads as photographs show them: mouths open, others close behind, an eye cut off, a pale veil."""

from __future__ import annotations

from typing import cast

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from cropper.subject import detecting
from cropper.subject.crown import _Axes as Axes
from cropper.subject.crown import _Hair, _topmost, head_of
from cropper.subject.engine import Engine, engine
from cropper.subject.finders import Finder, default_finder
from cropper.subject.mesh_finder import _everybody
from cropper.subject.pyramid import Pyramid
from cropper.subject.subject import Finding, Origin, Subject
from tests.models.varieties import DEMO, Pixels, Truth, loaded

pytestmark = pytest.mark.models


@pytest.fixture(scope="module")
def finder() -> Finder:
    return default_finder()


@pytest.fixture(scope="module")
def short_haired() -> tuple[Pixels, Truth]:
    """The shorter-haired person of the pair, alone."""
    pixels, truths = loaded(DEMO / "fernhollow_d_pair.jpg", 1600)
    first = min(truths, key=lambda one: float(one.eyes[:, 0].mean()))
    return np.ascontiguousarray(pixels[:, : pixels.shape[1] // 2]), first


@pytest.fixture(scope="module")
def portrait() -> Pixels:
    return loaded(DEMO / "fernhollow_a_frontal.jpg", 1200)[0]


def jaw_dropped(pixels: Pixels, truth: Truth, times: float) -> Pixels:
    """Everything below the nose drawn out downwards, as an open mouth draws out the chin."""
    nose = float(truth.eyes[:, 1].mean() * 0.5 + truth.chin[1] * 0.5)
    high, wide = pixels.shape[:2]
    rows = np.arange(high, dtype=np.float32)
    source = np.where(rows > nose, nose + (rows - nose) / times, rows).astype(np.float32)
    across = np.tile(np.arange(wide, dtype=np.float32), (high, 1))
    return np.asarray(
        cv2.remap(pixels, across, np.tile(source[:, None], (1, wide)), cv2.INTER_LINEAR), np.uint8
    )


def only(finding: Finding) -> Subject:
    (person,) = finding.subjects
    return person


@pytest.mark.parametrize("times", [1.0, 1.35, 1.5])
def test_an_open_mouth_does_not_raise_the_hair_top(
    finder: Finder, short_haired: tuple[Pixels, Truth], times: float
) -> None:
    pixels, truth = short_haired
    person = only(finder.find(jaw_dropped(pixels, truth, times)))
    assert person.hair_top.origin is Origin.FOUND
    assert abs(person.hair_top.at.y - truth.hair[1]) < 0.06 * truth.head


class Crowded:
    """The engine, whose mask also shows somebody's body rising close behind the head."""

    def mask(self, pixels: Pixels) -> NDArray[np.float32]:
        seen = engine().mask(pixels).copy()
        seen[:, len(seen) // 4 :] = 1.0
        return seen


def test_a_body_close_behind_is_not_taken_for_hair() -> None:
    pixels, (truth,) = loaded(DEMO / "fernhollow_c_figure_headroom.jpg", 1600)
    pyramid = Pyramid(pixels)
    seen = detecting.ordinary(engine(), pyramid)
    ((face,), _, _) = _everybody(engine(), pyramid, seen, small_faces=False)
    hair_top = head_of(cast("Engine", Crowded()), pyramid, face).hair_top
    assert hair_top.origin is Origin.ESTIMATED
    assert abs(hair_top.at.y - truth.hair[1]) < 2 * hair_top.sigma_px
    assert hair_top.sigma_px > 0.05 * truth.head


@pytest.mark.parametrize("mirror", [False, True])
def test_on_a_flat_head_the_hair_top_stands_over_the_middle(*, mirror: bool) -> None:
    axes = Axes(np.array([100.0, 100.0]), np.array([0.0, -1.0]), np.array([1.0, 0.0]), 100.0)
    across, down = np.meshgrid(np.arange(60.0, 141.0), np.arange(10.0, 60.0))
    slope = (across - 60) / 40 * (-1 if mirror else 1)
    flat = np.column_stack([across.ravel(), (down + slope).ravel()])
    hair = _Hair(
        flat, touches_top=False, hemmed=False, softness=0.0, held_back=False, fills_piece=False
    )
    top = _topmost(hair, axes, 1.0)
    assert abs(top[0] - 100) < 1


def test_an_eye_beyond_the_edge_is_not_reported_as_found(finder: Finder, portrait: Pixels) -> None:
    whole = only(finder.find(portrait))
    beyond = int(whole.right_eye.x - 0.05 * whole.between_eyes_px)
    cut = finder.find(np.ascontiguousarray(portrait[:, :beyond]))
    assert {one.eyes_from for one in cut.subjects} <= {Origin.ESTIMATED}
    assert cut.problem is not None
    assert "edge" in cut.problem or "no face" in cut.problem


def veiled(pixels: Pixels) -> Pixels:
    """Light into the lens: a third of full light over everything, in linear light."""
    light = (pixels / 255.0) ** 2.2
    return np.asarray(np.round(255 * (light * 0.15 + 0.35) ** (1 / 2.2)), np.uint8)


def test_eyes_behind_a_pale_veil_are_found(finder: Finder, portrait: Pixels) -> None:
    plain, pale = only(finder.find(portrait)), only(finder.find(veiled(portrait)))
    assert pale.eyes_from is Origin.FOUND
    assert pale.left_eye.to(plain.left_eye) < 0.05 * plain.between_eyes_px


def test_a_bar_under_a_pale_veil_still_covers_the_eyes(finder: Finder, portrait: Pixels) -> None:
    seen = only(finder.find(portrait))
    spare = 0.4 * seen.between_eyes_px
    low = (int(seen.left_eye.x - spare), int(seen.left_eye.y - spare / 2))
    high = (int(seen.right_eye.x + spare), int(seen.right_eye.y + spare / 2))
    barred = cv2.rectangle(portrait.copy(), low, high, (150, 140, 130), -1)
    finding = finder.find(veiled(np.asarray(barred, np.uint8)))
    assert {one.eyes_from for one in finding.subjects} <= {Origin.ESTIMATED}


def test_one_eye_behind_hair_is_enough_to_ask(finder: Finder, portrait: Pixels) -> None:
    seen = only(finder.find(portrait))
    between, middle = seen.between_eyes_px, seen.eyes
    low = (int(middle.x + 0.05 * between), int(middle.y - 1.5 * between))
    high = (int(middle.x + 1.2 * between), int(middle.y + between))
    fallen = cv2.rectangle(portrait.copy(), low, high, (40, 28, 20), -1)
    finding = finder.find(np.asarray(fallen, np.uint8))
    assert {one.eyes_from for one in finding.subjects} == {Origin.ESTIMATED}
