"""A whole record, history included, as one file of JSON lines; and back into an empty record.

The same file serves both databases, so a studio may move from one to the other. The first line
says what it is; each other line is a row. Written whole or not at all.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any, Final

from sqlalchemy import func, select

from cropper import disk
from cropper.errors import CropperError, RecordError
from cropper.publication.licences import Licence
from cropper.publication.outlets import Outlet
from cropper.publication.releases import Release
from cropper.publication.responses import Count, Question, Remark
from cropper.publication.runs import Piece, Run, SetRules
from cropper.record import tables
from cropper.record.barring import Barred
from cropper.record.bodies import value_of
from cropper.record.engines import reading, writing
from cropper.record.erasing import Erasure
from cropper.record.migrating import NEWEST, STEPS
from cropper.record.record import Record
from cropper.record.rows import add_many, streamed

WHAT: Final = "a backup of a cropper record"
INSTANTS: Final = ("recorded_at", "start", "until")
NEEDED: Final = ("id", "thread", "recorded_at")
ANOTHER: Final = "Take another backup; this one is damaged, and nothing was kept"
KINDS: Final[Mapping[str, type[Any]]] = {
    "outlet": Outlet,
    "piece": Piece,
    "run": Run,
    "licence": Licence,
    "release": Release,
    "set_rules": SetRules,
    "barred": Barred,
    "question": Question,
    "tally": Count,
    "remark": Remark,
    "erasure": Erasure,
}
"""What the rows of each table hold."""

Heard = Callable[[int], None]


def back_up(record: Record, file: Path) -> int:
    """Write every row into ``file``; returns how many."""
    try:
        with disk.whole(file) as out:
            rows = _written_rows(record, out)
    except OSError as error:
        raise RecordError(
            f"the backup {file} cannot be written ({error.strerror})",
            way_out="Choose another folder; nothing was left half written",
        ) from error
    return rows


def _written_rows(record: Record, out: IO[str]) -> int:
    head = {"what": WHAT, "shape": NEWEST, "made_at": datetime.now(UTC).isoformat()}
    out.write(json.dumps(head) + "\n")
    rows = 0
    with reading(record.engine, record.address) as connection:
        for name, table in tables.TABLES.items():
            for row in streamed(connection, select(table).order_by(table.c.entry)):
                told = {
                    key: one.isoformat() if isinstance(one, datetime) else one
                    for key, one in row._mapping.items()  # noqa: SLF001 - its public name
                    if key != "entry"
                }
                out.write(json.dumps({"table": name, **told}, ensure_ascii=False) + "\n")
                rows += 1
    return rows


def restore(record: Record, file: Path, heard: Heard = lambda _: None) -> int:
    """Put a backup into an empty record, all or nothing; returns how many rows it had.

    Raises :class:`RecordError` for a record that holds something, and for a file that is no backup
    or one of a newer program.
    """
    with writing(record.engine, record.address) as connection:
        for table in tables.TABLES.values():
            if connection.execute(select(func.count()).select_from(table)).scalar_one():
                raise RecordError(
                    f"the record {record.address.shown} holds something already",
                    way_out="Restore into a new one: --record NEW.sqlite",
                )
        total = 0
        for name, rows in _by_table(_lines(file)):
            total += add_many(connection, tables.TABLES[name], rows)
            heard(total)
        return total


def _lines(file: Path) -> Iterator[dict[str, Any]]:
    """The rows of a backup, its head checked."""
    try:
        with disk.plain(file).open(encoding="utf-8") as lines:
            _check_head(_parsed(next(lines, ""), file, 1), file)
            for number, line in enumerate(lines, 2):
                yield _row(_parsed(line, file, number), f"{file}, line {number}")
    except (OSError, UnicodeDecodeError) as error:
        raise RecordError(
            f"{file} cannot be read ({error})", way_out="Check the name; nothing was changed"
        ) from error


def _parsed(line: str, file: Path, number: int) -> dict[str, Any]:
    try:
        told = json.loads(line)
    except (ValueError, RecursionError):
        told = None
    if not isinstance(told, dict):
        raise RecordError(
            f"{file}, line {number}, cannot be read", way_out="Take another backup; this one is cut"
        )
    return told


def _check_head(head: dict[str, Any], file: Path) -> None:
    if head.get("what") != WHAT:
        raise RecordError(f"{file} is no backup of a record", way_out="Check the name")
    if head.get("shape") not in STEPS:
        raise RecordError(
            f"{file} was written by a newer cropper", way_out="Update this one; nothing was changed"
        )


def _by_table(
    lines: Iterator[dict[str, Any]],
) -> Iterator[tuple[str, Iterator[dict[str, Any]]]]:
    """Rows of one table after the other, as they stand in the file."""
    from itertools import groupby  # noqa: PLC0415 - beside its one use

    for name, rows in groupby(lines, key=lambda row: str(row["table"])):
        yield name, (_columns(name, row) for row in rows)


def _row(told: dict[str, Any], place: str) -> dict[str, Any]:
    """A row whose value and instants are such; raises :class:`RecordError` that names ``place``."""
    kind = KINDS.get(str(told.get("table")))
    if kind is None or not all(isinstance(told.get(key), str) for key in NEEDED):
        raise RecordError(f"{place}, is no row of a record", way_out=ANOTHER)
    try:
        value_of(kind, told.get("body"))
        for key in INSTANTS:
            if told.get(key) is not None:
                told[key] = _instant(told[key])
    except (CropperError, TypeError, ValueError) as error:
        said = error.what if isinstance(error, CropperError) else str(error)
        raise RecordError(f"{place}: {said}", way_out=ANOTHER) from error
    return told


def _instant(text: str) -> datetime:
    at = datetime.fromisoformat(text)
    if at.tzinfo is None:
        message = f"{text} has no zone"
        raise ValueError(message)
    return at


def _columns(name: str, row: dict[str, Any]) -> dict[str, Any]:
    known = {column.name for column in tables.TABLES[name].columns} - {"entry"}
    return {key: one for key, one in row.items() if key in known}
