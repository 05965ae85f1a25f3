"""Whom a picture is about, and what the photographer may say about it."""

from __future__ import annotations

import pytest

from cropper.geometry import Extent, Point, Size
from cropper.subject.principal import chosen, question, ranked, without
from cropper.subject.subject import Finding, Landmark, Origin, Subject

SIZE = Size(3000, 2000)


def person(x: float, head: float = 300.0, sharpness: float = 1.0, doubt: str = "") -> Subject:
    def mark(y: float) -> Landmark:
        return Landmark(Point(x, y), 5.0)

    return Subject(
        left_eye=Point(x - 0.14 * head, 800),
        right_eye=Point(x + 0.14 * head, 800),
        eye_sigma_px=2.0,
        chin=mark(800 + head / 2),
        skull_top=mark(800 - head / 2),
        hair_top=mark(780 - head / 2),
        hairline=mark(800 - 0.3 * head),
        brows=mark(800 - 0.1 * head),
        crown_in_frame=True,
        head_box=Extent(x - head / 2, 780 - head / 2, x + head / 2, 800 + head / 2),
        sharpness=sharpness,
        eyes_from=Origin.ESTIMATED if doubt else Origin.FOUND,
        doubt=doubt,
    )


def principals(*people: Subject) -> list[bool]:
    return [one.principal for one in ranked(people, SIZE)]


def test_one_person_is_principal() -> None:
    assert ranked([person(500)], SIZE)[0].why == "the only person"


def test_a_row_of_like_heads_is_all_principal() -> None:
    assert principals(*(person(x, head) for x, head in ((300, 250), (900, 300), (1500, 280)))) == [
        True,
        True,
        True,
    ]


def test_a_much_smaller_head_is_a_bystander_with_its_reason() -> None:
    large, small = ranked([person(1000, 400), person(2000, 200)], SIZE)
    assert (large.principal, small.principal) == (True, False)
    assert "50%" in small.why


def test_a_blurred_head_in_front_is_a_bystander() -> None:
    assert principals(person(400, 500, sharpness=0.05), person(1500, 350)) == [False, True]


def test_people_are_listed_from_left_to_right() -> None:
    assert [one.eyes.x for one in ranked([person(900), person(100)], SIZE)] == [100, 900]


def test_nobody_is_ranked_without_complaint() -> None:
    assert ranked([], SIZE) == ()


def test_the_photographer_chooses_who_is_principal() -> None:
    finding = Finding(size=SIZE, subjects=ranked([person(500), person(1500)], SIZE))
    assert [one.principal for one in chosen(finding, [Point(1490, 810)]).subjects] == [False, True]


def test_a_false_face_is_left_out_and_the_rest_judged_anew() -> None:
    finding = Finding(size=SIZE, subjects=ranked([person(500, 600), person(1500, 200)], SIZE))
    left = without(finding, Point(500, 800))
    assert [one.principal for one in left.subjects] == [True]
    assert left.problem is None


def test_leaving_out_the_only_face_says_how_to_go_on() -> None:
    finding = Finding(size=SIZE, subjects=(person(500),))
    problem = without(finding, Point(0, 0)).problem
    assert problem is not None
    assert "--eyes" in problem


def test_choosing_among_nobody_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="nobody"):
        chosen(Finding(size=SIZE), [Point(1, 1)])


def test_estimated_eyes_are_asked_about_and_found_ones_are_not() -> None:
    asked = question([person(500, doubt="the face is in profile")])
    assert asked is not None
    assert "profile" in asked
    assert question([person(500)]) is None
    assert question([]) is not None


def test_every_reason_for_doubt_is_told_with_how_many_of_how_many() -> None:
    people = [person(300, doubt="in profile"), person(900, doubt="too soft"), person(1500)]
    asked = question(people)
    assert asked is not None
    assert "of 2 of 3 people" in asked
    assert "(in profile; too soft)" in asked
