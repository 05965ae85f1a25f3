"""Own destinations begin with a command, lie in one's own folder, and are read from there."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from cropper.destination.own import own_folder
from tests.integration.conftest import Run


@pytest.fixture(autouse=True)
def mine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An own folder that is nobody's."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return own_folder()


def test_a_new_one_is_written_with_comments_and_read_at_once(run: Run, mine: Path) -> None:
    made = run("destinations", "--new", "shop-tile", "--size", "900x1200")
    assert made.exit_code == 0, made.stderr
    text = (mine / "shop-tile.toml").read_text()
    assert tomllib.loads(text)["shop-tile"]["size_px"] == [900, 1200]
    assert text.count("#") > 5
    told = run("destinations", "shop-tile")
    assert "900 x 1200" in told.stdout
    assert "shop-tile: Shop tile" in told.stdout


def test_one_like_another_asks_for_the_same(run: Run, mine: Path) -> None:
    assert run("destinations", "--new", "tall-screen", "--like", "story").exit_code == 0
    text = (mine / "tall-screen.toml").read_text()
    told = tomllib.loads(text)
    assert list(told) == ["tall-screen"]
    assert told["tall-screen"]["size_px"] == [1080, 1920]
    assert len(told["tall-screen"]["covered"]) == 2
    said = run("destinations", "tall-screen").stdout.splitlines()[1:]
    like = run("destinations", "story").stdout.splitlines()[1:]
    assert said == like


def test_one_like_another_of_another_size(run: Run, mine: Path) -> None:
    run("destinations", "--new", "tall-screen", "--like", "story", "--size", "720x1280")
    told = tomllib.loads((mine / "tall-screen.toml").read_text())
    assert told["tall-screen"]["size_px"] == [720, 1280]


def test_one_that_is_there_is_not_written_over(run: Run, mine: Path) -> None:
    run("destinations", "--new", "shop-tile", "--size", "900x1200")
    before = (mine / "shop-tile.toml").read_text()
    again = run("destinations", "--new", "shop-tile", "--size", "9x9")
    assert again.exit_code == 1
    assert (mine / "shop-tile.toml").read_text() == before


@pytest.mark.parametrize(
    "words",
    [
        ("--new", "shop-tile"),
        ("--new", "Shop Tile", "--size", "900x1200"),
        ("--new", "../tile", "--size", "900x1200"),
        ("--new", "tile", "--size", "900"),
        ("--new", "tile", "--like", "nothing"),
        ("--new", "social", "--size", "900x1200"),
        ("--size", "900x1200"),
    ],
)
def test_what_makes_no_sense_is_a_misuse_and_writes_nothing(
    run: Run, mine: Path, words: tuple[str, ...]
) -> None:
    said = run("destinations", *words)
    assert said.exit_code in {2, 3}, said.output
    assert not list(mine.glob("*"))


def test_a_title_may_be_left_out(run: Run, mine: Path) -> None:
    mine.mkdir(parents=True)
    (mine / "mine.toml").write_text("[wall-screen]\nsize_px = [3000, 1000]\n")
    assert "wall-screen: Wall screen" in run("destinations", "wall-screen").stdout


def test_help_and_version_are_found_under_every_usual_word(run: Run) -> None:
    assert run("help", "plan").stdout == run("plan", "--help").stdout
    assert run("help").stdout == run("--help").stdout
    assert run("help", "record", "run").stdout == run("record", "run", "--help").stdout
    assert run("-V").stdout == run("--version").stdout
