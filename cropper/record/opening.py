"""Opening a record: begun where there is none, brought up to date after a copy, or refused."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from cropper.errors import RecordError
from cropper.record.address import Address, chosen
from cropper.record.engines import PATIENCE_S, engine_for
from cropper.record.faults import spoken
from cropper.record.migrating import NEWEST, check_known, migrate, shape_at
from cropper.record.record import Record

AS_WAS: Final = "before"
"""In the name of the copy kept of a file that is brought up to date."""


def open_record(
    address: str | None = None,
    *,
    job: Path | None = None,
    patience_s: float = PATIENCE_S,
    for_all_seats: bool = False,
    begin: bool = True,
) -> Record:
    """The record at ``address``, else the one beside ``job``, else the user's own.

    A file that is not there is begun, or refused unless ``begin``; an older one is copied aside,
    then brought up to date. An older shared database is brought up to date only ``for_all_seats``:
    programs that are older cannot read it afterwards.
    Raises :class:`RecordError` when it cannot be reached, is none, or is newer than this program.
    """
    place = chosen(address, job=job)
    if not begin and not _is_there(place):
        raise RecordError(
            f"there is no record at {place.shown} yet",
            way_out="Take in a job (cropper record job DIR), or name another with --record",
        )
    _folder_of(place)
    with spoken(place):
        engine = engine_for(place, patience_s=patience_s)
        try:
            shape = shape_at(engine, place) if _is_there(place) else None
            if shape is not None:
                check_known(shape, place)
            if shape != NEWEST:
                _check_seats(place, shape, agreed=for_all_seats)
                _copied_aside(place, shape)
                migrate(engine, place)
        except BaseException:
            engine.dispose()
            raise
    return Record(engine, place, begun=shape is None)


def _is_there(place: Address) -> bool:
    return place.file is None or (place.file.exists() and place.file.stat().st_size > 0)


def _folder_of(place: Address) -> None:
    if place.file is None:
        return
    try:
        place.file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"the folder of the record {place.shown} cannot be made ({error.strerror})",
            way_out="Give another place with --record",
        ) from error
    if place.file.is_dir():
        raise RecordError(
            f"{place.shown} is a folder", way_out="Give a file, such as record.sqlite in it"
        )


def _check_seats(place: Address, shape: str | None, *, agreed: bool) -> None:
    """Bring no shared database up to date behind the back of the other seats."""
    if place.file is not None or shape is None or agreed:
        return
    raise RecordError(
        f"the record {place.shown} was written by an older cropper, and seats that still use that"
        " one could not read it any more once it is brought up to date",
        way_out="Take a backup (pg_dump), update every seat, then: cropper record update",
    )


def _copied_aside(place: Address, shape: str | None) -> None:
    """A copy of an older file beside it, through SQLite itself, before anything changes."""
    if place.file is None or shape is None:
        return
    import sqlite3  # noqa: PLC0415 - only an older record pays for it
    from contextlib import closing  # noqa: PLC0415

    now = datetime.now(UTC)
    aside = place.file.with_name(f"{place.file.name}.{AS_WAS}-{now:%Y%m%dT%H%M%S%f}")
    with closing(sqlite3.connect(place.file)) as old, closing(sqlite3.connect(aside)) as copy:
        old.backup(copy)
