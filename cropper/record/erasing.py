"""Taking a person's name, address or words out of the record, history included, on request.

This is the one place that changes rows. Only free text is changed, and the same token stands for
the same words everywhere, so that a release still meets the pictures of its person. Which row
follows which stays as it was; a row of its own says that something was erased, when and by whom,
but not what.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final
from uuid import uuid4

from sqlalchemy import Connection, Row, Table, select, text, update

from cropper.errors import MisuseError, RecordError
from cropper.record import tables
from cropper.record.engines import reading, writing
from cropper.record.faults import spoken
from cropper.record.record import Record
from cropper.record.rows import Stamp, add

FREE_TEXT: Final = frozenset(
    {
        "address",
        "author",
        "file",
        "issue",
        "job",
        "note",
        "notes",
        "owner",
        "page",
        "people",
        "person",
        "scope",
        "text",
        "who",
        "why",
        "wording",
    }
)
"""Parts of a value that hold what somebody wrote. Names of versions, outlets, sets and questions
are not among them: other rows and files go by them."""
FEWEST_LETTERS: Final = 2
UNDONE: Final = "Nothing was erased"


@dataclass(frozen=True, slots=True, kw_only=True)
class Erasure:
    """What a row about an erasure says: how many rows of which table, and what stands there now."""

    stands_for_it: str
    rows: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    whole_remarks: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Occurrences:
    """Where words stand: rows of each table that can be erased; names that hold them and stay.

    ``copies`` are files beside the record that hold an earlier state of it.
    """

    rows: Mapping[str, int]
    names: tuple[str, ...]
    copies: tuple[Path, ...]


def occurrences(record: Record, words: str) -> Occurrences:
    """Where ``words`` stand in the record, its history and its remarks."""
    pattern, rows, names = _pattern(words), Counter[str](), set[str]()
    with reading(record.engine, record.address) as connection:
        for table, row in _rows(connection):
            rows[table.name] += _changed(row, table, pattern, "", whole_remarks=False) is not None
            names |= {told for told in _names(row.body) if pattern.search(told)}
    found = {name: count for name, count in rows.items() if count}
    return Occurrences(rows=found, names=tuple(sorted(names)), copies=_copies(record))


def erase(record: Record, words: str, stamp: Stamp, *, whole_remarks: bool = False) -> Erasure:
    """Put a token in the place of ``words`` everywhere, all or nothing; says what was done.

    With ``whole_remarks``, remarks that speak of it or were written by it lose all their text.
    Raises :class:`RecordError` when the record holds no such words.
    """
    pattern, token = _pattern(words), f"[erased {uuid4().hex[:6]}]"
    rows = Counter[str]()
    with writing(record.engine, record.address) as connection:
        if record.address.file is not None:
            connection.execute(text("PRAGMA secure_delete = ON"))
        for table, row in list(_rows_with(connection, pattern)):
            changed = _changed(row, table, pattern, token, whole_remarks=whole_remarks)
            if changed is not None:
                connection.execute(
                    update(table).where(table.c.entry == row.entry).values(**changed)
                )
                rows[table.name] += 1
        if not rows:
            raise RecordError("the record holds no such words", way_out="Check how they are spelt")
        done = Erasure(stands_for_it=token, rows=dict(rows), whole_remarks=whole_remarks)
        add(connection, tables.erasure, done, stamp, thread=token)
    _scrub(record, rows)
    return done


def _pattern(words: str) -> re.Pattern[str]:
    """The words as they may be written: in any case, with any space between them."""
    parts = words.split()
    if len("".join(parts)) < FEWEST_LETTERS:
        raise MisuseError("that is too short to be erased", way_out=f"Give a name; {UNDONE}")
    told = r"\s+".join(re.escape(part) for part in parts)
    return re.compile(rf"(?<!\w){told}(?!\w)", re.IGNORECASE)


def _rows(connection: Connection) -> Iterator[tuple[Table, Row[Any]]]:
    for table in tables.TABLES.values():
        for row in connection.execute(select(table)):
            yield table, row


def _rows_with(
    connection: Connection, pattern: re.Pattern[str]
) -> Iterator[tuple[Table, Row[Any]]]:
    for table, row in _rows(connection):
        if _changed(row, table, pattern, "", whole_remarks=False) is not None:
            yield table, row


def _changed(
    row: Row[Any], table: Table, pattern: re.Pattern[str], token: str, *, whole_remarks: bool
) -> dict[str, Any] | None:
    """The columns of ``row`` with the words taken out; None when it does not hold them."""
    body = {
        key: _without(value, pattern, token) if key in FREE_TEXT else value
        for key, value in row.body.items()
    }
    columns = {"recorded_by": row.recorded_by, "why": row.why}
    if table.name == tables.release.name:
        columns["thread"] = row.thread
    new = {key: pattern.sub(token, value) for key, value in columns.items()}
    if body == row.body and new == columns:
        return None
    if whole_remarks and table.name == tables.remark.name:
        body["text"] = token
    return {**new, "body": body}


def _without(value: Any, pattern: re.Pattern[str], token: str) -> Any:
    if isinstance(value, str):
        return pattern.sub(token, value)
    if isinstance(value, list):
        return [_without(one, pattern, token) for one in value]
    return value


def _names(body: Mapping[str, Any]) -> Iterator[str]:
    """The names in a value by which others go."""
    for key, value in body.items():
        if key not in FREE_TEXT:
            yield from (
                one
                for one in (value if isinstance(value, list) else [value])
                if isinstance(one, str)
            )


def _scrub(record: Record, touched: Mapping[str, int]) -> None:
    """Leave no trace of the old rows in the database's own files."""
    with spoken(record.address), record.engine.connect() as connection:
        if record.address.file is not None:
            raw = connection.connection.driver_connection
            assert raw is not None  # noqa: S101 - an open connection has one
            raw.execute("VACUUM")
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            return
        alone = connection.execution_options(isolation_level="AUTOCOMMIT")
        for name in touched:
            alone.execute(text(f'VACUUM FULL "{name}"'))


def _copies(record: Record) -> tuple[Path, ...]:
    file = record.address.file
    if file is None:
        return ()
    return tuple(sorted(file.parent.glob(f"{file.name}.before-*")))
