"""What a database says when it fails, in sentences with a way out and without secrets."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from cropper.errors import RecordError
from cropper.record.address import Address

WHOLE: Final = "Nothing was half recorded"

SAID_BY_SQLITE: Final = {
    sqlite3.SQLITE_BUSY: (
        "it is locked by another program",
        f"{WHOLE}; wait until the other is done, then do this again",
    ),
    sqlite3.SQLITE_LOCKED: (
        "it is locked by another program",
        f"{WHOLE}; wait until the other is done, then do this again",
    ),
    sqlite3.SQLITE_READONLY: (
        "it may only be read",
        f"{WHOLE}; make the file and its folder writable, or give another with --record",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "it cannot be opened",
        "Check the name and the rights of the file and its folder",
    ),
    sqlite3.SQLITE_NOTADB: (
        "it is no record: the file holds something else",
        "Check the name; a record is begun in a file that is not there yet",
    ),
    sqlite3.SQLITE_CORRUPT: (
        "it is damaged",
        "Put the last backup back: cropper record restore BACKUP",
    ),
    sqlite3.SQLITE_FULL: ("the disk is full", f"{WHOLE}; make room, then do this again"),
    sqlite3.SQLITE_IOERR: ("the disk failed", f"{WHOLE}; check the disk, then do this again"),
}
"""SQLite's primary result code [sqlite.org, "Result and Error Codes"] to what and way out."""

SAID_BY_POSTGRES: Final = {
    "55P03": ("another seat holds it", f"{WHOLE}; wait a moment, then do this again"),
    "57014": ("it took too long", f"{WHOLE}; wait a moment, then do this again"),
    "40001": ("another seat was faster", f"{WHOLE}; do this again"),
    "40P01": ("another seat was faster", f"{WHOLE}; do this again"),
    "25006": ("it may only be read", f"{WHOLE}; ask whoever keeps it for the right to write"),
    "42501": ("you have no right to do this there", f"{WHOLE}; ask whoever keeps it"),
    "53100": ("its disk is full", f"{WHOLE}; make room there, then do this again"),
    "28P01": ("it refused the name or the password", "Check both"),
    "28000": ("it refused the name or the password", "Check both"),
    "3D000": ("there is no such database", "Have it made: createdb NAME"),
}
"""SQLSTATE [PostgreSQL manual, appendix A "Error Codes"] to what and way out."""

UNREACHED: Final = (
    "Check the address, the network and that the database is running; nothing was half recorded"
)


@contextmanager
def spoken(address: Address) -> Iterator[None]:
    """Turn what the database says into a :class:`RecordError` about ``address``."""
    try:
        yield
    except SQLAlchemyError as error:
        raise fault_of(error, address) from None


def fault_of(error: SQLAlchemyError, address: Address) -> RecordError:
    """The sentence for a failure. It is raised ``from None``: a chain could repeat the address."""
    cause = error.orig if isinstance(error, DBAPIError) else None
    what, way_out = _known(cause) or (_first_line(cause or error, address), UNREACHED)
    return RecordError(f"the record {address.shown}: {what}", way_out=way_out)


def _known(cause: BaseException | None) -> tuple[str, str] | None:
    if isinstance(cause, sqlite3.Error):
        code = getattr(cause, "sqlite_errorcode", 0) or 0
        return SAID_BY_SQLITE.get(code & 0xFF)  # the low byte is the primary code
    return SAID_BY_POSTGRES.get(getattr(cause, "sqlstate", None) or "")


def _first_line(cause: BaseException, address: Address) -> str:
    lines = str(cause).strip().splitlines() or [type(cause).__name__]
    return address.scrubbed(f"the database says: {lines[0]}")
