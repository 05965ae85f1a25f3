"""The record: open it, add to it, ask it. Every addition is checked and kept in one step.

with open_record(address) as record:
    record.record_run(run, Stamp(at=now, by="R. Quillfeather"))
    facts = record.facts(Asked(sets=("shawl",)))
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from types import TracebackType
from typing import Any, Final, Self

from sqlalchemy import Connection, Engine, insert, select

from cropper.errors import CropperError, RecordError
from cropper.publication.bars import Rule
from cropper.publication.clashes import Clash, clashes
from cropper.publication.facts import EVERYTHING, Asked, Facts
from cropper.publication.licences import Licence
from cropper.publication.outlets import Outlet
from cropper.publication.releases import Release
from cropper.publication.responses import Count, Question, Remark, Responses
from cropper.publication.runs import Piece, Run, RunState, SetRules
from cropper.publication.settling import Unsettled, stays_up_beside, unsettled
from cropper.publication.spans import Span
from cropper.record import replies, settling, tables, taking
from cropper.record.address import Address
from cropper.record.barring import Barred
from cropper.record.bodies import value_of
from cropper.record.checking import NOTHING_DESPITE, checked, run_row
from cropper.record.engines import reading, writing
from cropper.record.reading import about, at_home, piece_of, read_facts, read_licences, run_of
from cropper.record.rows import Stamp, counting, keep_once, latest, must_find, streamed
from cropper.record.settling import Agreed


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A run as it was kept, and the rules it breaks all the same (``despite``)."""

    run: Run
    clashes: tuple[Clash, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One row of the history: what it is about, and whether a later row took its place."""

    kind: str
    thread: str
    recorded_at: datetime
    recorded_by: str
    why: str
    superseded: bool
    body: dict[str, Any]


class Record:
    """An open record. Use it as a context manager; each call is a step of its own."""

    def __init__(
        self,
        engine: Engine,
        address: Address,
        *,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
        seat: str = "",
        begun: bool = False,
    ) -> None:
        self.begun: Final = begun
        self.engine: Final = engine
        self.address: Final = address
        self._clock: Final = clock
        self._seat: Final = seat

    @property
    def stamp(self) -> Stamp:
        """Now, at this seat."""
        return Stamp(at=self._clock(), by=self._seat)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    # what it answers

    def facts(self, asked: Asked = EVERYTHING, *, known_at: datetime | None = None) -> Facts:
        """What counts now, or what was known at ``known_at``, narrowed to what is asked."""
        with reading(self.engine, self.address) as connection:
            return read_facts(connection, asked, known_at)

    def about(self, run: Run) -> Facts:
        """All that the rules need to judge ``run``."""
        with reading(self.engine, self.address) as connection:
            return read_facts(connection, about(connection, run), None)

    def beside(self, run: Run) -> tuple[str, ...]:
        """What is to be known of ``run`` although it breaks no rule, in sentences."""
        return stays_up_beside(run, self.about(run))

    def may(self, run: Run) -> tuple[Clash, ...]:
        """The rules that ``run`` would break; nothing is added."""
        return clashes(run, self.about(run))

    def run(self, run_id: str) -> Run:
        """The run of that id as it counts now; raises :class:`RecordError` when unknown."""
        with reading(self.engine, self.address) as connection:
            return run_of(must_find(connection, tables.run, run_id, "run"))

    def each_run(self) -> Iterator[Run]:
        """Every run that counts, one at a time, by its start."""
        run = tables.run.c
        with reading(self.engine, self.address) as connection:
            for row in streamed(connection, counting(tables.run).order_by(run.start, run.thread)):
                yield run_of(row)

    def piece(self, sha256: str) -> Piece | None:
        """The piece with that content, whatever its file is called now."""
        with reading(self.engine, self.address) as connection:
            row = latest(connection, tables.piece, sha256)
            return None if row is None else piece_of(row)

    def pieces_called(self, file: str) -> tuple[Piece, ...]:
        """Pieces delivered under that file name, for a file that is no longer at hand."""
        name = tables.piece.c.body["file"].as_string()
        with reading(self.engine, self.address) as connection:
            rows = connection.execute(counting(tables.piece).where(name == file)).all()
            return tuple(piece_of(row) for row in rows)

    def history(self, about: str | None = None) -> Iterator[Entry]:
        """Every row ever added, oldest first; of one thread, if named."""
        with reading(self.engine, self.address) as connection:
            found = [
                _entry(name, row)
                for name, table in tables.TABLES.items()
                if name != tables.remark.name
                for row in connection.execute(_history_of(table, about))
            ]
        yield from sorted(found, key=lambda one: one.recorded_at)

    def strangers(self, versions: Iterable[str]) -> tuple[str, ...]:
        """Those of ``versions`` of which the record knows no finished file and no set."""
        unknown = set(versions)
        with reading(self.engine, self.address) as connection:
            version = tables.piece.c.version
            files = counting(tables.piece).with_only_columns(version)
            unknown.difference_update(connection.execute(files).scalars())
            for row in connection.execute(counting(tables.set_rules)):
                unknown.difference_update(value_of(SetRules, row.body).versions)
        return tuple(sorted(unknown))

    # what is added

    def keep_outlets(self, outlets: Iterable[Outlet], stamp: Stamp) -> tuple[str, ...]:
        """Add outlets, or correct those that say something new; names of what changed."""
        return self._keep(tables.outlet, {one.name: one for one in outlets}, stamp)

    def take_in(self, pieces: Iterable[Piece], stamp: Stamp) -> tuple[str, ...]:
        """Know finished files from now on; digests of those that are new or say something new."""
        with writing(self.engine, self.address) as connection:
            new = {one.sha256: one for one in pieces}
            return tuple(
                sha256
                for sha256, piece in new.items()
                if keep_once(connection, tables.piece, sha256, piece, stamp, **_found(piece))
            )

    def keep_set(self, rules: SetRules, stamp: Stamp) -> bool:
        """Name a set's versions and its rest; whether that says anything new."""
        return bool(self._keep(tables.set_rules, {rules.name: rules}, stamp))

    def keep_release(self, release: Release, stamp: Stamp) -> bool:
        """Add or correct a person's release; whether that says anything new."""
        return bool(self._keep(tables.release, {release.person: release}, stamp))

    def keep_licence(self, licence: Licence, stamp: Stamp) -> bool:
        """Add or correct a licence; whether that says anything new."""
        with writing(self.engine, self.address) as connection:
            return settling.keep(connection, licence, stamp)

    def bar(self, version: str, why: str, stamp: Stamp) -> bool:
        """Let a version run nowhere (``why`` says it), or again (``why`` empty)."""
        return bool(self._keep(tables.barred, {version: Barred(version=version, why=why)}, stamp))

    def record_run(
        self, run: Run, stamp: Stamp, *, despite: Mapping[Rule, str] = NOTHING_DESPITE
    ) -> Recorded:
        """Check ``run`` and keep it, in one step that no other seat can come between.

        Raises :class:`RivalsError` for a clash whose rule ``despite`` does not excuse with a
        reason; the reasons are kept. Nothing is added then.
        """
        with writing(self.engine, self.address) as connection:
            if latest(connection, tables.run, run.id) is not None:
                raise RecordError(
                    f"a run '{run.id}' is recorded already",
                    way_out="Correct it: cropper record correct",
                )
            return self._kept_run(connection, run, stamp, despite=despite)

    def take_runs(
        self, runs: Iterable[tuple[int, Run | CropperError]], stamp: Stamp
    ) -> Iterator[tuple[int, bool | CropperError]]:
        """Keep many numbered runs in one step; a faulty or clashing one stops none of the others.

        Yields each number with True (kept), False (known already) or what is wrong. Everything is
        kept once the last has been heard, or nothing.
        """
        with writing(self.engine, self.address) as connection:
            yield from taking.take(connection, runs, stamp)

    def correct_run(
        self,
        run_id: str,
        stamp: Stamp,
        *,
        despite: Mapping[Rule, str] = NOTHING_DESPITE,
        **changes: Any,
    ) -> Recorded:
        """Put a corrected run in the place of what was known; the old row stays in the history."""
        with writing(self.engine, self.address) as connection:
            row = must_find(connection, tables.run, run_id, "run")
            before = run_of(row)
            run = replace(before, **changes, revision=before.revision + 1, recorded_at=None)
            return self._kept_run(
                connection, run, stamp, supersedes=row.id, before=before, despite=despite
            )

    def end_run(self, run_id: str, at: datetime, stamp: Stamp) -> Recorded:
        """Let a run end at ``at``; one that clashes by now may always end earlier."""
        before = self.run(run_id)
        state = RunState.ENDED if at <= stamp.at else before.state
        return self.correct_run(run_id, stamp, span=Span(before.span.start, at), state=state)

    def withdraw_run(self, run_id: str, stamp: Stamp) -> Recorded:
        """Call a run off; it counts for nothing any more, and stays in the history."""
        return self.correct_run(run_id, stamp, state=RunState.WITHDRAWN)

    def agree(
        self, value: Licence | Release | SetRules | Barred, stamp: Stamp, *, anyway: str = ""
    ) -> Agreed:
        """Keep an agreement, and tell which recorded runs it clashes with.

        Raises :class:`RivalsError` when there are any, with what to take down by when; nothing is
        kept then, unless ``anyway`` says why it is kept all the same.
        """
        with writing(self.engine, self.address) as connection:
            return settling.agree(connection, value, stamp, anyway=anyway)

    def unsettled(self, asked: Asked, at: datetime) -> tuple[Unsettled, ...]:
        """The clashes of recorded runs that call for something at ``at``."""
        with reading(self.engine, self.address) as connection:
            return unsettled(read_facts(connection, asked, None), at)

    def licences(self) -> tuple[Licence, ...]:
        """Every licence, also those called off or over, in the order they were recorded."""
        with reading(self.engine, self.address) as connection:
            return read_licences(connection)

    # what came back

    def responses(self, set_name: str) -> Responses:
        """All questions and counts of a set."""
        with reading(self.engine, self.address) as connection:
            return replies.read_responses(connection, set_name)

    def add_question(self, question: Question) -> None:
        """Keep a question; raises :class:`MisuseError` when its name is taken."""
        with writing(self.engine, self.address) as connection:
            replies.add_question(connection, question, self.stamp)

    def add_counts(self, counts: Sequence[Count]) -> None:
        """Keep counts, all or none."""
        with writing(self.engine, self.address) as connection:
            replies.add_counts(connection, counts, self.stamp)

    def add_remarks(self, remarks: Iterable[Remark]) -> int:
        """Keep remarks, all or none; how many were not there yet (by source and row)."""
        with writing(self.engine, self.address) as connection:
            return replies.add_remarks(connection, remarks, self.stamp)

    def remarks(self, set_name: str, question: str) -> Iterator[Remark]:
        """A question's remarks, one at a time."""
        with reading(self.engine, self.address) as connection:
            yield from replies.read_remarks(connection, set_name, question)

    def _kept_run(
        self,
        connection: Connection,
        run: Run,
        stamp: Stamp,
        *,
        supersedes: str | None = None,
        before: Run | None = None,
        despite: Mapping[Rule, str] = NOTHING_DESPITE,
    ) -> Recorded:
        facts = read_facts(connection, about(connection, run), None)
        run = at_home(run, facts.homes)
        broken = checked(run, facts, despite, before=before)
        excused = tuple(
            f"despite {one.rule}: {despite[one.rule]}" for one in broken if despite.get(one.rule)
        )
        spared = {(one.rule.value, one.against) for one in broken if despite.get(one.rule)}
        run = replace(run, excused=tuple(sorted({*run.excused, *spared})))
        row = run_row(run, stamp, supersedes=supersedes, excused=excused)
        connection.execute(insert(tables.run), row)
        return Recorded(run=replace(run, recorded_at=stamp.at), clashes=broken)

    def _keep(
        self, table: Any, values: Mapping[str, Any], stamp: Stamp, **found: Any
    ) -> tuple[str, ...]:
        with writing(self.engine, self.address) as connection:
            return tuple(
                thread
                for thread, value in values.items()
                if keep_once(connection, table, thread, value, stamp, **found)
            )


def _found(piece: Piece) -> dict[str, str]:
    return {
        "version": piece.version,
        "set_name": piece.set or "",
        "master_sha256": piece.master_sha256,
    }


def _history_of(table: Any, about: str | None) -> Any:
    later = table.alias("later")
    taken = select(1).where(later.c.supersedes == table.c.id).exists().label("superseded")
    query = select(table, taken).order_by(table.c.entry)
    return query if about is None else query.where(table.c.thread == about)


def _entry(kind: str, row: Any) -> Entry:
    return Entry(
        kind=kind,
        thread=row.thread,
        recorded_at=row.recorded_at,
        recorded_by=row.recorded_by,
        why=row.why,
        superseded=bool(row.superseded),
        body=row.body,
    )
