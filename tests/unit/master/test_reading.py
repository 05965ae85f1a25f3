"""What is known of a master before a pixel is decoded, and turning upright."""

from __future__ import annotations

import numpy as np
import pytest

from cropper.geometry import Size
from cropper.master.decoding import upright
from cropper.master.formats import kind_of
from cropper.master.profiles import examined, fault_of
from cropper.master.seeing import reduced_size
from cropper.master.spaces import SPACES


@pytest.mark.parametrize(
    ("beginning", "kind"),
    [
        (b"\xff\xd8\xff\xe1", "jpeg"),
        (b"\x89PNG\r\n\x1a\n", "png"),
        (b"RIFF\x00\x00\x00\x00WEBPVP8 ", "webp"),
        (b"RIFF\x00\x00\x00\x00WAVEfmt ", None),
        (b"II*\0\x08\0\0\0", "tiff"),
        (b"MM\0+\0\x08\0\0", "tiff"),
        (b"\0\0\0\x18ftypheic", "heif"),
        (b"\0\0\0\x18ftypmp42", None),
        (b"GIF89a", None),
        (b"<svg xmlns=", None),
        (b"%PDF-1.7", None),
    ],
)
def test_a_picture_is_known_by_its_first_bytes(beginning: bytes, kind: str | None) -> None:
    assert kind_of(beginning) == kind


@pytest.mark.parametrize(
    ("orientation", "corner"),
    [(1, 1), (2, 2), (3, 4), (4, 3), (5, 1), (6, 3), (7, 4), (8, 2)],
)
def test_the_tag_says_what_comes_to_the_top_left(orientation: int, corner: int) -> None:
    # CIPA DC-008: "the 0th row is at the visual ..., the 0th column at the visual ..."
    stored = np.array([[[1], [2]], [[3], [4]]], np.uint8)
    assert upright(stored, orientation)[0, 0, 0] == corner


def test_a_profile_is_trusted_only_for_its_own_kind_of_picture() -> None:
    srgb, grey = SPACES["srgb"].profile, SPACES["grey"].profile
    assert fault_of(srgb, 3) == ""
    assert fault_of(grey, 1) == ""
    assert "is for RGB" in fault_of(srgb, 4)
    assert fault_of(b"", 3) == "the embedded profile is empty"
    assert examined(None, 3).note == "no profile: assumed sRGB"
    assert examined(srgb, 3).name == "sRGB IEC 61966-2-1"


def test_reducing_keeps_the_shape() -> None:
    assert reduced_size(Size(4000, 6000), 1024) == Size(683, 1024)
