"""``cropper check``: crops made elsewhere by the same rules, with an exit code for scripts."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from tests.integration.conftest import Draw, Run

SCHEMAS = Path(__file__).parents[2] / "cropper" / "schemas"
pytestmark = pytest.mark.usefixtures("looker")


def test_a_crop_of_the_right_shape_is_measured_and_breaks_no_rule(run: Run, draw: Draw) -> None:
    result = run("check", draw("a.jpg", size=(1080, 1350)), "--for", "portfolio", "--json")
    told = json.loads(result.stdout)
    rules = {one["rule"]: one for one in told["files"][0]["destinations"][0]["rules"]}
    assert rules["shape"]["verdict"] == "holds"
    assert abs(rules["eye line"]["value"] - 0.36) < 0.002


def test_the_shape_may_miss_by_one_pixel_and_not_by_more(run: Run, draw: Draw) -> None:
    def shape(width: int) -> tuple[int, str]:
        picture = draw(f"w{width}.png", size=(width, 1350))
        result = run("check", picture, "--for", "tall-post", "--json")
        rules = json.loads(result.stdout)["files"][0]["destinations"][0]["rules"]
        verdict: str = next(one["verdict"] for one in rules if one["rule"] == "shape")
        return result.exit_code, verdict

    assert shape(1081)[1] == "holds"
    assert shape(1086) == (7, "breaks")


def test_the_json_keeps_to_its_shipped_schema(run: Run, draw: Draw, tmp_path: Path) -> None:
    (tmp_path / "bad.jpg").touch()
    files = draw("a.jpg"), draw("nobody.jpg", 2), tmp_path / "bad.jpg"
    result = run("check", *files, "--for", "all", "--json")
    schema = json.loads((SCHEMAS / "check.schema.json").read_text())
    jsonschema.Draft202012Validator(schema).validate(json.loads(result.stdout))


def test_eyes_that_are_not_found_need_your_eye(run: Run, draw: Draw) -> None:
    nobody = draw("nobody.jpg", size=(1080, 1080))
    result = run("check", nobody, "--for", "square-post")
    assert result.exit_code == 5
    assert "--eyes" in result.stderr
    by_hand = run("check", nobody, "--for", "square-post", "--eyes", "500,390", "580,390")
    assert by_hand.exit_code in {0, 7}
    assert "square-post" in by_hand.stdout


def test_an_unreadable_file_fails_alone_or_among_others(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    bad = tmp_path / "bad.jpg"
    bad.touch()
    assert run("check", bad, "--for", "square-post").exit_code == 1
    good = draw("good.jpg", size=(1080, 1080))
    assert run("check", bad, good, "--for", "square-post").exit_code == 6


def test_marks_are_about_one_file(run: Run, draw: Draw) -> None:
    files = draw("a.jpg"), draw("b.jpg", 2)
    assert run("check", *files, "--for", "square-post", "--eyes", "1,1", "9,1").exit_code == 2


def test_broken_rules_are_told_in_words(run: Run, draw: Draw) -> None:
    result = run("check", draw("a.jpg", size=(1500, 1000)), "--for", "square-post")
    assert result.exit_code == 7
    assert "is not 1:1" in result.stdout
