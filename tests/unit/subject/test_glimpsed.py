"""Heads that were seen strongly and whose eyes could not be made out."""

from __future__ import annotations

import pytest

from cropper.geometry import Point, Size
from cropper.subject.detecting import Sighting
from cropper.subject.glimpsed import STRONG_SIGHTING
from cropper.subject.glimpsed import glimpsed as glimpsed_at
from cropper.subject.principal import question, ranked
from cropper.subject.subject import Origin, Subject, Turn

SIZE = Size(2000, 1500)
STRONG = Sighting(1000, 700, 240, 0.0, 0.9)


def glimpsed(seen: list[Sighting], found: list[Subject], sharpness: float = 1.0) -> list[Subject]:
    return glimpsed_at(seen, found, SIZE, lambda _: sharpness)


def test_a_strong_sighting_without_a_face_is_told_as_a_person_with_estimated_eyes() -> None:
    (person,) = glimpsed([STRONG], [])
    assert person.eyes_from is Origin.ESTIMATED
    assert person.eye_sigma_px > 0.3 * person.between_eyes_px
    asked = question(ranked([person], SIZE))
    assert asked is not None
    assert "a head was seen" in asked


def test_its_eyes_lie_in_the_upper_half_of_what_was_seen_and_the_chin_in_the_lower() -> None:
    (person,) = glimpsed([STRONG], [])
    assert 580 < person.eyes.y < 700 < person.chin.at.y < 840
    assert person.skull_top.at.y < 580
    assert person.head_box.x0 < 880
    assert person.head_box.x1 > 1120


def test_a_tilted_one_keeps_its_tilt() -> None:
    (person,) = glimpsed([Sighting(1000, 700, 240, 30.0, 0.9)], [])
    assert person.tilt_deg == pytest.approx(30)
    assert person.chin.at.x < person.skull_top.at.x


def test_it_is_as_principal_as_those_found_beside_it() -> None:
    (found,) = glimpsed([Sighting(400, 700, 240, 0.0, 0.9)], [])
    (person,) = glimpsed([STRONG], [found])
    assert [one.principal for one in ranked([found, person], SIZE)] == [True, True]


def test_somebody_out_of_focus_is_a_bystander() -> None:
    (found,) = glimpsed([Sighting(400, 700, 240, 0.0, 0.9)], [])
    (blurred,) = glimpsed([STRONG], [found], sharpness=0.01)
    assert [one.principal for one in ranked([found, blurred], SIZE)] == [True, False]


@pytest.mark.parametrize(
    "seen",
    [
        Sighting(1000, 700, 240, 0.0, STRONG_SIGHTING - 0.01),
        Sighting(1000, 700, 240, 89.0, 0.9),
        Sighting(1000, 10, 240, 0.0, 0.9),
    ],
    ids=["weak", "lying on its side", "eyes outside the picture"],
)
def test_anything_less_is_not_told(seen: Sighting) -> None:
    assert glimpsed([seen], []) == []


def test_nobody_is_told_twice() -> None:
    (person,) = glimpsed([STRONG, Sighting(1010, 690, 260, 3.0, 0.88)], [])
    assert glimpsed([STRONG], [person]) == []
    assert person.eyes.to(Point(1000, 650)) < 2
    assert person.turned is Turn.FACING
