"""Exporting by a crew: all files of one master are a task, noted down by the one run that asked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Final

from cropper.batch.here import LONGEST_S
from cropper.batch.stopping import Stop
from cropper.batch.telling import State
from cropper.batch.time_limit import each_within
from cropper.batch.work import Came, Crew
from cropper.job.exporting import Spread, in_turn
from cropper.job.making import FileMade, MasterOrder, make_files

EXPORT_AGAIN: Final = "Export again; what is done is kept"


def spread_over(
    crew: Crew | None, stop: Stop, hear: Callable[[FileMade], None] = lambda _: None
) -> Spread:
    """The work of an export, done by ``crew`` (None: in this process) until asked to stop.

    ``hear`` is told of every file before anybody else is.
    """

    def spread(orders: Iterable[MasterOrder]) -> Iterator[FileMade]:
        for made in _all(crew, stop, orders):
            hear(made)
            yield made

    return spread


def _all(crew: Crew | None, stop: Stop, orders: Iterable[MasterOrder]) -> Iterator[FileMade]:
    if crew is None:
        for order in stop.until(orders):
            yield from each_within(in_turn([order]), LONGEST_S, str(order.path))
        return
    # In their order, none ahead: an order's names are claimed when it is taken.
    for came in crew.do(make_files, map(_abroad, orders), until=stop.until, ahead=1):
        yield from _made(came)


def state_of(made: FileMade) -> State:
    """What became of a file, in one of the words that are counted."""
    if made.fault:
        return State.FAILED
    return State.DONE if made.fresh else State.AS_BEFORE


def _abroad(order: MasterOrder) -> MasterOrder:
    """The same order for a process that stands in another folder."""
    stage = order.stage.absolute() if order.stage else None
    return replace(order, path=order.path.absolute(), folder=order.folder.absolute(), stage=stage)


def _made(came: Came[MasterOrder, tuple[FileMade, ...]]) -> Iterable[FileMade]:
    if came.result is not None:
        return came.result
    sentence = f"{came.task.path} could not be exported: {came.lost}. {EXPORT_AGAIN}"
    return [FileMade(number=one.number, name=one.name, fault=sentence) for one in came.task.files]
