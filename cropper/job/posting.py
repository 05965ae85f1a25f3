"""From a job's export to the record: which of its files run where, as ``outlets.toml`` says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final
from uuid import uuid4

from cropper.errors import MisuseError, RivalsError
from cropper.job.outlets import read_outlets
from cropper.publication.dates import read_instant, zone_called
from cropper.publication.facts import Asked
from cropper.publication.outlets import Outlet
from cropper.publication.runs import Piece, Run, RunState
from cropper.publication.spans import Span

if TYPE_CHECKING:
    from cropper.record import Record, Stamp

LONGEST_PLAN: Final = timedelta(days=732)
"""A posting plan looks so far ahead for a free day (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Posting:
    """What is asked for. ``every_days`` None: everything starts on the first day."""

    job: Path
    start: str
    until: str | None = None
    zone: str | None = None
    outlets: tuple[str, ...] = ()
    every_days: int | None = None
    planned: bool = False
    who: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Posted:
    """One file at one outlet: the run that was recorded, or why there is none."""

    file: str
    outlet: str
    run: Run | None = None
    why_not: str = ""
    known: bool = False


def post(record: Record, posting: Posting, stamp: Stamp) -> Iterator[Posted]:
    """Record a run of each of the job's files at each outlet that takes its destination.

    A file that has a run at an outlet already is told and left as it is, so that this may be done
    again after the next export. With ``every_days`` the files of an outlet follow one another in
    that rhythm, each on the first day on which it clashes with nothing. Raises
    :class:`MisuseError` when no file goes to a wanted outlet.
    """
    from cropper.record.naming import pieces_of_job, zone_for  # noqa: PLC0415 - the database

    where = read_outlets(posting.job)
    pieces = [record.piece(one.sha256) or one for one in pieces_of_job(posting.job, {})]
    names = posting.outlets or tuple(sorted(where.outlets))
    known = record.facts(Asked(versions=("",))).outlets
    for name in names:
        if name not in known:
            listed = ", ".join(sorted(known)) or "none yet"
            raise MisuseError(f"the record knows no outlet '{name}'", way_out=f"Known: {listed}")
    taken = {
        name: [one for one in pieces if name in where.runs_in.get(one.destination, ())]
        for name in names
    }
    if not any(taken.values()):
        raise MisuseError(
            f"no finished file of {posting.job} goes to {', '.join(names) or 'an outlet'}",
            way_out="Say in its outlets.toml, under [destinations], which destination runs where",
        )
    for name, files in taken.items():
        zone = zone_for(known[name], posting.zone)
        yield from _Line(record, known[name], zone, posting).post(files, stamp)


@dataclass(frozen=True, slots=True)
class _Line:
    """The files that one outlet gets, in order."""

    record: Record
    outlet: Outlet
    zone: str
    posting: Posting

    def post(self, files: Sequence[Piece], stamp: Stamp) -> Iterator[Posted]:
        """Record what is not there yet, on the days that are free."""
        asked = Asked(outlets=(self.outlet.name,), pieces=tuple(one.sha256 for one in files))
        ran = {one.piece for one in self.record.facts(asked).runs if one.counts}
        for piece in files:
            if piece.sha256 in ran:
                yield Posted(file=piece.file, outlet=self.outlet.name, known=True)
        waiting = [piece for piece in files if piece.sha256 not in ran]
        for start in self._days():
            if not waiting:
                return
            if self.posting.every_days is None:
                for piece in waiting:
                    yield _recorded(self.record, self._run(piece, start, stamp), piece, stamp)
                return
            for piece in waiting:
                trial = self._run(piece, start, stamp)
                if not self.record.may(trial):
                    waiting.remove(piece)
                    yield _recorded(self.record, trial, piece, stamp)
                    break
        for piece in waiting:
            why = f"there is no free day within {LONGEST_PLAN.days} days"
            yield Posted(file=piece.file, outlet=self.outlet.name, why_not=why)

    def _days(self) -> Iterator[datetime]:
        """The starts on offer, at one time of the zone's day whenever its clocks change."""
        first = read_instant(self.posting.start, self.zone).astimezone(zone_called(self.zone))
        for number in range(0, LONGEST_PLAN.days, self.posting.every_days or LONGEST_PLAN.days):
            yield first + timedelta(days=number)  # on the wall clock, for the zone is a ZoneInfo

    def _run(self, piece: Piece, start: datetime, stamp: Stamp) -> Run:
        asked = self.posting
        until = None
        if asked.until is not None:
            first = read_instant(asked.start, self.zone)
            until = start + (read_instant(asked.until, self.zone) - first)
        planned = asked.planned or start > stamp.at
        return Run(
            id=uuid4().hex[:8],
            piece=piece.sha256,
            version=piece.version,
            set=piece.set,
            destination=piece.destination,
            outlet=self.outlet.name,
            span=Span(start, until),
            zone=self.zone,
            who=asked.who,
            note=asked.note,
            state=RunState.PLANNED if planned else RunState.LIVE,
        )


def _recorded(record: Record, run: Run, piece: Piece, stamp: Stamp) -> Posted:
    try:
        kept = record.record_run(run, stamp).run
    except RivalsError as error:
        return Posted(file=piece.file, outlet=run.outlet, why_not=str(error))
    return Posted(file=piece.file, outlet=run.outlet, run=kept)
