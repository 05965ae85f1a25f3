"""The blur of an eye is that of its edges, in pixels."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from cropper.subject.eyes import blur_px
from cropper.subject.pyramid import Pyramid


def drawn(sigma: float) -> Pyramid:
    """A dark disc of 30 px on white, blurred by ``sigma``; drawn large, then reduced."""
    large = np.full((1600, 1600), 240, np.uint8)
    cv2.circle(large, (800, 800), 120, (30,), -1)
    soft = cv2.GaussianBlur(large.astype(np.float64), (0, 0), 8 * sigma)
    grey = cv2.resize(soft, (200, 200), interpolation=cv2.INTER_AREA)
    return Pyramid(np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2))


@pytest.mark.parametrize("sigma", [1.0, 2.0, 3.0])
def test_a_known_blur_is_measured(sigma: float) -> None:
    measured = blur_px(drawn(sigma), np.array([100.0, 100.0]), 100.0)
    assert measured == pytest.approx(sigma, rel=0.2)


def test_an_eye_without_edges_has_no_blur_to_measure() -> None:
    plain = Pyramid(np.full((200, 200, 3), 128, np.uint8))
    assert blur_px(plain, np.array([100.0, 100.0]), 100.0) is None


def test_a_tiny_eye_has_none_either() -> None:
    assert blur_px(drawn(1.0), np.array([100.0, 100.0]), 8.0) is None
