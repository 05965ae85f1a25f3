"""Questions, counts and remarks as rows. Remarks can be a million: they stream both ways."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

from sqlalchemy import Connection, select

from cropper.errors import MisuseError
from cropper.publication.responses import Count, Question, Remark, Responses
from cropper.record import tables
from cropper.record.bodies import value_of
from cropper.record.rows import (
    AT_ONCE,
    Stamp,
    add,
    add_many,
    among,
    counting,
    latest,
    row_of,
    streamed,
)


def read_responses(connection: Connection, set_name: str) -> Responses:
    """Every question about a set, and every count in the order taken."""

    def of(table: Any, kind: type[Any]) -> tuple[Any, ...]:
        query = counting(table).where(table.c.set_name == set_name).order_by(table.c.entry)
        return tuple(value_of(kind, row.body) for row in connection.execute(query))

    return Responses(
        set=set_name,
        questions=of(tables.question, Question),
        counts=of(tables.tally, Count),
    )


def add_question(connection: Connection, question: Question, stamp: Stamp) -> None:
    """Keep a question; raises :class:`MisuseError` when any set's question has its name."""
    before = latest(connection, tables.question, question.name)
    if before is not None:
        raise MisuseError(
            f"'{question.name}' was already asked, about the set '{before.set_name}'",
            way_out="Ask under another name: counts are added by the question's name alone",
        )
    add(
        connection,
        tables.question,
        question,
        stamp,
        thread=question.name,
        set_name=question.set,
    )


def add_counts(connection: Connection, counts: Sequence[Count], stamp: Stamp) -> None:
    """Keep counts; each is a row of its own, for a later one never overwrites an earlier."""
    for one in counts:
        set_name = _set_of(connection, one.question)
        thread = "/".join((one.question, *one.cell, one.at.isoformat()))
        before = latest(connection, tables.tally, thread)
        add(
            connection,
            tables.tally,
            one,
            stamp,
            thread=thread,
            supersedes=None if before is None else before.id,
            set_name=set_name,
        )


def add_remarks(connection: Connection, remarks: Iterable[Remark], stamp: Stamp) -> int:
    """Keep remarks that are not there yet, by source and row; returns how many were new."""
    added, ahead, sets = 0, iter(remarks), dict[str, str]()
    while batch := list(islice(ahead, AT_ONCE)):
        threads = {f"{one.source}:{one.row}": one for one in batch}
        mine = tables.remark.c.thread
        known = connection.execute(select(mine).where(among(mine, list(threads)))).scalars()
        for thread in known:
            threads.pop(thread, None)
        for one in threads.values():
            if one.question not in sets:
                sets[one.question] = _set_of(connection, one.question)
        added += add_many(
            connection,
            tables.remark,
            (
                row_of(one, stamp, thread=key, set_name=sets[one.question], question=one.question)
                for key, one in threads.items()
            ),
        )
    return added


def read_remarks(connection: Connection, set_name: str, question: str) -> Iterator[Remark]:
    """A question's remarks, one at a time, in the order they came."""
    remark = tables.remark.c
    query = (
        select(tables.remark)
        .where(remark.question == question, remark.set_name == set_name)
        .order_by(remark.entry)
    )
    for row in streamed(connection, query):
        yield value_of(Remark, row.body)


def _set_of(connection: Connection, question: str) -> str:
    row = latest(connection, tables.question, question)
    if row is None:
        raise MisuseError(
            f"no question '{question}' was declared",
            way_out="Declare it first: cropper feedback ask",
        )
    return str(row.set_name)
