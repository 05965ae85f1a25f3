"""Folders and patterns stand for the pictures in them, in an order that does not change."""

from __future__ import annotations

from pathlib import Path

import pytest

from cropper.batch.inputs import pictures


@pytest.fixture
def shoot(tmp_path: Path) -> Path:
    for name in (
        "b.jpg", "a.TIF", "notes.txt", ".hidden.jpg", "day 2/d.png", "day 2/c.jpeg",
        "day 10/e.webp", ".trash/f.jpg", "odd [1].jpg",
    ):  # fmt: skip
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.touch()
    return tmp_path


def names(found: tuple[Path, ...], root: Path) -> list[str]:
    return [one.relative_to(root).as_posix() for one in found]


def test_a_folder_means_its_pictures_and_those_below_by_name_without_hidden_ones(
    shoot: Path,
) -> None:
    expected = ["a.TIF", "b.jpg", "odd [1].jpg", "day 10/e.webp", "day 2/c.jpeg", "day 2/d.png"]
    assert names(pictures([shoot]), shoot) == expected


def test_a_pattern_is_unfolded_and_a_file_of_that_very_name_comes_first(shoot: Path) -> None:
    assert names(pictures([shoot / "*.jpg"]), shoot) == ["b.jpg", "odd [1].jpg"]
    assert names(pictures([shoot / "**" / "*.jpeg"]), shoot) == ["day 2/c.jpeg"]
    assert names(pictures([shoot / "odd [1].jpg"]), shoot) == ["odd [1].jpg"]


def test_each_picture_is_meant_once_and_a_named_file_is_never_judged(shoot: Path) -> None:
    found = pictures([shoot / "b.jpg", shoot / "notes.txt", shoot, shoot / "missing.jpg"])
    assert names(found, shoot)[:2] == ["b.jpg", "notes.txt"]
    assert names(found, shoot).count("b.jpg") == 1
    assert names(found, shoot)[-1] == "missing.jpg"


def test_a_link_to_a_folder_is_not_followed_in_circles(shoot: Path) -> None:
    (shoot / "again").symlink_to(shoot)
    assert len(pictures([shoot])) == 6


@pytest.mark.parametrize("given", ["empty", "*.heic", "missing.jpg"])
def test_what_holds_no_picture_stays_to_be_told_as_a_failure(shoot: Path, given: str) -> None:
    (shoot / "empty").mkdir()
    assert names(pictures([shoot / given, shoot / "b.jpg"]), shoot) == [given, "b.jpg"]


def test_ten_thousand_names_are_listed_in_a_moment(tmp_path: Path) -> None:
    for number in range(10_000):
        (tmp_path / f"{number:05d}.jpg").touch()
    found = pictures([tmp_path])
    assert [one.stem for one in found] == [f"{number:05d}" for number in range(10_000)]
