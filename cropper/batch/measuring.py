"""Looking at pictures and measuring crops by a crew; nothing is written down."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from cropper.batch.planning import looker
from cropper.batch.stopping import Stop
from cropper.batch.telling import State
from cropper.batch.work import Crew
from cropper.destination.destination import Destination
from cropper.errors import MasterError
from cropper.job import looking
from cropper.job.checking import Checked, check_file
from cropper.job.one_master import Looker, Seen
from cropper.job.plan import HandMarks
from cropper.master.stored import named
from cropper.subject.principal import question

Task = TypeVar("Task")
Result = TypeVar("Result", "Looked", "Checked")
Hear = Callable[[str, State, int, str], None]
"""Hears what is through: which, what became of it, of how many, and a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookTask:
    """One picture to look at."""

    file: str
    marks: HandMarks


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """One picture: what was seen in it, or why it could not be opened."""

    file: str
    seen: Seen | None
    problem: str | None

    @property
    def state(self) -> State:
        """What became of it, in one of the words that are counted."""
        if self.seen is None:
            return State.FAILED
        return State.DONE if self.problem is None else State.EYE


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckTask:
    """One picture to measure as a crop for every destination."""

    file: Path
    destinations: tuple[Destination, ...]
    marks: HandMarks


def look_one(task: LookTask) -> Looked:
    """Look at one picture with the engine of this process."""
    return _looked(task, looker())


def check_one(task: CheckTask) -> Checked:
    """Measure one picture with the engine of this process."""
    return check_file(task.file, task.destinations, looker(), task.marks)


def _looked(task: LookTask, engine: Looker) -> Looked:
    try:
        seen = engine.look(named(task.file), task.marks)
    except MasterError as error:
        return Looked(file=task.file, seen=None, problem=str(error))
    return Looked(file=task.file, seen=seen, problem=question(seen.finding.subjects))


def look_at(
    files: Sequence[str], marks: HandMarks, *, crew: Crew | None, stop: Stop, hear: Hear
) -> list[Looked]:
    """Look at every file, told in the order given; one that cannot be opened stops nothing."""
    engine = looking.MasterLooker() if crew is None else None
    return _gathered(
        files,
        [LookTask(file=str(named(one).absolute()) if crew else one, marks=marks) for one in files],
        look_one if engine is None else lambda task: _looked(task, engine),
        crew,
        stop,
        lost=lambda task, why: Looked(file=task.file, seen=None, problem=f"{task.file}: {why}"),
        hear=lambda one: hear(one.file, one.state, len(files), one.problem or ""),
    )


def check_all(
    files: Sequence[Path],
    destinations: tuple[Destination, ...],
    marks: HandMarks,
    *,
    crew: Crew | None,
    stop: Stop,
    hear: Hear,
) -> list[Checked]:
    """Measure every file, told in the order given."""
    engine = looking.MasterLooker() if crew is None else None
    return _gathered(
        [str(one) for one in files],
        [
            CheckTask(file=one.absolute() if crew else one, destinations=destinations, marks=marks)
            for one in files
        ],
        check_one
        if engine is None
        else lambda task: check_file(task.file, task.destinations, engine, task.marks),
        crew,
        stop,
        lost=lambda task, why: Checked(
            file=str(task.file), problem=f"{task.file}: {why}", unreadable=True
        ),
        hear=lambda one: hear(one.file, _state(one), len(files), one.problem or ""),
    )


def _state(one: Checked) -> State:
    if one.unreadable:
        return State.FAILED
    return State.EYE if one.needs_an_eye or one.broken else State.DONE


def _gathered(
    given: Sequence[str],
    tasks: list[Task],
    function: Callable[[Task], Result],
    crew: Crew | None,
    stop: Stop,
    *,
    lost: Callable[[Task, str], Result],
    hear: Callable[[Result], None],
) -> list[Result]:
    """What came of the tasks that were taken up, in their order, each file called as given.

    A crew is told whole paths: it may stand in another folder.
    """
    places = {id(task): place for place, task in enumerate(tasks)}
    results: dict[int, Result] = {}
    for task, result in _done(tasks, function, crew, stop, lost):
        place = places[id(task)]
        results[place] = _as_given(result, given[place])
        hear(results[place])
    return [results[place] for place in sorted(results)]


def _as_given(one: Result, given: str) -> Result:
    problem = one.problem and one.problem.replace(one.file, given)
    return replace(one, file=given, problem=problem)


def _done(
    tasks: list[Task],
    function: Callable[[Task], Result],
    crew: Crew | None,
    stop: Stop,
    lost: Callable[[Task, str], Result],
) -> Iterable[tuple[Task, Result]]:
    if crew is None:
        for task in stop.until(tasks):
            yield task, function(task)
        return
    for came in crew.do(function, tasks, until=stop.until):
        yield came.task, lost(came.task, came.lost) if came.result is None else came.result
