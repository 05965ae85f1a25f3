"""The heads against an independent detector: the HOG detector of a general library.

It finds upright faces of 80 px and more only, so it is asked about those.
"""

from __future__ import annotations

import pytest

from cropper.subject.finders import default_finder
from tests.models.varieties import DEMO, loaded

pytestmark = pytest.mark.models

dlib = pytest.importorskip("dlib")

PICTURES = ("a_frontal", "b_wide_threequarter", "d_pair", "g_beauty_closeup", "i_shawl_rival")


@pytest.mark.parametrize("name", PICTURES)
def test_both_see_the_same_heads(name: str) -> None:
    pixels, _ = loaded(DEMO / f"fernhollow_{name}.jpg", 1024)
    theirs = dlib.get_frontal_face_detector()(pixels, 0)
    ours = default_finder().find(pixels).subjects
    assert len(theirs) == len(ours)
    for one in ours:
        around = [
            box
            for box in theirs
            if box.left() < one.left_eye.x < box.right()
            and box.left() < one.right_eye.x < box.right()
            and box.top() < one.eyes.y < box.bottom()
        ]
        assert len(around) == 1
        assert one.head_box.x0 < around[0].center().x < one.head_box.x1
        # The box of that detector spans brow to chin, about as wide as the face.
        assert 0.35 < around[0].height() / one.head_height_px < 1.0
