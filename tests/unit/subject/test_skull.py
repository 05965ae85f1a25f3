"""How high the skull stands over the eyes, by hair and by nod."""

from __future__ import annotations

import pytest

from cropper.subject.crown import LEVEL_DEG, _nodding, _skull_height


@pytest.mark.parametrize("pitch", [-LEVEL_DEG, -4.0, 0.0, 5.0, LEVEL_DEG])
def test_a_level_head_has_its_skull_as_far_above_the_eyes_as_the_chin_below(pitch: float) -> None:
    assert _skull_height(None, pitch) == 1.0
    assert _nodding(pitch) == 0.0


def test_a_bowed_head_shows_more_of_its_crown() -> None:
    assert 1.2 < _skull_height(None, -27.0) < 1.3
    assert _skull_height(1.4, -27.0) > _skull_height(1.4, -18.0) > _skull_height(1.4, 0.0)


def test_a_head_thrown_back_is_told_by_its_hair_and_never_stands_above_it() -> None:
    assert _skull_height(0.76, 13.0) < 0.76
    assert _nodding(13.0) == _nodding(-13.0) > 0
