"""What an export has claimed and finished, so that it never writes a file twice or over another's.

A name is claimed before its file appears and marked written afterwards: a run killed in between
knows on its next start that the file may be its own.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from cropper._layout import laid_out
from cropper.errors import JobError
from cropper.job.store import LEDGER, reason, write_text

FORMAT: Final = 1
START_ANEW: Final = "Move exported.json away; files that are right already are taken over"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One file of a folder: whose it is, what it rests on, and its bytes once written.

    ``written`` False: claimed. ``sha256`` is then of what stood there before, empty for nothing.
    """

    version: str
    destination: str
    basis: str
    sha256: str = ""
    bytes: int = 0
    width: int = 0
    height: int = 0
    ppi: float | None = None
    written: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """Folder (as the way from the job to it) -> file below it -> entry."""

    format: int = FORMAT
    folders: Mapping[str, Mapping[str, Entry]] = field(default_factory=dict)

    def files(self, folder: str) -> Mapping[str, Entry]:
        """What is known of one folder."""
        return self.folders.get(folder, {})

    def name_of(self, folder: str, version: str, destination: str) -> str | None:
        """The file that this version has for this destination, if it has one."""
        for name, entry in self.files(folder).items():
            if (entry.version, entry.destination) == (version, destination):
                return name
        return None

    def with_entry(self, folder: str, name: str, entry: Entry) -> Ledger:
        """The ledger with one entry new or changed."""
        files = {**self.files(folder), name: entry}
        return replace(self, folders={**self.folders, folder: files})


@cache
def _adapter() -> TypeAdapter[Ledger]:
    return TypeAdapter(Ledger)


def read_ledger(job: Path) -> Ledger:
    """The job's ledger, empty when there is none; raises :class:`JobError` if it is damaged."""
    path = job / LEDGER
    try:
        mapping = json.loads(path.read_text(encoding="utf-8"))
        known = _adapter().validate_python(mapping)
    except FileNotFoundError:
        return Ledger()
    except (OSError, ValueError, ValidationError) as error:
        said = reason(error) if isinstance(error, OSError) else "it is damaged"
        raise JobError(f"{path} cannot be read ({said})", way_out=START_ANEW) from error
    if known.format > FORMAT:
        raise JobError(f"{path} was made by a newer program", way_out="Update cropper")
    return known


def write_ledger(job: Path, ledger: Ledger) -> None:
    """Put the ledger in place, whole."""
    folders = {
        folder: {name: asdict(entry) for name, entry in files.items()}
        for folder, files in ledger.folders.items()
    }
    write_text(job / LEDGER, laid_out({"format": ledger.format, "folders": folders}))
