"""Saving a record as a file and loading one, the file's ending saying what it is."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from cropper import disk
from cropper.errors import MisuseError, RecordError
from cropper.publication.dates import Order
from cropper.record.backing import back_up, restore
from cropper.record.exchange import Taken, document, take_document, take_runs, write_runs
from cropper.record.odrl import policies, read_policies
from cropper.record.record import Record
from cropper.record.rows import Stamp
from cropper.record.spreadsheet import opened, order_in

ENDINGS = (".backup", ".json", ".csv", ".jsonld")


def save_as(record: Record, file: Path) -> str:
    """Write what the ending of ``file`` asks for, whole or not at all; says what it wrote."""
    kind = _kind(file)
    if kind == ".backup":
        return f"{back_up(record, file)} rows with their history"
    if kind == ".csv":
        with _aside(file) as out:
            return f"{write_runs(record.each_run(), out)} runs"
    facts = record.facts()
    with _aside(file) as out:
        if kind == ".json":
            out.write(_laid_out(document(facts)))
            return f"{len(facts.runs)} runs, {len(facts.pieces)} files and all else that counts now"
        out.write(_laid_out(policies(facts.licences)))
        return f"ODRL policies of {len(facts.licences)} agreements"


def _laid_out(told: object) -> str:
    return json.dumps(told, ensure_ascii=False, indent=1) + "\n"


def load_from(
    record: Record,
    file: Path,
    stamp: Stamp,
    *,
    zone: str | None = None,
    encoding: str = "",
    order: Order | None = None,
    heard: Callable[[int], None] = lambda _: None,
) -> Taken:
    """Take in what ``file`` holds.

    Of a CSV, ``zone`` is where plain dates begin (else the outlet's), ``order`` whether its dates
    have the day first, ``encoding`` how its letters are written; else the file is looked at.
    """
    kind = _kind(file)
    if kind == ".backup":
        return Taken(kept=restore(record, file, heard))
    try:
        if kind == ".csv":
            order = order or order_in(file, ("from", "until"), encoding)
            with opened(file, encoding) as lines:
                return take_runs(record, lines, stamp, zone=zone, order=order, heard=heard)
        text = disk.plain(file).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise RecordError(
            f"{file} cannot be read ({error})", way_out="Check the file; nothing was kept"
        ) from error
    if kind == ".json":
        return take_document(record, text, stamp)
    taken = Taken()
    for licence in read_policies(_parsed(text)):
        new = record.keep_licence(licence, stamp)
        taken.kept += new
        taken.known += not new
    return taken


def _parsed(text: str) -> dict[str, object]:
    try:
        told = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise RecordError(f"this is no JSON: {error}", way_out="Check the file") from error
    return told if isinstance(told, dict) else {}


def _kind(file: Path) -> str:
    kind = file.suffix.lower()
    if kind not in ENDINGS:
        raise MisuseError(
            f"the ending of {file.name} says nothing of what it is",
            way_out=f"End it in one of: {', '.join(ENDINGS)}",
        )
    return kind


@contextmanager
def _aside(file: Path) -> Iterator[IO[str]]:
    """A file that is written aside and put in place at the end, or not at all."""
    try:
        with disk.whole(file) as out:
            yield out
    except OSError as error:
        raise RecordError(
            f"{file} cannot be written ({error.strerror})",
            way_out="Choose another folder; nothing was left half written",
        ) from error
