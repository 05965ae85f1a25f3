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
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter

from cropper._layout import finite, laid_out_within
from cropper.disk import lines, plain
from cropper.errors import JobError
from cropper.job.putting import appended, own, refused
from cropper.job.reading_json import leaves
from cropper.job.scratch import Scratch
from cropper.job.store import LEDGER, reason, write_text

FORMAT: Final = 2
"""Format 1 had no journal; a program that knows only that one must not miss its lines."""
JOURNAL: Final = "exported.journal"
_Files = tuple[str, Iterable[tuple[str, dict[str, Any]]]]
"""A folder, and each of its files with its entry as JSON values."""
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


class OpenLedger:
    """The ledger of one folder while a run writes to it; only under the job's lock.

    Looking up and noting take the same time, and memory, however many files there are.
    """

    def __init__(self, job: Path, folder: str) -> None:
        self._job, self._folder, self.scratch = job, folder, Scratch()
        for note in _noted(job):
            self._lay(note)
        if (job / JOURNAL).exists():
            self.close()

    def entry(self, name: str) -> Entry | None:
        """What is known of a file."""
        said = self.scratch.said_of(self._folder, name)
        return None if said is None else _entries().validate_json(said)

    def names(self) -> Iterator[str]:
        """Every file that is known; nothing may be noted meanwhile."""
        return self.scratch.files(self._folder)

    def name_of(self, version: str, destination: str) -> str | None:
        """The file that this version has for this destination, if it has one."""
        return self.scratch.file_of(self._folder, (version, destination))

    def note(self, entries: Mapping[str, Entry | None]) -> None:
        """Note these files, on the disk before this comes back; None gives a name back."""
        if not entries:
            return
        notes = [Note(folder=self._folder, file=at, entry=one) for at, one in entries.items()]
        _mended(self._job / JOURNAL)
        appended(self._job / JOURNAL, "".join(map(_line, notes)))
        for note in notes:
            self._lay(note)

    def _lay(self, note: Note) -> None:
        if note.entry is None:
            self.scratch.drop(note.folder, note.file)
            return
        owner = note.entry.version, note.entry.destination
        said = json.dumps(finite(_entry(note.entry)), ensure_ascii=True, allow_nan=False)
        self.scratch.put(note.folder, note.file, owner, said)

    def close(self) -> None:
        """Lay the journal into the state."""
        if (self._job / JOURNAL).exists():
            _write_state(self._job, _spelt(self.scratch.folders()))


@cache
def _entries() -> TypeAdapter[Entry]:
    return TypeAdapter(Entry)


@cache
def _notes() -> TypeAdapter[Note]:
    return TypeAdapter(Note)


def read_ledger(job: Path) -> Ledger:
    """The job's ledger, empty when there is none; raises :class:`JobError` if it is damaged."""
    folders: dict[str, dict[str, Entry]] = {}
    for one in _noted(job):
        files = folders.setdefault(one.folder, {})
        if one.entry is None:
            files.pop(one.file, None)
        else:
            files[one.file] = one.entry
    return Ledger(folders=folders)


def _noted(job: Path) -> Iterator[Note]:
    """All that was ever noted and still counts, in order: the state, then the journal."""
    for path, notes in ((job / LEDGER, _state), (job / JOURNAL, _journal)):
        try:
            yield from notes(path)
        except FileNotFoundError:
            continue
        except (OSError, ValueError, RecursionError) as error:
            said = reason(error) if isinstance(error, OSError) else "it is damaged"
            raise JobError(f"{path} cannot be read ({said})", way_out=START_ANEW) from error


def _state(path: Path) -> Iterator[Note]:
    """The state, an entry at a time; raises :class:`ValueError` where it makes no sense."""
    with plain(path).open("rb") as file:
        for keys, value in leaves(file, deep=3):
            match keys:
                case ("format",) if not isinstance(value, int):
                    raise ValueError("the format is no number")
                case ("format",) if value > FORMAT:
                    raise JobError(f"{path} was made by a newer program", way_out="Update cropper")
                case ("folders", str(folder), str(name)):
                    entry = _entries().validate_python(value)
                    yield Note(folder=folder, file=name, entry=entry)
                case () | ("folders", *_):
                    raise ValueError("no folder of files")


def _journal(path: Path) -> Iterator[Note]:
    """Every whole line; what follows the last line end was torn, and never counted."""
    with plain(path).open("rb") as file:
        for line in lines(file):
            if line.endswith(b"\n") and line.strip():
                yield _notes().validate_json(line)


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


def _spelt(folders: Iterable[tuple[str, Iterable[tuple[str, str]]]]) -> Iterator[_Files]:
    for folder, files in folders:
        yield folder, ((name, json.loads(said)) for name, said in files)


def _write_state(job: Path, folders: Iterable[_Files]) -> None:
    write_text(job / LEDGER, _state_text(folders))
    try:
        (job / JOURNAL).unlink(missing_ok=True)
    except OSError as error:
        raise refused(job / JOURNAL, error) from error


def _state_text(folders: Iterable[_Files]) -> Iterator[str]:
    """The state in pieces, a file at a time: a season's is long."""
    yield f'{{\n  "format": {FORMAT},\n  "folders": {{'
    between = "\n    "
    for folder, files in folders:
        yield f"{between}{json.dumps(folder, ensure_ascii=True)}: {{"
        between, begin = ",\n    ", "\n      "
        for name, said in files:
            spelt = laid_out_within(said, 3)
            yield f"{begin}{json.dumps(name, ensure_ascii=True)}: {spelt}"
            begin = ",\n      "
        yield "\n    }"
    yield "\n  }\n}\n"
