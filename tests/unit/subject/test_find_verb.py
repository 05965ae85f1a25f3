"""`cropper find`: what it prints and how it ends, with a stand-in for the looker."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from cropper.cli.main import cropper
from cropper.errors import MasterError
from cropper.geometry import Extent, Point, Size
from cropper.job import looking
from cropper.job.one_master import Seen
from cropper.job.plan import HandMarks
from cropper.subject.by_hand import by_hand
from cropper.subject.subject import EyeDetail, EyesState, Finding, Origin

SIZE = Size(3000, 2000)
FOUND = replace(
    by_hand(SIZE, Point(1400, 800), Point(1600, 800)),
    eyes_from=Origin.FOUND,
    why="the only person",
)
WINKING = replace(
    FOUND,
    left_detail=EyeDetail(state=EyesState.OPEN, score=0.9, sigma_px=2.0),
    right_detail=EyeDetail(state=EyesState.HALF, score=0.6, sigma_px=2.0),
)
DOUBTED = replace(FOUND, eyes_from=Origin.ESTIMATED, doubt="the face is in profile")


class StandIn:
    """Knows pictures by their names."""

    def look(self, path: Path, marks: HandMarks) -> Seen:
        if path.stem == "broken":
            raise MasterError(f"{path}: this is not a picture", way_out="Export it as JPEG")
        people = {"empty": (), "profile": (DOUBTED,), "wink": (WINKING,)}.get(path.stem, (FOUND,))
        if marks.eyes is not None:
            people = (by_hand(SIZE, *marks.eyes),)
        bodies = (Extent(10, 20, 310, 1220),) if path.stem == "wink" else ()
        finding = Finding(size=SIZE, subjects=people, bodies=bodies)
        return Seen(sha256="0" * 64, size=SIZE, finding=finding)


@pytest.fixture(autouse=True)
def stand_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(looking, "MasterLooker", StandIn)


def find(*words: str) -> Result:
    return CliRunner().invoke(cropper, ["find", *words])


def test_everybody_found_ends_well() -> None:
    told = find("one.jpg", "two.jpg")
    assert told.exit_code == 0
    assert "1400,800 1600,800" in told.stdout


@pytest.mark.parametrize(
    ("pictures", "code"),
    [
        (("broken.jpg",), 1),
        (("one.jpg", "broken.jpg"), 6),
        (("broken.jpg", "empty.jpg", "one.jpg"), 6),
        (("empty.jpg",), 5),
        (("one.jpg", "profile.jpg"), 5),
    ],
)
def test_the_exit_code_tells_what_is_left_to_do(pictures: tuple[str, ...], code: int) -> None:
    assert find(*pictures).exit_code == code
    assert find(*pictures, "--json").exit_code == code


def test_the_json_keeps_to_its_schema_and_to_the_names_as_given() -> None:
    told = json.loads(find("./one.jpg", "broken.jpg", "profile.jpg", "--json").stdout)
    schema = json.loads((files("cropper") / "schemas" / "find.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(told, schema)
    assert told["version"] == 1
    assert [one["file"] for one in told["pictures"]] == ["./one.jpg", "broken.jpg", "profile.jpg"]
    assert told["pictures"][0]["problem"] is None
    assert told["pictures"][1]["width"] is None
    assert "profile" in told["pictures"][2]["problem"]
    person = told["pictures"][0]["subjects"][0]
    assert person["left_eye"] == [1400, 800]
    assert person["eyes_from"] == "found"


def test_nobody_found_names_the_way_out() -> None:
    assert "--eyes" in find("empty.jpg").stderr


def test_an_eye_nearly_shut_and_somebody_without_a_head_are_told() -> None:
    told = find("wink.jpg").stderr
    assert "person 1: the eye on the right is nearly shut" in told
    assert "somebody whose head was not found, 10,20 to 310,1220" in told


def test_eyes_placed_by_hand_are_taken() -> None:
    told = find("empty.jpg", "--eyes", "1400,800", "1600,810", "--json")
    assert told.exit_code == 0
    assert json.loads(told.stdout)["pictures"][0]["subjects"][0]["eyes_from"] == "hand"


def test_eyes_for_two_pictures_are_a_misuse() -> None:
    assert find("one.jpg", "two.jpg", "--eyes", "1,2", "30,4").exit_code == 2


def test_no_picture_is_a_misuse() -> None:
    assert find().exit_code == 2
