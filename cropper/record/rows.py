"""Rows: adding one, and reading those that count, now or as it was known at an instant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from itertools import islice
from typing import Any, Final
from uuid import uuid4

from sqlalchemy import ColumnElement, Connection, Row, Select, Table, insert, or_, select

from cropper.errors import RecordError
from cropper.record.bodies import body_of, value_of

AT_ONCE: Final = 5_000
"""Rows added in one statement: keeps memory flat while millions stream in."""
IN_A_LIST: Final = 500
"""Names in one condition (SQLite takes 32,766 variables; long lists are asked in pieces)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """When a row is added, by whom, and why (for corrections)."""

    at: datetime
    by: str = ""
    why: str = ""


def add(
    connection: Connection,
    table: Table,
    value: object,
    stamp: Stamp,
    *,
    thread: str,
    supersedes: str | None = None,
    **found_by: Any,
) -> str:
    """Add one row; returns its id."""
    row = row_of(value, stamp, thread=thread, supersedes=supersedes, **found_by)
    connection.execute(insert(table), row)
    return str(row["id"])


def row_of(
    value: object, stamp: Stamp, *, thread: str, supersedes: str | None = None, **found_by: Any
) -> dict[str, Any]:
    """A row's columns, its id new."""
    return {
        "id": uuid4().hex,
        "thread": thread,
        "supersedes": supersedes,
        "recorded_at": stamp.at,
        "recorded_by": stamp.by,
        "why": stamp.why,
        "body": body_of(value),
        **found_by,
    }


def keep_once(
    connection: Connection, table: Table, thread: str, value: object, stamp: Stamp, **found: Any
) -> bool:
    """Add ``value`` unless the thread says just that already; whether it was added."""
    before = latest(connection, table, thread)
    if before is not None and value_of(type(value), before.body) == value:
        return False
    supersedes = None if before is None else before.id
    add(connection, table, value, stamp, thread=thread, supersedes=supersedes, **found)
    return True


def add_many(connection: Connection, table: Table, rows: Iterable[Mapping[str, Any]]) -> int:
    """Add rows as they come, so many at a time; returns how many."""
    total, ahead = 0, iter(rows)
    while batch := list(islice(ahead, AT_ONCE)):
        connection.execute(insert(table), batch)
        total += len(batch)
    return total


def counting(table: Table, known_at: datetime | None = None) -> Select[Any]:
    """The rows that no later one supersedes; those known at an instant, if one is given."""
    if known_at is None:
        return _counting_now(table)
    later = table.alias("later")
    over = later.c.supersedes == table.c.id
    over = over & (later.c.recorded_at <= known_at)
    return select(table).where(table.c.recorded_at <= known_at, ~select(1).where(over).exists())


@cache
def _counting_now(table: Table) -> Select[Any]:
    """Made once for each table: making it costs more than asking it."""
    later = table.alias("later")
    return select(table).where(~select(1).where(later.c.supersedes == table.c.id).exists())


def latest(connection: Connection, table: Table, thread: str) -> Row[Any] | None:
    """The row that counts of one thread; None when there is none."""
    return connection.execute(counting(table).where(table.c.thread == thread)).first()


def must_find(connection: Connection, table: Table, thread: str, what: str) -> Row[Any]:
    """As :func:`latest`; raises :class:`RecordError` when there is none."""
    row = latest(connection, table, thread)
    if row is None:
        raise RecordError(
            f"the record knows no {what} '{thread}'",
            way_out="`cropper record history` lists what it knows",
        )
    return row


def among(column: ColumnElement[Any], names: Sequence[Any]) -> ColumnElement[bool]:
    """Whether ``column`` holds one of ``names``, however many they are."""
    parts = [column.in_(names[at : at + IN_A_LIST]) for at in range(0, len(names), IN_A_LIST)]
    return or_(*parts) if parts else column.in_([])


def streamed(connection: Connection, query: Select[Any]) -> Iterator[Row[Any]]:
    """Rows one by one, without holding them all."""
    yield from connection.execution_options(yield_per=AT_ONCE).execute(query)
