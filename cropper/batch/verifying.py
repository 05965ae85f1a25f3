"""Every deliverable against its manifest: what is missing, what was changed, what does not belong.

The manifest is not trusted as far as paths go: a file that it places outside its own folder is
named and not touched.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import asdict, dataclass
from enum import StrEnum
from pathlib import Path, PurePosixPath
from typing import Any, Final

from cropper.deliverable.manifest_reading import lists, refuse_newer, rows_of
from cropper.deliverable.writing import PART
from cropper.destination.formats import FORMATS
from cropper.disk import sha256_of
from cropper.errors import EXIT_DONE, EXIT_SOME_FAILED, JobError
from cropper.job.identity import way_between
from cropper.job.ledger import read_ledger
from cropper.job.manifesting import CSV_FILE, JSON_FILE, NOT_DELIVERED_FILE

FORMAT: Final = 1
_PICTURES: Final = tuple(f".{one.ending}" for one in FORMATS.values())


class Fault(StrEnum):
    """What is wrong with a file."""

    MISSING = "missing"
    CHANGED = "changed"
    OUTSIDE = "outside"
    STRANGER = "not in the manifest"
    UNLISTED = "not listed"
    UNFINISHED = "never finished"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One file with something wrong, and a sentence about it."""

    fault: Fault
    file: str
    sentence: str

    @property
    def breaks_delivery(self) -> bool:
        """Whether a file is not as it was delivered, or lies there as if it had been."""
        return self.fault in {Fault.MISSING, Fault.CHANGED, Fault.OUTSIDE, Fault.UNLISTED}


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What came of it: how many files the manifest lists, and what is wrong, by name."""

    folder: Path
    listed: int
    sound: int
    found: tuple[Found, ...]

    @property
    def exit_code(self) -> int:
        """6 when a file is missing, changed, or a picture that the manifest leaves out."""
        broken = any(one.breaks_delivery for one in self.found)
        return EXIT_SOME_FAILED if broken else EXIT_DONE

    def mapping(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "format": FORMAT,
            "folder": str(self.folder),
            "listed": self.listed,
            "sound": self.sound,
            "found": [asdict(one) for one in self.found],
        }


def rows(folder: Path, part: str = "delivered") -> Iterator[dict[str, Any]]:
    """The rows of manifest.json, one by one, so that a season's fits in memory.

    Raises :class:`JobError` where there is none or it is damaged.
    """
    path = folder / JSON_FILE
    try:
        refuse_newer(path)
        _refuse_without_list(path)
        for row in rows_of(path, part):
            yield _sound(row) if part == "delivered" else row
    except FileNotFoundError as error:
        raise JobError(
            f"{folder} holds no {JSON_FILE}", way_out="Export first: cropper export --job FOLDER"
        ) from error
    except (OSError, ValueError) as error:
        raise JobError(f"{path} is damaged ({error})", way_out="Export again") from error


def _refuse_without_list(path: Path) -> None:
    if not lists(path, "delivered"):
        raise ValueError("it lists nothing delivered")


def _sound(row: dict[str, Any]) -> dict[str, Any]:
    """The row of a delivered file, or ValueError."""
    if not all(isinstance(row.get(key), str) for key in ("file", "sha256")):
        raise ValueError("a file without name or digest")
    return row


def verify(
    folder: Path,
    hear: Callable[[str, bool, int], None] = lambda *_: None,
    until: Callable[[Iterator[Any]], Iterable[Any]] = iter,
    *,
    written: Collection[str] = (),
) -> Verified:
    """Compare every file of ``folder`` with its manifest; ``hear`` is told (file, sound, of).

    The whole manifest is read before any file is: a damaged one is not half believed. ``until``
    may end the list early: somebody asked to stop. ``written`` are the files that the job knows it
    wrote there: the manifest must list each of them.
    """
    named = _spoken_of(folder)
    listed = sum(1 for _ in rows(folder))
    found: list[Found] = []
    for row in until(rows(folder)):
        fault = _compared(folder, row)
        if fault is not None:
            found.append(fault)
        hear(row["file"], fault is None, listed)
    sound = listed - len(found)
    found += _strangers(folder, named, set(written))
    found += _lost(folder, set(written) - named)
    return Verified(folder=folder, listed=listed, sound=sound, found=tuple(found))


def _spoken_of(folder: Path) -> set[str]:
    """Every file that the manifest speaks of: no stranger."""
    named = {str(one.get("file")) for one in rows(folder, "texts")}
    for one in rows(folder):
        named |= {one["file"], str(one.get("text"))}
    return named


def _compared(folder: Path, row: dict[str, Any]) -> Found | None:
    name = row["file"]
    if not _below(name) or _linked_away(folder, name):
        return _of(Fault.OUTSIDE, name, f"{name} lies outside the folder of its manifest.")
    path = folder / name
    try:
        same = sha256_of(path) == row["sha256"]
    except OSError as error:
        return _of(Fault.MISSING, name, f"{name} cannot be read ({error.strerror or error}).")
    if same:
        return None
    return _of(Fault.CHANGED, name, f"{name} is not what was delivered: its digest differs.")


def _of(fault: Fault, name: str, sentence: str) -> Found:
    return Found(fault=fault, file=name, sentence=sentence)


def _below(name: str) -> bool:
    """Whether a manifest's name stays below its folder."""
    path = PurePosixPath(name)
    plain = name and "\x00" not in name and "\\" not in name
    return bool(plain) and not path.is_absolute() and ".." not in path.parts


def _linked_away(folder: Path, name: str) -> bool:
    return not (folder / name).resolve().is_relative_to(folder.resolve())


def noted(job: Path, folder: Path) -> tuple[str, ...]:
    """The files in ``folder`` that exports of this job have written, as its ledger knows them."""
    files = read_ledger(job).files(way_between(job, folder))
    return tuple(name for name, entry in files.items() if entry.written)


def _lost(folder: Path, names: Iterable[str]) -> Iterator[Found]:
    """Files that were written, are in no manifest, and are gone."""
    for name in sorted(names):
        if not (folder / name).exists():
            yield _of(Fault.MISSING, name, f"{name} was written once, is gone, and is not listed.")


def _strangers(folder: Path, named: set[str], written: set[str]) -> Iterator[Found]:
    """Files that the manifest does not speak of; a picture among them might be sent by mistake."""
    own = {JSON_FILE, CSV_FILE, NOT_DELIVERED_FILE}
    for at, folders, files in os.walk(folder):
        folders.sort()
        for file in sorted(files):
            name = (Path(at) / file).relative_to(folder).as_posix()
            if file.startswith(PART):
                yield _of(Fault.UNFINISHED, name, f"{name} is what a stopped run left half done.")
            elif name in named or name in own:
                continue
            elif name in written:
                said = f"{name} was delivered, and the manifest does not list it: export again."
                yield _of(Fault.UNLISTED, name, said)
            elif file.lower().endswith(_PICTURES):
                said = f"{name} is a picture that is in no manifest: move it away, or export again."
                yield _of(Fault.UNLISTED, name, said)
            else:
                yield _of(Fault.STRANGER, name, f"{name} is in no manifest.")
