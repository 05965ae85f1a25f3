"""Marks by hand win over what was found, and a found picture is scaled to its master exactly."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.geometry import Point, Size
from cropper.job.marking import marked, scaled
from cropper.job.plan import HandMarks
from cropper.subject.by_hand import by_hand
from cropper.subject.subject import Finding, Origin, Subject

SIZE = Size(1000, 1000)


def person(x: float) -> Subject:
    return by_hand(SIZE, Point(x - 30, 400), Point(x + 30, 400))


PAIR = Finding(size=SIZE, subjects=(person(300), person(700)))


@given(st.integers(1, 8))
def test_a_finding_scaled_up_and_down_again_is_the_same(times: int) -> None:
    larger = scaled(PAIR, Size(SIZE.width * times, SIZE.height * times))
    assert larger.subjects[0].left_eye == Point(270 * times, 400 * times)
    assert larger.subjects[1].head_height_px == pytest.approx(
        PAIR.subjects[1].head_height_px * times
    )
    back = scaled(larger, SIZE)
    assert back.subjects[1].chin.at.y == pytest.approx(PAIR.subjects[1].chin.at.y)


def test_no_marks_change_nothing() -> None:
    assert marked(PAIR, HandMarks()) == PAIR


def test_the_named_person_is_principal_and_the_other_a_bystander() -> None:
    found = marked(PAIR, HandMarks(principal=(2,)))
    assert [one.principal for one in found.subjects] == [False, True]


def test_an_excluded_face_is_nobody_and_somebody_stays_principal() -> None:
    (left,) = marked(PAIR, HandMarks(excluded=(1,))).subjects
    assert left.eyes.x == 700
    assert left.principal


def test_a_person_who_was_not_found_cannot_be_named() -> None:
    with pytest.raises(ValueError, match="there is no person 3"):
        marked(PAIR, HandMarks(principal=(3,)))


def test_a_crown_by_hand_leaves_the_found_eyes_as_found() -> None:
    alone = marked(PAIR, HandMarks(excluded=(2,)))
    (one,) = marked(alone, HandMarks(crown=Point(300, 230))).subjects
    assert one.hair_top.at.y == 230
    assert one.hair_top.origin is Origin.HAND
    assert one.eyes_from is alone.subjects[0].eyes_from


def test_a_crown_needs_one_principal_person() -> None:
    with pytest.raises(ValueError, match="2 are principal"):
        marked(PAIR, HandMarks(crown=Point(300, 230)))


def test_eyes_by_hand_make_a_person_where_nobody_was_found() -> None:
    nobody = Finding(size=SIZE, problem="No face was found")
    found = marked(nobody, HandMarks(eyes=(Point(540, 400), Point(460, 402))))
    assert found.problem is None
    assert found.principals[0].left_eye == Point(460, 402)


def test_eyes_outside_the_picture_are_refused() -> None:
    with pytest.raises(ValueError, match="outside"):
        marked(PAIR, HandMarks(eyes=(Point(-5, 400), Point(60, 400))))
