"""Connections to the database of a record, and the two ways to use one: to read and to write.

A *reading* sees one instant of the record, whatever others record meanwhile. A *writing* holds the
record alone from its first statement, so that what it checks still holds when it adds: SQLite by
``BEGIN IMMEDIATE``, PostgreSQL by one advisory lock taken first in a READ COMMITTED transaction
(whose later statements see everything committed before the lock was had) [PostgreSQL manual, 13.2
"Transaction Isolation", 13.3.5 "Advisory Locks"; sqlite.org, "Transaction"].
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.pool import NullPool

from cropper.record.address import Address
from cropper.record.faults import spoken

PATIENCE_S: Final = 15.0
"""How long to wait for another seat before saying that it is locked (house value)."""

SEAT_LOCK: Final = 0x63726F70
"""The one advisory lock that all who write into a record take ("crop" in ASCII)."""

OURS: Final = 0x43524F50
"""SQLite's application_id of a record ("CROP"); `file` and others can tell it by that."""


def engine_for(address: Address, *, patience_s: float = PATIENCE_S) -> Engine:
    """An engine that opens a connection when one is needed and keeps none."""
    if address.file is not None:
        return _sqlite(address, patience_s)
    return _postgres(address, patience_s)


def _sqlite(address: Address, patience_s: float) -> Engine:
    file = address.file
    if file is None:
        message = "not a file"
        raise ValueError(message)
    engine = create_engine(
        "sqlite://",
        creator=lambda: _sqlite_connection(str(file.absolute()), patience_s),
        poolclass=NullPool,
        hide_parameters=True,
    )
    event.listen(engine, "begin", _begin)
    return engine


def _sqlite_connection(file: str, patience_s: float) -> Any:
    """A connection with our pragmas, and no transactions begun behind our back."""
    import sqlite3  # noqa: PLC0415 - beside its one use

    writable = _writable(Path(file))
    quoted = file.replace("%", "%25").replace("?", "%3f").replace("#", "%23")
    mode = "rwc" if writable else "ro" + "&immutable=1" * _settled(Path(file))
    connection = sqlite3.connect(
        f"file:{quoted}?mode={mode}", uri=True, timeout=patience_s, isolation_level=None
    )
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        if writable:
            connection.execute("PRAGMA journal_mode = WAL")
    except BaseException:
        connection.close()
        raise
    return connection


def _writable(file: Path) -> bool:
    """Whether SQLite could write: it makes files of its own beside ours."""
    if file.exists() and not os.access(file, os.W_OK):
        return False
    return not file.parent.exists() or os.access(file.parent, os.W_OK)


def _settled(file: Path) -> bool:
    """Whether nothing waits in the write-ahead log, so that a file nobody can write is whole.

    Without the right to write beside it SQLite cannot read such a file otherwise [sqlite.org,
    "Write-Ahead Logging", section "Read-Only Databases"].
    """
    log = file.with_name(f"{file.name}-wal")
    return not log.exists() or log.stat().st_size == 0


def _begin(connection: Connection) -> None:
    how = connection.get_execution_options().get("begin_as", "BEGIN")
    connection.exec_driver_sql(how)


def _postgres(address: Address, patience_s: float) -> Engine:
    engine = create_engine(
        address.url,
        poolclass=NullPool,
        hide_parameters=True,
        connect_args={
            "connect_timeout": max(2, round(patience_s)),
            "application_name": "cropper",
        },
    )

    def settle(connection: Any, _: Any) -> None:
        with connection.cursor() as cursor:
            cursor.execute(f"SET lock_timeout = {round(patience_s * 1000)}")
            cursor.execute("SET TIME ZONE 'UTC'")
        connection.commit()

    event.listen(engine, "connect", settle)
    return engine


@contextmanager
def reading(engine: Engine, address: Address) -> Iterator[Connection]:
    """One instant of the record, read-only."""
    with spoken(address), engine.connect() as connection:
        if address.file is None:
            seen = connection.execution_options(
                isolation_level="REPEATABLE READ", postgresql_readonly=True
            )
        else:
            seen = connection
        with seen.begin():
            yield seen


@contextmanager
def writing(engine: Engine, address: Address) -> Iterator[Connection]:
    """The record held alone; everything added inside is kept together, or none of it."""
    with spoken(address), engine.connect() as connection:
        held = connection.execution_options(begin_as="BEGIN IMMEDIATE")
        with held.begin():
            if address.file is None:
                held.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": SEAT_LOCK})
            yield held
