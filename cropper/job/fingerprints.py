"""Fingerprints of a job's masters, kept in the job so that each master is decoded once for them.

JOB/fingerprints/<ab>/<sha256>.npz   what is kept of one master
JOB/fingerprints/shelf.npz           what one search needs of all of them

Both are caches: they may be deleted, and are made anew when the program, a master or the exported
crops have changed. A master that has gone keeps its fingerprint: it is still recognised. They show
the pictures small and grey, so they belong to the job and travel nowhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cropper.deliverable.writing import write_whole
from cropper.errors import CropperError, MasterError
from cropper.geometry import PixelBox
from cropper.job.identity import digest
from cropper.likeness import fingerprint as kept
from cropper.likeness import shelf as shelves
from cropper.likeness.fingerprint import KEPT_AS, Fingerprint
from cropper.likeness.shelf import Shelf
from cropper.master.opening import open_master

FOLDER: Final = "fingerprints"
SHELF: Final = "shelf.npz"

Say = Callable[[str], None]
Step = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A master whose fingerprint is wanted: its identity, where it lies, and its crops."""

    sha256: str
    path: Path
    crops: tuple[PixelBox, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprints:
    """A job's fingerprints; ``fresh`` holds those that could not be written."""

    folder: Path
    shelf: Shelf
    fresh: Mapping[str, Fingerprint]

    def load(self, sha256: str) -> Fingerprint | None:
        """The fingerprint of that master, if there is one."""
        return self.fresh.get(sha256) or _read(self.folder, sha256)


def fingerprints(job: Path, masters: Sequence[Wanted], say: Say, step: Step) -> Fingerprints:
    """All of them, made where they are missing or stale. A master that fails is told and left."""
    folder = job / FOLDER
    basis = digest([KEPT_AS, [[one.sha256, _corners(one)] for one in masters]])
    ready = _shelf(folder, basis)
    if ready is not None:
        return Fingerprints(folder=folder, shelf=ready, fresh={})
    return _made(folder, masters, basis, say, step)


def _made(
    folder: Path, masters: Sequence[Wanted], basis: str, say: Say, step: Step
) -> Fingerprints:
    maker = _Maker(folder)
    made = shelves.shelf(maker.each(masters, step))
    # A shelf that lacks a master is not kept: the next run tries that one again.
    if not maker.missing and not maker.unwritten:
        maker.write(folder / SHELF, shelves.to_bytes(made, basis))
    for sentence in maker.missing:
        say(sentence)
    if maker.unwritten:
        say(f"Fingerprints are made anew every time: {maker.unwritten}")
    return Fingerprints(folder=folder, shelf=made, fresh=maker.fresh)


class _Maker:
    """Makes fingerprints and keeps account of what went wrong."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.fresh: dict[str, Fingerprint] = {}
        self.missing: list[str] = []
        self.unwritten = ""

    def each(self, masters: Sequence[Wanted], step: Step) -> Iterator[Fingerprint]:
        """The masters' fingerprints in turn, but for those that fail."""
        for number, one in enumerate(masters, start=1):
            found = self._one(one)
            step(number, len(masters), one.path.name)
            if found is not None:
                yield found

    def _one(self, wanted: Wanted) -> Fingerprint | None:
        before = _read(self._folder, wanted.sha256)
        if before is not None and before.ready_for(wanted.crops):
            return before
        try:
            made = _fingerprint(wanted)
        except MasterError as error:
            if before is None:
                self.missing.append(f"Not among the known pictures: {error}")
            return before
        if not self.write(_place(self._folder, wanted.sha256), kept.to_bytes(made)):
            self.fresh[wanted.sha256] = made
        return made

    def write(self, path: Path, data: bytes) -> bool:
        """Keep it, or remember why that was not possible; the answers do not need it."""
        try:
            write_whole(path, data, replace=True)
        except CropperError as error:
            self.unwritten = str(error)
            return False
        return True


def _fingerprint(wanted: Wanted) -> Fingerprint:
    master = open_master(wanted.path)
    if master.sha256 != wanted.sha256:
        raise MasterError(
            f"{wanted.path}: the file was changed after it was planned",
            way_out="Plan it again; until then only its old fingerprint could be known",
        )
    return kept.fingerprint(master.sha256, master.srgb8(), wanted.crops)


def _place(folder: Path, sha256: str) -> Path:
    return folder / sha256[:2] / f"{sha256}.npz"


def _read(folder: Path, sha256: str) -> Fingerprint | None:
    try:
        found = kept.from_bytes(_place(folder, sha256).read_bytes())
    except OSError:
        return None
    return found if found is not None and found.sha256 == sha256 else None


def _shelf(folder: Path, basis: str) -> Shelf | None:
    try:
        return shelves.from_bytes((folder / SHELF).read_bytes(), basis)
    except OSError:
        return None


def _corners(one: Wanted) -> list[list[int]]:
    return [[box.x0, box.y0, box.x1, box.y1] for box in one.crops]
