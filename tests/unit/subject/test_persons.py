"""Persons as boxes: one for each, and whose face is still to be found."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.geometry import Extent, Point
from cropper.subject.anchors import anchors, decoded, level_anchors
from cropper.subject.persons import Person, _separate, faceless


def person(x: float, *, wide: float = 200, high: float = 500, score: float = 0.9) -> Person:
    return Person(Extent(x, 100, x + wide, 100 + high), score)


def test_two_boxes_on_one_person_are_one() -> None:
    assert _separate([person(100), person(110, score=0.8)]) == [person(100)]


def test_a_part_of_a_person_is_not_another() -> None:
    half = Person(Extent(120, 350, 280, 590), 0.7)
    assert _separate([half, person(100)]) == [person(100)]


def test_people_side_by_side_are_two() -> None:
    assert len(_separate([person(100), person(310)])) == 2


def test_whoever_has_no_face_is_named() -> None:
    left, right = person(100), person(310)
    assert faceless([left, right], [(Point(200, 180), 140.0)]) == [right]


def test_a_face_belongs_to_the_box_whose_top_it_fills() -> None:
    """A tall listener's box reaches behind the sitter's: the sitter's face is the sitter's."""
    sitter, behind = Person(Extent(100, 300, 400, 900), 0.9), Person(Extent(80, 90, 420, 900), 0.8)
    assert faceless([sitter, behind], [(Point(250, 400), 180.0)]) == [behind]


def test_a_face_at_the_feet_is_somebody_elses() -> None:
    assert faceless([person(100)], [(Point(200, 570), 60.0)]) == [person(100)]


@given(st.lists(st.integers(0, 2000), min_size=1, max_size=8, unique=True))
def test_nobody_is_left_when_every_person_has_a_face(places: list[int]) -> None:
    people = _separate([person(float(x)) for x in places])
    heads = [(Point(one.box.centre.x, 185.0), 140.0) for one in people]
    assert faceless(people, heads) == []


@pytest.mark.parametrize(
    ("side", "layers", "count"),
    [
        (128, ((8, 2), (16, 6)), 896),
        (192, ((4, 1),), 2304),
        (224, ((8, 2), (16, 2), (32, 6)), 2254),
    ],
)
def test_anchors_are_as_many_as_the_networks_answer(
    side: int, layers: tuple[tuple[int, int], ...], count: int
) -> None:
    """Counts as in the published models' output shapes."""
    made = anchors(side, layers)
    assert made.shape == (count, 2)
    assert made.min() > 0
    assert made.max() < 1
    assert level_anchors(320).shape == (19206, 4)


def test_boxes_on_one_face_become_their_weighted_mean() -> None:
    middles = np.array([[0.5, 0.5], [0.5, 0.5], [0.1, 0.1]])
    answers = np.zeros((3, 16), np.float32)
    answers[:, 2:4] = 20.0
    answers[1, 0] = 4.0
    found = decoded(answers, np.array([2.0, 2.0, -9.0], np.float32), middles, 100, 0.5)
    assert found.boxes == pytest.approx(np.array([[0.52, 0.5, 0.2, 0.2]]))
    assert found.scores == pytest.approx([1 / (1 + np.exp(-2))])
