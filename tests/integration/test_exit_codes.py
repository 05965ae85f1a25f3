"""Exit codes are an interface: each is reached here, and the weightiest wins."""

from __future__ import annotations

import subprocess
import sys
from itertools import combinations
from pathlib import Path

import pytest

from cropper import errors
from cropper.cli import main
from cropper.errors import PRECEDENCE, weightiest
from tests.integration.conftest import Draw, Run

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "exit-codes.md"
CODES = {name: value for name, value in vars(errors).items() if name.startswith("EXIT_")}


def cropper(*words: object) -> subprocess.CompletedProcess[str]:
    """The program as a shell runs it."""
    return subprocess.run(
        [sys.executable, "-c", "from cropper.cli.main import main; main()", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_order_of_weight_is_the_documented_one() -> None:
    assert PRECEDENCE == (70, 2, 3, 8, 6, 1, 4, 7, 5, 0)
    assert sorted(PRECEDENCE) == sorted(CODES.values())


@pytest.mark.parametrize("pair", list(combinations(PRECEDENCE, 2)))
def test_of_two_codes_the_weightier_is_given(pair: tuple[int, int]) -> None:
    assert weightiest(*pair) == weightiest(*reversed(pair)) == pair[0]


def test_every_code_stands_on_its_page() -> None:
    page = PAGE.read_text(encoding="utf-8")
    for code in CODES.values():
        assert f"| {code} |" in page


def test_a_shell_sees_0_for_help_and_2_for_misuse() -> None:
    assert cropper("--help").returncode == 0
    misused = cropper("plan", "--no-such-option")
    assert misused.returncode == 2
    assert "Traceback" not in misused.stderr


def test_a_shell_sees_1_and_a_sentence_for_a_job_that_is_not_there(tmp_path: Path) -> None:
    result = cropper("export", "--job", tmp_path)
    assert result.returncode == 1
    assert result.stderr.startswith("Error: ")
    assert "Traceback" not in result.stderr


def test_a_fault_of_ours_is_70_and_keeps_its_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("cropper.destination.presets.load_presets", broken)
    monkeypatch.setattr(sys, "argv", ["cropper", "destinations"])
    with pytest.raises(SystemExit) as left:
        main.main()
    assert left.value.code == 70
    said = capsys.readouterr().err
    assert "Traceback" in said
    assert "fault of cropper's own" in said


@pytest.mark.usefixtures("looker")
def test_several_reasons_at_once_give_the_weightiest(run: Run, draw: Draw, tmp_path: Path) -> None:
    (tmp_path / "bad.jpg").touch()
    pictures = draw("nobody.jpg", 1), draw("good.jpg", 2)
    words = ("--for", "square-post", "--job", tmp_path / "job")
    assert run("plan", *pictures, *words).exit_code == 5
    assert run("plan", *pictures, tmp_path / "bad.jpg", *words).exit_code == 6
    assert run("plan", *pictures, tmp_path / "bad.jpg", *words, "--principal", 1).exit_code == 2
