"""All files that an export owes of one master: plain values in, files and what is to be noted out.

Nothing here knows the plan or the ledger, so a master's files can be made in any process; the
caller has claimed their names before, and notes what comes back.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Final

from cropper import __version__, disk
from cropper.deliverable.delivering import Finished, Order, deliver_all
from cropper.deliverable.manifest import crop_corners
from cropper.deliverable.words import NO_WORDS, Words
from cropper.deliverable.writing import moved_whole, write_whole
from cropper.destination.destination import Destination
from cropper.errors import NO_MEMORY, DeliveryError, MasterError
from cropper.geometry import Crop
from cropper.job.identity import destination_hash, digest
from cropper.job.ledger import Entry
from cropper.job.set_aside import drop_empty_folders
from cropper.job.stage import told, waiting
from cropper.master.opening import Master, master_digest, open_master

ENGINE: Final = f"{__version__} finishing 2"
"""Goes into every file's basis: count it up when finished pixels change."""

Put = Callable[[Path, bool], None]
"""Puts a file there; whether it may replace one."""


def basis_of(sha256: str, crop: Crop, destination: Destination, words: Words) -> str:
    """Digest of all that a finished file rests on: the master ``sha256``, its crop, and so on."""
    return digest(
        [
            sha256,
            [*crop_corners(crop), crop.straighten_deg],
            destination_hash(destination),
            asdict(words),
            ENGINE,
        ]
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FileOrder:
    """One file to be made or found right.

    ``name`` is below the export's folder; ``plain`` what it would be called if nobody had that
    name, empty when the ledger knows an owner. ``before`` is what the ledger knew of ``name``
    before it was claimed. ``former`` is the name that this file had until now, if it was another,
    with what is known of it: where it is right still, it is moved and not made anew.
    """

    number: int
    name: str
    plain: str
    version: str
    basis: str
    crop: Crop
    destination: Destination
    words: Words = NO_WORDS
    before: Entry | None = None
    former: tuple[str, Entry] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterOrder:
    """One master, the digest it had when it was planned, and its files. Can be pickled.

    ``stage`` is where files of it may wait that are finished already.
    """

    path: Path
    sha256: str
    folder: Path
    files: tuple[FileOrder, ...]
    stage: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FileMade:
    """What came of one file. ``fault``: why there is none. ``fresh``: written just now.

    ``moved``: it had another name before. ``doubt``: why its master could not be looked at; the
    file is what was planned all the same.
    """

    number: int
    name: str
    entry: Entry | None = None
    fresh: bool = False
    moved: bool = False
    fault: str = ""
    doubt: str = ""


def make_files(order: MasterOrder) -> tuple[FileMade, ...]:
    """All files of one master; what fails is in the answer and stops nothing else."""
    return tuple(made_files(order))


def made_files(order: MasterOrder) -> Iterator[FileMade]:
    """The same, one by one as they are done. The master is opened only if something is to make."""
    left = {one.number: one for one in order.files}
    try:
        _refuse_changed(order)
        for made in _made(order):
            del left[made.number]
            yield made
    except (MasterError, DeliveryError) as error:
        for one in left.values():
            yield _without_master(order.folder, one, error)
    except MemoryError:
        for one in left.values():
            yield _failed(one, MasterError(f"{order.path}: {NO_MEMORY}"))


def _without_master(folder: Path, order: FileOrder, error: Exception) -> FileMade:
    """What can be said of a file whose master is not at hand: what was planned may lie there."""
    try:
        found = _there_already(folder, order)
    except DeliveryError:
        found = None
    return _failed(order, error) if found is None else replace(found, doubt=str(error))


def _there_already(folder: Path, order: FileOrder) -> FileMade | None:
    """The file as it lies there, right as it is; moved, if it has another name from now on."""
    if stands(folder, order.name, order.before, order.basis):
        return FileMade(number=order.number, name=order.name, entry=order.before)
    if order.former is None:
        return None
    name, entry = order.former
    if not stands(folder, name, entry, order.basis):
        return None
    moved_whole(folder / name, folder / order.name, within=folder)
    drop_empty_folders(folder, name)
    return FileMade(number=order.number, name=order.name, entry=entry, moved=True)


def _refuse_changed(order: MasterOrder) -> None:
    if master_digest(order.path) != order.sha256:
        raise MasterError(
            f"{order.path} has changed since it was planned",
            way_out="Plan it again, with the same --job: what you chose by hand is kept",
        )


def _made(order: MasterOrder) -> Iterator[FileMade]:
    fresh, ready = [], told(order.stage) if order.stage else {}
    for one in order.files:
        try:
            found = _there_already(order.folder, one)
        except DeliveryError as error:
            yield _failed(one, error)
            continue
        if found is not None:
            yield found
        elif order.stage and (ahead := waiting(order.stage, one.basis, ready)):
            yield _taken_over(order.folder, one, *ahead)
        else:
            fresh.append(one)
    if fresh:
        yield from _rendered(order.folder, open_master(order.path), fresh)


def _rendered(folder: Path, master: Master, files: list[FileOrder]) -> Iterator[FileMade]:
    """Render, encode and write, in order."""
    orders = (Order(crop=one.crop, destination=one.destination, words=one.words) for one in files)
    for one, finished in zip(files, deliver_all(master, orders), strict=True):
        try:
            yield _put_finished(folder, one, finished, master.notes)
        except DeliveryError as error:
            yield _failed(one, error)


def stands(folder: Path, name: str, entry: Entry | None, basis: str) -> bool:
    """Whether the file ``name`` is there as it would be made on this ``basis``.

    ``entry`` is what the ledger knows of it. Raises :class:`DeliveryError` for an unreadable file.
    """
    if entry is None or not entry.written or entry.basis != basis:
        return False
    return sha256_of(folder / name) == entry.sha256


def sha256_of(path: Path) -> str | None:
    """Digest of a file; None when it is not there."""
    try:
        return disk.sha256_of(path)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise DeliveryError(
            f"{path} cannot be read ({error.strerror or error})",
            way_out="Choose another folder with --to",
        ) from error


def _taken_over(folder: Path, order: FileOrder, path: Path, entry: Entry) -> FileMade:
    """A file that waited, moved to its place."""

    def put(target: Path, replaces: bool) -> None:  # noqa: FBT001 - called in one place
        moved_whole(path, target, replace=replaces, within=folder)

    entry = replace(entry, version=order.version, destination=order.destination.name)
    try:
        return _put(folder, order, entry, put)
    except DeliveryError as error:
        return _failed(order, error)


def _put_finished(
    folder: Path, order: FileOrder, finished: Finished, said: tuple[str, ...]
) -> FileMade:
    def put(target: Path, replaces: bool) -> None:  # noqa: FBT001 - as above
        write_whole(target, finished.data, replace=replaces, within=folder)

    return _put(folder, order, _entry(order, finished, said), put)


def _put(folder: Path, order: FileOrder, entry: Entry, put: Put) -> FileMade:
    """Put the file there; refuse to replace one that is not ours."""
    name = _name(folder, order, entry.sha256)
    there = sha256_of(folder / name)
    ours = {None, entry.sha256, order.before.sha256 if order.before else None}
    if there not in ours:
        raise DeliveryError(
            f"{folder / name} was changed by somebody since it was written, and is left as it is",
            way_out="Move it away to have it written again",
        )
    fresh = there != entry.sha256
    if fresh:
        put(folder / name, there is not None)
    return FileMade(number=order.number, name=name, entry=entry, fresh=fresh)


def _entry(order: FileOrder, finished: Finished, said: tuple[str, ...]) -> Entry:
    """What is to be noted of the finished file; raises its fault when there is none."""
    if finished.fault is not None or finished.size is None:
        raise finished.fault or DeliveryError("nothing was made")
    return Entry(
        version=order.version,
        destination=order.destination.name,
        basis=order.basis,
        sha256=hashlib.sha256(finished.data).hexdigest(),
        bytes=len(finished.data),
        width=finished.size.width,
        height=finished.size.height,
        ppi=finished.ppi,
        written=True,
        notes=tuple(dict.fromkeys((*said, *finished.notes))),
        out_of_gamut=finished.out_of_gamut,
    )


def _name(folder: Path, order: FileOrder, mine: str) -> str:
    """The plain name, when the file there is right already: a ledger was lost."""
    if not order.plain or order.plain == order.name:
        return order.name
    return order.plain if sha256_of(folder / order.plain) == mine else order.name


def claimed(order: FileOrder) -> Entry | None:
    """The claim to note before the file is made; None when what is noted already claims it."""
    before = order.before
    if before is not None and before.basis == order.basis:
        return None
    claim = Entry(version=order.version, destination=order.destination.name, basis=order.basis)
    last = before or (order.former[1] if order.former else None)
    return replace(claim, sha256=last.sha256) if last else claim


def _failed(order: FileOrder, error: Exception) -> FileMade:
    return FileMade(number=order.number, name=order.name, fault=str(error))
