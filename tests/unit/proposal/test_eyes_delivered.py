"""What is told of the eyes at the delivered size: focus and lids, never a verdict."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d

from cropper.geometry import Crop, PixelBox, Size
from cropper.proposal.eyes_delivered import SOFT_PX, eyes_at
from cropper.proposal.filling import bordered
from cropper.proposal.measuring import measure
from cropper.subject.subject import EyeDetail, EyesState, Subject
from tests.unit.proposal.people import destination, found, person

BOX = PixelBox(500, 850, 2500, 3350)


def eye(
    blur_px: float | None = 0.8, *, state: EyesState = EyesState.OPEN, openness: float = 0.3
) -> EyeDetail:
    return EyeDetail(state=state, score=0.9, sigma_px=2.0, openness=openness, blur_px=blur_px)


def with_eyes(left: EyeDetail | None, right: EyeDetail | None, *, turn: float = 0.0) -> Subject:
    return replace(person(1500, 1600, 700, turn=turn), left_detail=left, right_detail=right)


def told(one: Subject, width: int, box: PixelBox = BOX) -> tuple[str, ...]:
    size = Size(width, width * 5 // 4)
    return measure(found(3000, 4000, one), destination(delivered=size), Crop(box)).reasons


def test_eyes_blurred_in_the_master_are_sharp_in_a_small_file_and_told_in_a_large_one() -> None:
    blurred = with_eyes(eye(3.0), eye(3.2))
    assert not any("blurred" in one for one in told(blurred, 400))
    assert "The eyes are blurred by 3.0 px at this size." in told(blurred, 2000)


def test_a_tighter_crop_of_the_same_file_size_shows_the_blur() -> None:
    blurred = with_eyes(eye(1.6), eye(1.6))
    assert not any("blurred" in one for one in told(blurred, 1000))
    tighter = PixelBox(1000, 1100, 2000, 2350)
    assert "The eyes are blurred by 1.6 px at this size." in told(blurred, 1000, tighter)


@pytest.mark.parametrize(("turn", "nearer"), [(0.6, "left"), (-0.6, "right")])
def test_of_a_turned_head_the_eye_that_it_turns_away_from_counts(turn: float, nearer: str) -> None:
    sharp, blurred = eye(0.8), eye(2.5)
    left_blurred = with_eyes(blurred, sharp, turn=turn)
    right_blurred = with_eyes(sharp, blurred, turn=turn)
    bad, good = (left_blurred, right_blurred) if nearer == "left" else (right_blurred, left_blurred)
    assert eyes_at((bad,), 1.0) == ("The nearer eye is blurred by 2.5 px at this size.",)
    assert eyes_at((good,), 1.0) == ()


def test_of_a_facing_head_one_sharp_eye_is_enough() -> None:
    assert eyes_at((with_eyes(eye(3.0), eye(0.7)),), 1.0) == ()


def test_nothing_is_told_of_eyes_that_nobody_measured_or_that_are_covered() -> None:
    covered = eye(9.0, state=EyesState.COVERED)
    for one in (with_eyes(None, None), with_eyes(eye(None), eye(None)), with_eyes(covered, None)):
        assert eyes_at((one,), 2.0) == ()


def test_one_eye_nearly_shut_is_told_where_the_file_is_large_enough_to_show_it() -> None:
    winking = with_eyes(eye(), eye(state=EyesState.HALF, openness=0.1))
    assert "One eye is nearly shut." in told(winking, 1000)
    assert not any("shut" in one for one in told(winking, 60))
    both = with_eyes(*[eye(state=EyesState.HALF, openness=0.1)] * 2)
    assert eyes_at((both,), 1.0) == ()


def test_a_group_is_told_by_number() -> None:
    sharp, soft = with_eyes(eye(), eye()), with_eyes(eye(2.0), eye(2.0))
    shut = with_eyes(eye(), eye(state=EyesState.CLOSED, openness=0.05))
    assert eyes_at((sharp, soft, shut), 1.0) == (
        "The eyes of 1 of 3 people are blurred by 2.0 px at this size.",
        "One eye of 1 of 3 people is nearly shut.",
    )


@given(st.floats(0.0, 40.0), st.floats(0.0, 0.5))
def test_neither_cost_nor_verdict_hears_of_it(blur_px: float, openness: float) -> None:
    plain = with_eyes(None, None)
    seen = with_eyes(eye(blur_px), eye(blur_px, state=EyesState.HALF, openness=openness))
    before, after = (
        measure(found(3000, 4000, one), destination(), Crop(BOX)) for one in (plain, seen)
    )
    assert replace(after, reasons=before.reasons) == before
    assert after.reasons[: len(before.reasons)] == before.reasons


def test_a_filled_frame_tells_it_too() -> None:
    made = bordered(found(2000, 2500, with_eyes(eye(3.0), eye(3.0))), destination("1"))
    assert made is not None
    assert made.reasons[-1] == "The eyes are blurred by 3.0 px at this size."


def test_a_blur_of_the_threshold_keeps_the_contrast_that_its_note_says() -> None:
    places = np.arange(4000)
    wave = np.cos(2 * math.pi * places / 4)
    kept = gaussian_filter1d(wave, SOFT_PX, mode="wrap").max() / wave.max()
    assert kept == pytest.approx(math.exp(-2 * (math.pi * SOFT_PX / 4) ** 2), abs=0.005)
    assert kept == pytest.approx(0.14, abs=0.01)
