"""Pictures that look like versions of one idea."""

from __future__ import annotations

from datetime import timedelta

import cv2
import numpy as np
import pytest

from cropper.likeness.capture import parsed
from cropper.likeness.twins import Sight, glance, groups, near_twins, sentence


def scene(seed: int, shift: int = 0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    blobs = cv2.GaussianBlur(rng.normal(0, 1, (256, 256, 3)), (0, 0), 22)
    picture = np.clip(128 + 70 * blobs / blobs.std(), 0, 255).astype(np.uint8)
    return np.roll(picture, shift, axis=1)


def sight(name: str, seed: int, *, shift: int = 0, at: str = "", group: str | None = None) -> Sight:
    taken = parsed(at) if at else None
    return Sight(name=name, lab=glance(scene(seed, shift)), taken=taken, set=group)


def test_two_frames_are_pointed_out_and_a_third_picture_is_not() -> None:
    pairs = near_twins([sight("shawl", 1), sight("hall", 2), sight("shawl-2", 1, shift=5)])
    assert [(one.one, one.other) for one in pairs] == [("shawl", "shawl-2")]


def test_a_declared_set_is_left_alone() -> None:
    assert near_twins([sight("a", 1, group="shawl"), sight("b", 1, group="shawl")]) == ()
    assert len(near_twins([sight("a", 1, group="shawl"), sight("b", 1, group="hat")])) == 1


def test_pictures_of_different_days_are_left_alone() -> None:
    days = [sight("a", 1, at="2026:03:01 10:00:00"), sight("b", 1, at="2026:03:02 10:00:00")]
    assert near_twins(days) == ()


def test_the_time_between_two_frames_is_told() -> None:
    frames = [sight("a", 1, at="2026:03:01 10:00:00"), sight("b", 1, at="2026:03:01 10:00:02")]
    assert near_twins(frames)[0].apart == timedelta(seconds=2)


def test_blank_pictures_are_no_twins_of_anything() -> None:
    blank = glance(np.full((90, 60, 3), 127, np.uint8))
    assert near_twins([Sight(name="a", lab=blank), Sight(name="b", lab=blank)]) == ()


def test_pairs_that_hang_together_are_one_group() -> None:
    frames = [sight("a", 1), sight("b", 1, shift=2), sight("c", 1, shift=4), sight("d", 2)]
    assert groups(near_twins(frames)) == (("a", "b", "c"),)
    assert sentence(("a", "b", "c")).startswith("a, b and c look like versions of one idea")


def test_a_day_before_one_backdrop_is_counted_rather_than_listed() -> None:
    assert "and 18 others" in sentence([f"sitter-{number}" for number in range(20)])


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        # CIPA DC-008: DateTimeOriginal, SubSecTimeOriginal, OffsetTimeOriginal (from memory).
        (("2026:03:01 10:15:30", "25", "+01:00"), "2026-03-01T10:15:30.250000+01:00"),
        (("2026:03:01 10:15:30", None, None), "2026-03-01T10:15:30"),
        (("2026:03:01 10:15:30", "x", "nonsense"), "2026-03-01T10:15:30"),
    ],
)
def test_capture_times_are_read_as_exif_writes_them(
    fields: tuple[str, str | None, str | None], expected: str
) -> None:
    told = parsed(*fields)
    assert told is not None
    assert told.at.isoformat() == expected


@pytest.mark.parametrize("nonsense", ["0000:00:00 00:00:00", "", None, b"\xff\xff", 7])
def test_a_clock_that_was_never_set_tells_nothing(nonsense: object) -> None:
    assert parsed(nonsense) is None


def test_clocks_with_and_without_an_offset_are_not_compared() -> None:
    one, other = parsed("2026:03:01 10:00:00", None, "+01:00"), parsed("2026:03:01 10:00:00")
    assert one is not None
    assert other is not None
    assert one.apart(other) is None


def test_a_capture_with_offset_is_compared_across_zones() -> None:
    one = parsed("2026:03:01 10:00:00", None, "+01:00")
    other = parsed("2026:03:01 09:00:05", None, "+00:00")
    assert one is not None
    assert other is not None
    assert one.apart(other) == timedelta(seconds=5)
