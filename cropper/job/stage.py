"""The stage: finished files that lie ready in a job until an export decides what they are called.

JOB/.stage/3f9a.../<basis>      a whole file, named by the digest of all that it rests on
JOB/.stage/3f9a.../told.json    what the finishing said of each

A folder for each master, so that whoever finishes it writes there alone. Nothing here is promised
to anybody: what is damaged, a link or of another basis is passed over and made anew.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterable, Mapping
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from cropper import disk
from cropper.job.ledger import Entry
from cropper.job.putting import made_folder, write_text

STAGE: Final = ".stage"
TOLD: Final = "told.json"
_NAME: Final = 32
"""Of a version's digest, so many digits name its folder: enough for no two to meet."""


def stage_of(job: Path, version: str) -> Path:
    """Where one master's files wait; safe whatever the version is called."""
    return job / STAGE / hashlib.sha256(version.encode()).hexdigest()[:_NAME]


def told(stage: Path) -> dict[str, Entry]:
    """Basis -> what is known of the file that waits; nothing where nothing can be trusted."""
    try:
        disk.refuse_links(stage / TOLD, stage.parents[1])
        entries = _entries().validate_json(disk.short(stage / TOLD).read_bytes())
    except (OSError, ValidationError):
        return {}
    return {one.basis: one for one in entries}


def tell(stage: Path, entries: Iterable[Entry]) -> None:
    """Write down what waits there. Raises :class:`JobError` when that cannot be done."""
    made_folder(stage.parent)
    made_folder(stage)
    write_text(stage / TOLD, _entries().dump_json(list(entries)).decode())


def waiting(stage: Path, basis: str, told: Mapping[str, Entry]) -> tuple[Path, Entry] | None:
    """The file that waits for ``basis``, whole and no link, with what is known of it."""
    entry, path = told.get(basis), stage / basis
    if entry is None or not entry.written:
        return None
    try:
        disk.refuse_links(path, stage.parents[1])
        whole = disk.sha256_of(path) == entry.sha256
    except OSError:
        return None
    return (path, entry) if whole else None


def cleared(job: Path) -> None:
    """Take the stage away with all that still waits there; a link is left as it is."""
    if not (job / STAGE).is_symlink():
        with suppress(OSError):
            shutil.rmtree(job / STAGE)


@cache
def _entries() -> TypeAdapter[list[Entry]]:
    return TypeAdapter(list[Entry])
