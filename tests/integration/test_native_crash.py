"""A decoder that dies in native code, in the middle of a picture, costs that picture alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from cropper.batch import exporting, measuring, planning
from cropper.batch.here import Processes
from cropper.batch.stopping import Stop
from cropper.batch.work import Came
from cropper.destination.presets import load_presets
from cropper.job.asked import Asked
from cropper.job.exporting import Wish
from cropper.job.manifesting import run_export
from cropper.job.plan import HandMarks
from cropper.job.running import run_plan
from cropper.job.store import DELIVERABLES
from tests.integration.conftest import Draw, DrawnLooker, Run
from tests.unit.batch.deeds import in_native_code

NOW = datetime(2026, 3, 4, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Dying:
    """Real processes, in which the decoder dies of certain pictures."""

    crew: Processes

    def do(
        self, function: Callable[[Any], Any], tasks: Iterable[Any], **how: Any
    ) -> Iterator[Came[Any, Any]]:
        return self.crew.do(partial(in_native_code, function), tasks, **how)


@pytest.fixture
def crew() -> Dying:
    return Dying(Processes(1))


def shoot(draw: Draw) -> tuple[Path, ...]:
    names = ("a", "deadly", "z")
    return tuple(draw(f"shoot/{name}.jpg", at, (960, 1200)) for at, name in enumerate(names))


def test_an_export_goes_on_without_it_and_the_next_one_makes_it(
    run: Run, draw: Draw, looker: DrawnLooker, crew: Dying, tmp_path: Path
) -> None:
    assert looker.name
    job, files = tmp_path / "job", shoot(draw)
    assert run("plan", *files, "--for", "square-post", "--job", job).exit_code == 0
    wish = Wish(folder=job / DELIVERABLES, day="20260304")

    told = run_export(job, wish, now=NOW, spread=exporting.spread_over(crew, Stop(lambda _: None)))

    (failure,) = told.failures
    assert "deadly" in str(failure)
    assert "SIGSEGV" in str(failure)
    assert len(list((job / DELIVERABLES).glob("*.jpg"))) == 2
    assert run("export", "--job", job).exit_code == 0
    assert len(list((job / DELIVERABLES).glob("*.jpg"))) == 3


@pytest.mark.long
@pytest.mark.models
def test_a_plan_and_a_check_go_on_without_it(draw: Draw, crew: Dying, tmp_path: Path) -> None:
    job, files = tmp_path / "job", shoot(draw)
    places = load_presets().choose(("square-post",))
    asked = Asked(files=files, destinations=places)

    told = run_plan(job, asked, now=NOW, spread=planning.spread_over(crew, Stop(lambda _: None)))

    assert told.plan.shelf.versions == ("a", "z")
    (failure,) = told.failed
    assert "deadly" in failure.file
    assert "SIGSEGV" in failure.sentence

    checked = measuring.check_all(
        files, places, HandMarks(), crew=crew, stop=Stop(lambda _: None), hear=lambda *_: None
    )
    assert [Path(one.file).stem for one in checked if one.unreadable] == ["deadly"]
    assert "SIGSEGV" in str(checked[1].problem)
