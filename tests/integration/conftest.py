"""Small real pictures, a finder that needs no engine, and the command line in one process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from cropper.cli.main import cropper
from cropper.geometry import Point, Size
from cropper.job.marking import marked
from cropper.job.one_master import Seen
from cropper.job.plan import HandMarks
from cropper.master.opening import master_digest, open_master
from cropper.subject.by_hand import by_hand
from cropper.subject.principal import question
from cropper.subject.subject import Finding, Origin

Run = Callable[..., Result]
Draw = Callable[..., Path]
FERNHOLLOW = Path(__file__).parents[2] / "demo_images"


def small_shoot(folder: Path, count: int) -> Path:
    """A day's small pictures: one face, large enough for the finder, under several names."""
    with Image.open(FERNHOLLOW / "fernhollow_a_frontal.jpg") as picture:
        small = picture.resize((picture.width // 2, picture.height // 2))
    for number in range(count):
        small.save(folder / f"ilse-{number}.jpg", quality=85 + number)
    return folder


class DrawnLooker:
    """Opens real files; knows where the eyes are, for the pictures of ``draw`` put them there."""

    name = "drawn"

    def __init__(self) -> None:
        self.looked: list[str] = []

    def digest(self, path: Path) -> str:
        return master_digest(path)

    def look(self, path: Path, marks: HandMarks) -> Seen:
        master = open_master(path)
        self.looked.append(path.name)
        return Seen(
            sha256=master.sha256,
            size=master.size,
            finding=marked(drawn_finding(path, master.size), marks),
            notes=master.notes,
        )


def drawn_finding(path: Path, size: Size) -> Finding:
    """Nobody in files called ``nobody``; else one head, its eyes 36 % from the top."""
    if "nobody" in path.name:
        return Finding(size=size, problem=question(()), finder="drawn")
    half, down = 0.035 * size.width, 0.36 * size.height
    left, right = Point(size.width / 2 - half, down), Point(size.width / 2 + half, down)
    person = replace(by_hand(size, left, right), eyes_from=Origin.FOUND)
    return Finding(size=size, subjects=(person,), finder="drawn")


@pytest.fixture
def looker(monkeypatch: pytest.MonkeyPatch) -> DrawnLooker:
    """The finder of these tests, in the place of the shipped one."""
    one = DrawnLooker()
    monkeypatch.setattr("cropper.job.looking.MasterLooker", lambda: one)
    monkeypatch.setattr("cropper.job.running.MasterLooker", lambda: one)
    return one


@pytest.fixture
def draw(tmp_path: Path) -> Draw:
    """Draws a picture: a smooth backdrop with grain, different for every seed."""

    def drawn(name: str, seed: int = 1, size: tuple[int, int] = (1600, 2000)) -> Path:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        width, height = size
        own = np.random.default_rng([seed, *name.encode()])  # no two names, no one picture
        grain = own.integers(0, 40, (height, width, 3), dtype=np.uint8)
        slope = np.linspace(60, 180, height, dtype=np.uint8)[:, None, None]
        Image.fromarray(grain + slope).save(path, quality=90)
        return path

    return drawn


@pytest.fixture
def run() -> Run:
    """``run("plan", ...)`` as a user would type it; gives the result with its exit code."""

    def ran(*words: object) -> Result:
        result = CliRunner().invoke(cropper, [str(word) for word in words])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return ran
