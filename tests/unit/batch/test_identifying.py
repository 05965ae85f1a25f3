"""Files are told apart by a crew: what a death or a stop costs, and what needs no crew at all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest

from cropper.batch.identifying import identify_all, spread_over
from cropper.batch.stopping import Stop
from cropper.batch.telling import State
from cropper.batch.work import Came, even
from cropper.job.fingerprints import FOLDER, Fingerprints, Wanted
from cropper.job.identifying import no_runs
from cropper.job.known import Known, Pictures
from cropper.likeness.shelf import shelf


class Deadly:
    """A crew whose processes die of files called ``deadly``."""

    def do(
        self,
        function: Callable[[Any], Any],
        tasks: Iterable[Any],
        *,
        until: Callable[[Iterator[Any]], Iterator[Any]] = iter,
        weight: Callable[[Any], int] = even,  # noqa: ARG002 - as a crew has it
        ahead: int = 1,  # noqa: ARG002
    ) -> Iterator[Came[Any, Any]]:
        for task in until(iter(tasks)):
            path = getattr(task, "file", None) or task.path
            if "deadly" in path.name:
                yield Came(task, lost="the process that read it died (SIGSEGV)")
            else:
                yield Came(task, function(task))


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    made = [tmp_path / name for name in ("one.jpg", "deadly.jpg", "two.jpg")]
    for one in made:
        one.write_text("no picture")
    return made


@pytest.fixture
def nothing_known(tmp_path: Path) -> Known:
    kept = Fingerprints(folder=tmp_path / FOLDER, shelf=shelf(()))
    return Known(masters={}, pictures=Pictures.of([kept]))


def test_a_file_that_kills_its_process_costs_that_file_only(files: list[Path]) -> None:
    heard: list[tuple[str, State]] = []
    answers = identify_all(
        files,
        Known(masters={}, pictures=Pictures.of([])),
        no_runs,
        crew=Deadly(),
        stop=Stop(print),
        hear=lambda what, state, _of, _sentence: heard.append((Path(what).name, state)),
    )
    assert [Path(one.file) for one in answers] == files
    assert "SIGSEGV" in str(answers[1].problem)
    assert "SIGSEGV" not in f"{answers[0].problem}{answers[2].problem}"
    assert heard == [(one.name, State.FAILED) for one in files]


def test_who_asks_to_stop_gets_what_is_done_by_then(
    files: list[Path], nothing_known: Known
) -> None:
    stop = Stop(lambda _: None)

    def hear(*_: object) -> None:
        stop.asked = True

    for crew in (None, Deadly()):
        stop.asked = False
        known = nothing_known if crew is None else Known(masters={}, pictures=Pictures.of([]))
        told = identify_all(files, known, no_runs, crew=crew, stop=stop, hear=hear)
        assert [Path(one.file) for one in told] == files[:1]


def test_a_master_that_kills_its_process_is_told_and_the_others_are_known(
    files: list[Path], tmp_path: Path
) -> None:
    wanted = [
        Wanted(sha256=f"{number:064d}", path=one, folder=tmp_path)
        for number, one in enumerate(files)
    ]
    made = list(spread_over(Deadly(), Stop(print))(wanted))
    assert len(made) == len(files)
    assert "SIGSEGV" in made[1].problem
    assert "not a picture" in made[0].problem
