"""Many runs in one step: checked one by one against what is known, read and added in batches.

A run that clashes with nothing is found so in the time that a look into a sorted list takes: of
each set, version and audience group only the stretches are kept in which people meet it, joined
where they touch. Only a run that may clash is judged against everything, as one that is typed is.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from itertools import islice
from typing import Any, Final

from sqlalchemy import Connection

from cropper.errors import CropperError, RecordError
from cropper.publication.clashes import clashes
from cropper.publication.dates import said, typed
from cropper.publication.facts import Asked, Facts
from cropper.publication.licences import Licence, LicenceKind
from cropper.publication.outlets import Outlet
from cropper.publication.runs import Piece, Run
from cropper.publication.spans import Span
from cropper.record import tables
from cropper.record.checking import checked, run_row
from cropper.record.reading import about, at_home, read_facts, read_homes, run_of
from cropper.record.rows import Stamp, add_many, among, counting

BATCH: Final = 2_000
"""Runs looked at together (house: flat memory, few questions to the database)."""
ID_LETTERS: Final = 10
FOR_EVER: Final = datetime.max.replace(tzinfo=UTC)

Told = tuple[int, bool | CropperError]
"""A row's number, and whether it was added (False: known already), or what is wrong with it."""


def take(
    connection: Connection, runs: Iterable[tuple[int, Run | CropperError]], stamp: Stamp
) -> Iterator[Told]:
    """Keep every run that may be kept; say what came of each, in order."""
    ahead = iter(runs)
    known = _Known(connection, stamp)
    while batch := list(islice(ahead, BATCH)):
        known.learn([run for _, run in batch if isinstance(run, Run)])
        for number, run in batch:
            if isinstance(run, CropperError):
                yield number, run
                continue
            try:
                yield number, known.take(run)
            except CropperError as error:
                yield number, error
        known.write()


def own_id(run: Run) -> str:
    """The number of a run whose row gives none: the same row has the same number every time."""
    place = (run.version, run.piece, run.outlet, run.span.start.isoformat())
    told = "\n".join((*place, run.issue, run.page, run.address))
    return sha256(told.encode()).hexdigest()[:ID_LETTERS]


class _Stretches:
    """Stretches of time, joined where they meet or overlap, in order."""

    __slots__ = ("_ends", "_starts")

    def __init__(self) -> None:
        self._starts: Final[list[datetime]] = []
        self._ends: Final[list[datetime]] = []

    def add(self, span: Span) -> None:
        start, end = span.start, span.until or FOR_EVER
        first, last = bisect_left(self._ends, start), bisect_right(self._starts, end)
        if first < last:
            start, end = min(start, self._starts[first]), max(end, self._ends[last - 1])
        self._starts[first:last], self._ends[first:last] = [start], [end]

    def meets(self, span: Span) -> bool:
        """Whether ``span`` has an instant in common with one of them."""
        at = bisect_right(self._ends, span.start)
        return at < len(self._starts) and self._starts[at] < (span.until or FOR_EVER)


