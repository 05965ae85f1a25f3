"""The tables of a record, the same on SQLite and PostgreSQL.

Every table keeps history the same way. A row is never changed and never deleted: ``id`` is the
row's own name, ``thread`` what the row is about (a run, a licence, an outlet's name ...), and
``supersedes`` the row that this one takes the place of. A row that no other supersedes is what
counts now. ``supersedes`` is unique: of two seats that correct one row at once, the second is told.

``body`` is the whole value (see :mod:`cropper.record.bodies`); the other columns repeat what
questions search by. Instants are UTC; as text they sort as the instants do.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import (
    JSON,
    BigInteger,
    Column,
    Dialect,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)
from sqlalchemy.types import TypeDecorator, TypeEngine

METADATA: Final = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

INSTANT_LETTERS: Final = 27
"""Of ``2026-03-01T00:00:00.000000Z``."""


class Instant(TypeDecorator[datetime]):
    """An aware instant, in UTC: a timestamp with time zone, or 27 characters in SQLite."""

    impl = String(INSTANT_LETTERS)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """PostgreSQL has instants of its own."""
        if dialect.name == "postgresql":
            from sqlalchemy.dialects import postgresql  # noqa: PLC0415 - a file never pays for it

            return dialect.type_descriptor(postgresql.TIMESTAMP(timezone=True))
        return dialect.type_descriptor(String(INSTANT_LETTERS))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """Refuse an instant without a zone: it would be a guess."""
        if value is None:
            return None
        if value.tzinfo is None:
            message = f"{value!r} has no zone"
            raise ValueError(message)
        in_utc = value.astimezone(UTC)
        return in_utc if dialect.name == "postgresql" else written(in_utc)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Aware and UTC again."""
        if value is None:
            return None
        if dialect.name == "postgresql":
            return value.astimezone(UTC)  # type: ignore[no-any-return]
        return datetime.fromisoformat(value)


def written(at: datetime) -> str:
    """An instant as text that sorts as instants do (years of four digits, no exceptions)."""
    return at.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def _name(name: str, *, index: bool = True) -> Column[str]:
    return Column(name, Text, nullable=False, default="", index=index)


def _kept(name: str, *columns: Column[Any]) -> Table:
    """A table with history."""
    return Table(
        name,
        METADATA,
        Column("entry", BigInteger().with_variant(Integer, "sqlite"), primary_key=True),
        Column("id", String(32), nullable=False, unique=True),
        Column("thread", Text, nullable=False, index=True),
        Column("supersedes", String(32), ForeignKey(f"{name}.id"), unique=True),
        Column("recorded_at", Instant, nullable=False),
        Column("recorded_by", Text, nullable=False, default=""),
        Column("why", Text, nullable=False, default=""),
        *columns,
        Column("body", JSON, nullable=False),
    )


outlet = _kept("outlet")
piece = _kept("piece", _name("version"), _name("set_name"), _name("master_sha256"))
run = _kept(
    "run",
    _name("piece"),
    _name("version"),
    _name("set_name"),
    _name("outlet"),
    Column("start", Instant, nullable=False),
    Column("until", Instant),
)
licence = _kept("licence", _name("version"), _name("set_name"), _name("outlet"))
release = _kept("release")
set_rules = _kept("set_rules")
barred = _kept("barred")
question = _kept("question", _name("set_name"))
tally = _kept("tally", _name("set_name"))
erasure = _kept("erasure")
remark = _kept("remark", _name("set_name", index=False), _name("question"))

Index("ix_run_start_until", run.c.start, run.c.until)

TABLES: Final = {table.name: table for table in METADATA.sorted_tables}
