"""Many runs in one step: checked one by one against what is known, read and added in batches."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import islice
from typing import Any, Final

from sqlalchemy import Connection

from cropper.errors import CropperError, RecordError
from cropper.publication.facts import Asked, Facts
from cropper.publication.runs import Run
from cropper.record import tables
from cropper.record.checking import checked, run_row
from cropper.record.reading import read_facts, run_of
from cropper.record.rows import Stamp, add_many, among, counting

BATCH: Final = 2_000
"""Runs looked at together (house: flat memory, few questions to the database)."""

Told = tuple[int, bool | CropperError]
"""A row's number, and whether it was added (False: known already), or what is wrong with it."""


def take(
    connection: Connection, runs: Iterable[tuple[int, Run | CropperError]], stamp: Stamp
) -> Iterator[Told]:
    """Keep every run that may be kept; say what came of each, in order."""
    ahead = iter(runs)
    ground = read_facts(connection, Asked(versions=("",)), None)
    while batch := list(islice(ahead, BATCH)):
        good = [run for _, run in batch if isinstance(run, Run)]
        known = _Known(connection, good, ground)
        rows: list[dict[str, Any]] = []
        for number, run in batch:
            if isinstance(run, CropperError):
                yield number, run
                continue
            try:
                new = known.judge(run)
            except CropperError as error:
                yield number, error
                continue
            if new:
                rows.append(run_row(run, stamp))
            yield number, new
        add_many(connection, tables.run, rows)


class _Known:
    """What is known about the runs of one batch, growing as they are taken."""

    def __init__(self, connection: Connection, runs: list[Run], ground: Facts) -> None:
        versions = tuple({run.version for run in runs})
        sets = tuple({run.set for run in runs if run.set})
        self._facts: Final = read_facts(
            connection, Asked(versions=versions, sets=sets), None, ground
        )
        self._pieces: Final = {one.sha256: one for one in self._facts.pieces}
        self._by_idea: Final = defaultdict[str, list[Run]](list)
        for run in self._facts.runs:
            self._by_idea[_idea(run)].append(run)
        self._recorded: Final = _recorded(connection, runs)

    def judge(self, run: Run) -> bool:
        """Whether it is new and may be kept; raises for one that may not."""
        before = self._recorded.get(run.id)
        if before is not None:
            if replace(before, recorded_at=None) == replace(run, recorded_at=None):
                return False
            raise RecordError(f"a run '{run.id}' is recorded already, and differs")
        piece = self._pieces.get(run.piece)
        mine = replace(
            self._facts,
            runs=tuple(self._by_idea[_idea(run)]),
            pieces=self._facts.pieces if piece is None else (piece,),
        )
        checked(run, mine)
        self._by_idea[_idea(run)].append(run)
        self._recorded[run.id] = run
        return True


def _idea(run: Run) -> str:
    """Its set, or a version that belongs to none: no rule looks further."""
    return f"set {run.set}" if run.set else f"version {run.version}"


def _recorded(connection: Connection, runs: list[Run]) -> dict[str, Run]:
    ids = [run.id for run in runs]
    query = counting(tables.run).where(among(tables.run.c.thread, ids))
    return {row.thread: run_of(row) for row in connection.execute(query)}
