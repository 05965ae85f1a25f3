"""The columns that every kept table has, as the steps make them. Frozen: a later step adds to it.

Written out again, apart from :mod:`cropper.record.tables`: a step must make what it made when it
was written, whatever the tables have become since. ``tests`` hold the two together.
"""

from __future__ import annotations

from typing import Any

from alembic import op
from sqlalchemy import JSON, BigInteger, Column, ForeignKeyConstraint, Integer, String, Text
from sqlalchemy import PrimaryKeyConstraint as PrimaryKey
from sqlalchemy import UniqueConstraint as Unique
from sqlalchemy.dialects import postgresql
from sqlalchemy.types import TypeEngine


def instant() -> TypeEngine[Any]:
    """An instant: text of 27 letters, or PostgreSQL's own."""
    return String(27).with_variant(postgresql.TIMESTAMP(timezone=True), "postgresql")


def kept(name: str, *names: str, more: tuple[Column[Any], ...] = ()) -> None:
    """Make a table with history, ``names`` as indexed text columns and ``more`` after them."""
    op.create_table(
        name,
        Column("entry", BigInteger().with_variant(Integer, "sqlite"), autoincrement=True),
        Column("id", String(32), nullable=False),
        Column("thread", Text, nullable=False),
        Column("supersedes", String(32)),
        Column("recorded_at", instant(), nullable=False),
        Column("recorded_by", Text, nullable=False),
        Column("why", Text, nullable=False),
        *(Column(one, Text, nullable=False) for one in names),
        *more,
        Column("body", JSON, nullable=False),
        PrimaryKey("entry", name=f"pk_{name}"),
        Unique("id", name=f"uq_{name}_id"),
        Unique("supersedes", name=f"uq_{name}_supersedes"),
        ForeignKeyConstraint(["supersedes"], [f"{name}.id"], name=f"fk_{name}_supersedes"),
    )
    for one in ("thread", *names):
        op.create_index(f"ix_{name}_{one}", name, [one])
