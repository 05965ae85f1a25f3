"""Planning by a crew: each master is a task of its own, written down by the one run that asked."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

from cropper.batch.here import LONGEST_S
from cropper.batch.stopping import Stop
from cropper.batch.telling import State
from cropper.batch.time_limit import each_within
from cropper.batch.work import Came, Crew
from cropper.job import looking
from cropper.job.finishing_ahead import bring_up_and_finish
from cropper.job.one_master import MasterDone, MasterTask
from cropper.job.planning import Spread, one_by_one

PLAN_ALONE: Final = "Plan that picture alone, or take it out of the batch"
_engines = threading.local()


def looker() -> looking.MasterLooker:
    """The engine of this very thread: it does not stand being shared."""
    if not hasattr(_engines, "looker"):
        _engines.looker = looking.MasterLooker()
    kept: looking.MasterLooker = _engines.looker
    return kept


def plan_one(task: MasterTask) -> MasterDone:
    """Bring one master up to date, in whatever process this is; finish it, if it is asked for."""
    return bring_up_and_finish(task, looker())


def spread_over(crew: Crew | None, stop: Stop) -> Spread:
    """The work of a plan, done by ``crew`` (None: in this process) until somebody asks to stop."""

    def spread(tasks: Iterable[MasterTask]) -> Iterator[MasterDone]:
        if crew is None:
            work = one_by_one(looking.MasterLooker())
            for task in stop.until(tasks):
                yield from each_within(work([task]), LONGEST_S, str(task.name))
            return
        abroad_tasks = map(abroad, tasks)
        for came in crew.do(plan_one, abroad_tasks, until=stop.until, weight=size_of):
            yield _done(came)

    return spread


def abroad(task: MasterTask) -> MasterTask:
    """The same task for a process that stands in another folder."""
    return replace(task, file=task.file.absolute(), job=task.job.absolute())


def size_of(task: MasterTask) -> int:
    """Bytes of the picture: how long it will take, roughly; 0 when it is not there."""
    try:
        return task.file.stat().st_size
    except OSError:
        return 0


def _done(came: Came[MasterTask, MasterDone]) -> MasterDone:
    if came.result is not None:
        return came.result
    sentence = f"{came.task.name} could not be planned: {came.lost}. {PLAN_ALONE}"
    return MasterDone(file=came.task.name, version=came.task.version, failed=sentence)


def state_of(done: MasterDone) -> State:
    """What became of a master, in one of the words that are counted."""
    if done.failed or done.card is None:
        return State.FAILED
    if done.card.question or done.card.look_again:
        return State.EYE
    return State.DONE if done.text is not None else State.AS_BEFORE
