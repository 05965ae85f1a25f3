"""The record: where every version runs, what may not run beside it, and what came back.

Kept in a database: one SQLite file by default, PostgreSQL for a studio with several seats. This is
the only room that knows SQL. Rows are only ever added: a correction names what it supersedes, so
that the record can also be read as it was known at an earlier instant.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from cropper.record.opening import open_record
    from cropper.record.record import Record, Recorded
    from cropper.record.rows import Stamp

__all__ = ["Record", "Recorded", "Stamp", "open_record"]

_HOMES: Final = {
    "open_record": "cropper.record.opening",
    "Record": "cropper.record.record",
    "Recorded": "cropper.record.record",
    "Stamp": "cropper.record.rows",
}


def __getattr__(name: str) -> Any:
    """The names above, fetched when first used: a database is not imported for an address."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(_HOMES[name]), name)
