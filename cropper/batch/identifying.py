"""Identifying by a crew: each file is a task of its own; so is each master to get to know."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Final

from cropper.batch.measuring import Hear
from cropper.batch.stopping import Stop
from cropper.batch.telling import State
from cropper.batch.work import Came, Crew
from cropper.errors import JobError
from cropper.job import fingerprints
from cropper.job.fingerprints import Made, Wanted, in_turn
from cropper.job.identifying import Identified, RunsOf, Seen, seen, told_at_once, told_by
from cropper.job.identifying_words import summary
from cropper.job.known import Known, Pictures

READ_AGAIN: Final = "Run it again"

Places = tuple[tuple[Path, str], ...]
"""The folder of each job's fingerprints, and the basis of the shelf there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileTask:
    """One file to look at, and where the known pictures lie."""

    file: Path
    places: Places


def see_one(task: FileTask) -> Seen:
    """Look at one file, in whatever process this is."""
    return seen(task.file, _pictures(task.places))


@lru_cache(maxsize=1)
def _pictures(places: Places) -> Pictures:
    """The known pictures, opened once in each process."""
    return Pictures.of(_reopened(folder, basis) for folder, basis in places)


def _reopened(folder: Path, basis: str) -> fingerprints.Fingerprints:
    found = fingerprints.reopened(folder, basis)
    if found is None:
        raise JobError(
            f"the fingerprints in {folder} were changed by another run, or are not to be seen from"
            " where the work is done",
            way_out=READ_AGAIN,
        )
    return found


def spread_over(crew: Crew | None, stop: Stop) -> fingerprints.Spread:
    """Fingerprints made by ``crew`` (None: in this process) until somebody asks to stop."""

    def spread(masters: Iterable[Wanted]) -> Iterator[Made]:
        if crew is None:
            yield from in_turn(stop.until(masters))
            return
        for came in crew.do(fingerprints.make, map(_abroad, masters), until=stop.until):
            problem = f"{came.task.path}: {came.lost}"
            yield came.result or Made(wanted=came.task, problem=problem)

    return spread


def _abroad(one: Wanted) -> Wanted:
    """The same task for a process that stands in another folder."""
    return replace(one, path=one.path.absolute(), folder=one.folder.absolute())


def identify_all(
    files: Sequence[Path],
    known: Known,
    runs_of: RunsOf,
    *,
    crew: Crew | None,
    stop: Stop,
    hear: Hear,
) -> list[Identified]:
    """What every file is, told in the order given; ``hear`` hears of each as it is known.

    Raises :class:`JobError` when a crew is to look at pictures that could not be written down.
    """
    places = _places(known) if crew is not None else ()
    answers: dict[Path, Identified] = {}

    def through(file: Path, told: Identified) -> None:
        answers[file] = told
        hear(told.file, state_of(told), len(files), summary(told))

    def to_be_seen() -> Iterator[FileTask]:
        """What must be looked at; the rest is told on the way, by its bytes."""
        for file in stop.until(files):
            at_once = told_at_once(file, known, runs_of)
            if at_once is None:
                yield FileTask(file=file, places=places)
            else:
                through(file, at_once)

    if crew is None:
        for task in to_be_seen():
            through(task.file, told_by(task.file, seen(task.file, known.pictures), known, runs_of))
    else:
        abroad = (replace(one, file=one.file.absolute()) for one in to_be_seen())
        by_place = {file.absolute(): file for file in files}
        # In their order, none ahead: what is taken up is finished, though somebody asks to stop.
        for came in crew.do(see_one, abroad, until=stop.until, ahead=1):
            file = by_place[came.task.file]
            through(file, told_by(file, _look(file, came), known, runs_of))
    return [answers[file] for file in files if file in answers]


def _look(file: Path, came: Came[FileTask, Seen]) -> Seen:
    """What came of a look, in words about the file as it was named."""
    if came.result is None:
        return Seen(problem=f"{file}: {came.lost}")
    problem = came.result.problem.replace(str(came.task.file), str(file))
    return replace(came.result, problem=problem)


def _places(known: Known) -> Places:
    for one in known.pictures.prints:
        if not one.basis:
            raise JobError(
                f"{one.folder} cannot be written to, so other processes cannot read what is known",
                way_out="Identify without --workers and --scheduler, or let it be written to",
            )
    return tuple((one.folder.absolute(), one.basis) for one in known.pictures.prints)


def state_of(one: Identified) -> State:
    """What became of a file, in one of the words that are counted."""
    if one.state is None:
        return State.FAILED
    return State.DONE if one.known_well else State.EYE


def made_state(one: Made) -> State:
    """What became of a master to get to know."""
    if one.problem:
        return State.FAILED
    return State.DONE if one.data else State.AS_BEFORE