class _Known:
    """What is known about the runs so far, growing as they are taken."""

    def __init__(self, connection: Connection, stamp: Stamp) -> None:
        self._connection, self._stamp = connection, stamp
        self._ground: Final = read_facts(connection, Asked(versions=("",)), None)
        self._homes: Final[dict[str, frozenset[str]]] = {}
        self._pieces: Final[dict[str, Piece]] = {}
        self._piece_of: Final[dict[str, Piece]] = {}
        self._licences: Final[defaultdict[str, dict[str, Licence]]] = defaultdict(dict)
        self._met: Final[defaultdict[str, defaultdict[str, defaultdict[str, _Stretches]]]] = (
            defaultdict(lambda: defaultdict(lambda: defaultdict(_Stretches)))
        )
        """By set, version and audience group, when people meet it."""
        self._first: Final[defaultdict[str, dict[str, Run]]] = defaultdict(dict)
        """By outlet and version, the earliest run: a first use asks for it."""
        self._recorded: dict[str, Run] = {}
        self._there: defaultdict[tuple[str, str, datetime], list[Run]] = defaultdict(list)
        self._rows: list[dict[str, Any]] = []

    def learn(self, runs: list[Run]) -> None:
        """Read what the record holds about the versions of ``runs`` and about these very runs."""
        self._learn_versions({run.version for run in runs} - self._homes.keys())
        self._recorded = {}
        self._there = defaultdict(list)
        run = tables.run.c
        ids = [one.id or own_id(one) for one in runs]
        loose = [one for one in runs if not one.id]
        versions, starts = {one.version for one in loose}, {one.span.start for one in loose}
        alike = among(run.version, sorted(versions)) & among(run.start, sorted(starts))
        for wanted in (among(run.thread, ids), alike):
            for row in self._connection.execute(counting(tables.run).where(wanted)):
                self._remember(at_home(run_of(row), self._homes))

    def _learn_versions(self, versions: set[str]) -> None:
        """Everything about versions not seen before, and about those they share a set with."""
        if not versions:
            return
        homes = read_homes(self._connection, versions, self._ground.sets, None)
        sets = {name for names in homes.values() for name in names} - self._met.keys()
        facts = read_facts(
            self._connection,
            Asked(versions=tuple(sorted(versions)), sets=tuple(sorted(sets))),
            None,
            self._ground,
        )
        new = {*versions, *facts.homes} - self._homes.keys()
        self._homes.update({name: facts.homes.get(name, frozenset()) for name in new})
        for piece in facts.pieces:
            self._pieces[piece.sha256] = piece
            self._piece_of.setdefault(piece.version, piece)
        for one in facts.licences:
            self._licences[one.version or f"set {one.set}"][one.id] = one
        for name in sets:
            self._met[name]  # known from now on, though nothing of it may have run
        for run in facts.runs:
            if run.version in new:
                self._count(run)

    def take(self, run: Run) -> bool:
        """Keep a run; False when it is recorded already. Raises for one that may not be kept."""
        run = at_home(run, self._homes)
        if not run.id:
            if self._told_before(run):
                return False
            run = replace(run, id=own_id(run))
            if run.id in self._recorded:
                return False
        before = self._recorded.get(run.id)
        if before is not None:
            if replace(before, recorded_at=None) == replace(run, recorded_at=None):
                return False
            raise RecordError(f"a run '{run.id}' is recorded already, and differs")
        facts = self._facts_for(run)
        if self._meets_a_rival(run) or (facts.outlet(run.outlet) and clashes(run, facts)):
            self.write()
            facts = read_facts(self._connection, about(self._connection, run), None, self._ground)
        checked(run, facts)
        self._rows.append(run_row(run, self._stamp))
        self._remember(run)
        self._count(run)
        return True

    def write(self) -> None:
        """Add the runs that were taken since the last time."""
        add_many(self._connection, tables.run, self._rows)
        self._rows = []

    def _told_before(self, run: Run) -> bool:
        """Whether a run without a number is on record; raises when that one ends otherwise."""
        for one in self._there[run.version, run.outlet, run.span.start]:
            if not one.counts or not _may_be_one(run, one):
                continue
            until, its = run.span.until, one.span.until
            if until is None or until == its or one.revision:
                return True
            ends = "has no end" if its is None else f"ends {said(its, one.zone)}"
            raise RecordError(
                f"this is recorded already as run {one.id}, which {ends}",
                way_out=f"If it ends otherwise: cropper record correct {one.id} --until"
                f" {typed(until, one.zone)}",
            )
        return False

    def _remember(self, run: Run) -> None:
        self._recorded[run.id] = run
        self._there[run.version, run.outlet, run.span.start].append(run)

    def _facts_for(self, run: Run) -> Facts:
        """All that the rules ask for but rivals, of which :meth:`_meets_a_rival` knows."""
        piece = self._pieces.get(run.piece) or self._piece_of.get(run.version)
        licences = self._licences_of(run.version)
        holders = {one.outlet for one in licences if one.kind is LicenceKind.FIRST_USE}
        return replace(
            self._ground,
            runs=tuple(one for name in holders for one in self._first[name].values()),
            pieces=() if piece is None else (piece,),
            licences=licences,
            homes=self._homes,
        )

    def _licences_of(self, version: str) -> tuple[Licence, ...]:
        """The licences about a version, itself or through a set."""
        sets = self._homes.get(version, frozenset())
        return tuple(
            one
            for about in (version, *(f"set {name}" for name in sets))
            for one in self._licences[about].values()
            if one.covers(version, sets)
        )

    def _meets_a_rival(self, run: Run) -> bool:
        outlet = self._ground.outlet(run.outlet)
        if outlet is None or not run.counts:
            return False
        seen, groups = run.seen_in(outlet), _groups(outlet)
        for name in self._sets_of(run):
            rules = self._ground.sets.get(name)
            near = seen.widened(rules.rest if rules else timedelta(0))
            for version, met in self._met[name].items():
                if version != run.version and any(
                    met[group].meets(near) for group in groups if group in met
                ):
                    return True
        return False

    def _sets_of(self, run: Run) -> frozenset[str]:
        return self._homes.get(run.version, frozenset()) | ({run.set} if run.set else frozenset())

    def _count(self, run: Run) -> None:
        """Let a run take up its place, for those that come after it."""
        outlet = self._ground.outlet(run.outlet)
        if outlet is None or not run.counts:
            return
        seen = run.seen_in(outlet)
        for name in self._sets_of(run):
            for group in _groups(outlet):
                self._met[name][run.version][group].add(seen)
        first = self._first[run.outlet].get(run.version)
        if first is None or run.span.start < first.span.start:
            self._first[run.outlet][run.version] = run


def _groups(outlet: Outlet) -> tuple[str, ...]:
    """Who looks there; an outlet shares its own people with itself, whatever they are called."""
    return (*outlet.audience, f"at {outlet.name}")


def _may_be_one(run: Run, other: Run) -> bool:
    """Whether two runs of one version, outlet and start may be the same: what both say agrees."""
    told = zip(_place(run), _place(other), strict=True)
    return all(not mine or not its or mine == its for mine, its in told)


def _place(run: Run) -> tuple[str, ...]:
    return (run.piece, run.issue, run.page, run.address)
