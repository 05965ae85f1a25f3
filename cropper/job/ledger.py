"""What an export has claimed and finished, so that it never writes a file twice or over another's.

A name is claimed before its file appears and marked written afterwards: a run killed in between
knows on its next start that the file may be its own.

``exported.json`` holds the state, ``exported.journal`` what was noted since, a line each: noting
one file costs one line, however many there are. The journal is laid into the state when a run
begins or ends; laying it in twice changes nothing, and a line torn by a power cut is dropped.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from cropper._layout import finite, laid_out_within
from cropper.disk import plain
from cropper.errors import JobError
from cropper.job.putting import appended, own, refused
from cropper.job.store import LEDGER, reason, write_text

FORMAT: Final = 2
"""Format 1 had no journal; a program that knows only that one must not miss its lines."""
JOURNAL: Final = "exported.journal"
START_ANEW: Final = (
    "Move exported.json away, and exported.journal with it; files that are right are taken over"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One file of a folder: whose it is, what it rests on, and its bytes once written.

    ``written`` False: claimed. ``sha256`` is then of what this job last put there, empty for
    nothing. ``notes`` and ``out_of_gamut`` are what the finishing said of the file.
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
    notes: tuple[str, ...] = ()
    out_of_gamut: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One line of the journal; without an entry the name is given back."""

    folder: str
    file: str
    entry: Entry | None = None


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


class OpenLedger:
    """The ledger of one folder while a run writes to it; only under the job's lock.

    Looking up and noting take the same time however many files there are.
    """

    def __init__(self, job: Path, folder: str) -> None:
        self._job, self._folder = job, folder
        known = read_ledger(job)
        if (job / JOURNAL).exists():
            write_ledger(job, known)
        self._others = known
        self._files = dict(known.files(folder))
        self._names = {(one.version, one.destination): at for at, one in self._files.items()}

    @property
    def files(self) -> Mapping[str, Entry]:
        """What is known of the folder."""
        return self._files

    def name_of(self, version: str, destination: str) -> str | None:
        """The file that this version has for this destination, if it has one."""
        return self._names.get((version, destination))

    def note(self, entries: Mapping[str, Entry | None]) -> None:
        """Note these files, on the disk before this comes back; None gives a name back."""
        if not entries:
            return
        lines = (
            _line(Note(folder=self._folder, file=name, entry=entry))
            for name, entry in entries.items()
        )
        _mended(self._job / JOURNAL)
        appended(self._job / JOURNAL, "".join(lines))
        for name, entry in entries.items():
            self._changed(name, entry)

    def _changed(self, name: str, entry: Entry | None) -> None:
        before = self._files.pop(name, None)
        if before is not None and self.name_of(before.version, before.destination) == name:
            del self._names[before.version, before.destination]
        if entry is not None:
            self._files[name] = entry
            self._names[entry.version, entry.destination] = name

    def close(self) -> None:
        """Lay the journal into the state."""
        if (self._job / JOURNAL).exists():
            folders = {**self._others.folders, self._folder: self._files}
            write_ledger(self._job, replace(self._others, folders=folders))


@cache
def _ledgers() -> TypeAdapter[Ledger]:
    return TypeAdapter(Ledger)


@cache
def _notes() -> TypeAdapter[Note]:
    return TypeAdapter(Note)


def read_ledger(job: Path) -> Ledger:
    """The job's ledger, empty when there is none; raises :class:`JobError` if it is damaged."""
    path = job / LEDGER
    try:
        known = _state(path)
        path = job / JOURNAL
        return _laid_in(known, _journal(path))
    except (OSError, ValueError, ValidationError) as error:
        said = reason(error) if isinstance(error, OSError) else "it is damaged"
        raise JobError(f"{path} cannot be read ({said})", way_out=START_ANEW) from error


def _state(path: Path) -> Ledger:
    try:
        known = _ledgers().validate_python(json.loads(plain(path).read_text(encoding="utf-8")))
    except FileNotFoundError:
        return Ledger()
    if known.format > FORMAT:
        raise JobError(f"{path} was made by a newer program", way_out="Update cropper")
    return replace(known, format=FORMAT)


def _journal(path: Path) -> list[Note]:
    """Every whole line; what follows the last line end was torn, and never counted."""
    try:
        whole, _, _ = plain(path).read_bytes().rpartition(b"\n")
    except FileNotFoundError:
        return []
    return [_notes().validate_json(line) for line in whole.splitlines() if line]


def _laid_in(known: Ledger, notes: Iterable[Note]) -> Ledger:
    folders = {folder: dict(files) for folder, files in known.folders.items()}
    for one in notes:
        files = folders.setdefault(one.folder, {})
        if one.entry is None:
            files.pop(one.file, None)
        else:
            files[one.file] = one.entry
    return replace(known, folders=folders)


def _mended(path: Path) -> None:
    """Cut a torn last line off, so that the next one begins on its own."""
    try:
        own(path)
        with path.open("rb+") as file:
            size = file.seek(0, 2)
            if size == 0:
                return
            file.seek(size - 1)
            if file.read(1) != b"\n":
                file.seek(0)
                file.truncate(file.read().rfind(b"\n") + 1)
    except FileNotFoundError:
        return
    except OSError as error:
        raise refused(path, error) from error


def _line(note: Note) -> str:
    return json.dumps(finite(_plain(note)), ensure_ascii=True, allow_nan=False) + "\n"


def _plain(note: Note) -> dict[str, Any]:
    """As JSON values; what an entry leaves at its default is left out."""
    entry = None if note.entry is None else _entry(note.entry)
    return {"folder": note.folder, "file": note.file, "entry": entry}


def _entry(entry: Entry) -> dict[str, Any]:
    said = asdict(entry)
    if not entry.notes:
        del said["notes"]
    if entry.out_of_gamut is None:
        del said["out_of_gamut"]
    return said


def write_ledger(job: Path, ledger: Ledger) -> None:
    """Put the state in place, whole, and do away with the journal that it now holds."""
    write_text(job / LEDGER, _state_text(ledger))
    try:
        (job / JOURNAL).unlink(missing_ok=True)
    except OSError as error:
        raise refused(job / JOURNAL, error) from error


def _state_text(ledger: Ledger) -> Iterator[str]:
    """The state in pieces, a file at a time: a season's is long."""
    yield f'{{\n  "format": {FORMAT},\n  "folders": {{'
    between = "\n    "
    for folder, files in ledger.folders.items():
        yield f"{between}{json.dumps(folder, ensure_ascii=True)}: {{"
        between, begin = ",\n    ", "\n      "
        for name, entry in files.items():
            said = laid_out_within(_entry(entry), 3)
            yield f"{begin}{json.dumps(name, ensure_ascii=True)}: {said}"
            begin = ",\n      "
        yield "\n    }"
    yield "\n  }\n}\n"
