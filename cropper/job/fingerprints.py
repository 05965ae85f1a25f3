"""Fingerprints of a job's masters, kept in the job so that each master is decoded once for them.

JOB/fingerprints/<ab>/<sha256>.npz   what is kept of one master
JOB/fingerprints/shelf.npz           what one search needs of all of them

Both are caches: they may be deleted, and are made anew when the program, a master or the exported
crops have changed; only what changed is made. A master that has gone keeps its fingerprint: it is
still recognised. They show the pictures small and grey, so they belong to the job and travel
nowhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from cropper.deliverable.writing import write_whole
from cropper.disk import plain
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A master whose fingerprint is wanted: its identity, where it lies, its crops and faces.

    ``folder`` is where its fingerprint may lie already.
    """

    sha256: str
    path: Path
    folder: Path
    crops: tuple[PixelBox, ...] = ()
    faces: tuple[PixelBox, ...] = ()

    @property
    def basis(self) -> str:
        """Digest of all that its fingerprint rests on."""
        return digest(
            [
                KEPT_AS,
                self.sha256,
                *([_corners(box) for box in boxes] for boxes in (self.crops, self.faces)),
            ]
        )

    def with_boxes_of(self, other: Wanted) -> Wanted:
        """The same picture with the crops and faces of another plan of it, too."""
        return replace(
            self,
            crops=tuple(dict.fromkeys((*self.crops, *other.crops))),
            faces=tuple(dict.fromkeys((*self.faces, *other.faces))),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What came of one: its rows of the shelf, or why there are none.

    ``data`` are the bytes of a fingerprint that is new, and to be written down.
    """

    wanted: Wanted
    rows: Shelf | None = None
    data: bytes = b""
    problem: str = ""


Spread = Callable[[Iterable[Wanted]], Iterator[Made]]
"""Does the work: here in turn, or by a crew."""
Told = Callable[[Made, int], None]
"""Hears of every one as it is done, and of how many there are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprints:
    """A job's fingerprints; ``fresh`` holds those that could not be written.

    ``basis`` names the shelf as it lies in the folder; empty when it does not lie there.
    """

    folder: Path
    shelf: Shelf
    basis: str = ""
    fresh: Mapping[str, Fingerprint] = field(default_factory=dict)

    def load(self, sha256: str) -> Fingerprint | None:
        """The fingerprint of that master, if there is one."""
        return self.fresh.get(sha256) or _read(self.folder, sha256)


def in_turn(masters: Iterable[Wanted]) -> Iterator[Made]:
    """One after another, in this process."""
    return map(make, masters)


def fingerprints(
    job: Path,
    masters: Sequence[Wanted],
    say: Say,
    *,
    spread: Spread = in_turn,
    told: Told = lambda _made, _of: None,
) -> Fingerprints:
    """All of them, made where they are missing or stale. A master that fails is told and left."""
    folder = job / FOLDER
    before, bases = shelves.opened(folder / SHELF) or (shelves.shelf(()), {})
    wanted: dict[str, Wanted] = {}
    for one in masters:
        wanted[one.sha256] = wanted.get(one.sha256, one).with_boxes_of(one)
    lacking = [one for one in wanted.values() if bases.get(one.sha256) != one.basis]
    maker = _Keeper(folder, say)
    for made in spread(lacking):
        maker.keep(made)
        told(made, len(lacking))
    ready = {one.sha256 for one in wanted.values()} - {one.sha256 for one in lacking}
    names = [sha256 for sha256 in wanted if sha256 in ready or sha256 in maker.rows]
    old = shelves.picked(before, [name for name in before.names if name in ready])
    shelf = shelves.picked(shelves.joined([old, *maker.rows.values()]), names)
    basis = {name: wanted[name].basis for name in names}
    if maker.rows or shelf is not before:
        maker.write(folder / SHELF, shelves.to_bytes(shelf, basis))
    if maker.unwritten:
        say(f"Fingerprints are made anew every time: {maker.unwritten}")
    named = "" if maker.unwritten else digest(basis)
    return Fingerprints(folder=folder, shelf=shelf, basis=named, fresh=maker.fresh)


def reopened(folder: Path, basis: str) -> Fingerprints | None:
    """The same fingerprints from the disk, in another process; None when others lie there now."""
    found = shelves.opened(folder / SHELF)
    if found is None or digest(found[1]) != basis:
        return None
    return Fingerprints(folder=folder, shelf=found[0], basis=basis)


class _Keeper:
    """Writes down what is made, and keeps account of what went wrong."""

    def __init__(self, folder: Path, say: Say) -> None:
        self._folder, self._say = folder, say
        self.rows: dict[str, Shelf] = {}
        self.fresh: dict[str, Fingerprint] = {}
        self.unwritten = ""

    def keep(self, made: Made) -> None:
        """Keep one, or say why there is none."""
        sha256 = made.wanted.sha256
        if made.rows is None:
            self._say(f"Not among the known pictures: {made.problem}")
            return
        self.rows[sha256] = made.rows
        if made.data and not self.write(_place(self._folder, sha256), made.data):
            again = kept.from_bytes(made.data)
            if again is not None:
                self.fresh[sha256] = again

    def write(self, path: Path, data: bytes) -> bool:
        """Keep it, or remember why that was not possible; the answers do not need it."""
        try:
            write_whole(path, data, replace=True, within=self._folder.parent)
        except CropperError as error:
            self.unwritten = str(error)
            return False
        return True


def make(wanted: Wanted) -> Made:
    """The fingerprint of one master, read or made; nothing is written. A fault is told in it."""
    before = _read(wanted.folder, wanted.sha256)
    if before is not None and before.ready_for(wanted.crops, wanted.faces):
        return Made(wanted=wanted, rows=shelves.shelf([before]))
    try:
        made = _fingerprint(wanted)
    except MasterError as error:
        if before is None:
            return Made(wanted=wanted, problem=str(error))
        return Made(wanted=wanted, rows=shelves.shelf([before]))
    return Made(wanted=wanted, rows=shelves.shelf([made]), data=kept.to_bytes(made))


def _fingerprint(wanted: Wanted) -> Fingerprint:
    master = open_master(wanted.path)
    if master.sha256 != wanted.sha256:
        raise MasterError(
            f"{wanted.path}: the file was changed after it was planned",
            way_out="Plan it again; until then only its old fingerprint could be known",
        )
    return kept.fingerprint(master.sha256, master.srgb8(), wanted.crops, wanted.faces)


def _place(folder: Path, sha256: str) -> Path:
    return folder / sha256[:2] / f"{sha256}.npz"


def _read(folder: Path, sha256: str) -> Fingerprint | None:
    try:
        found = kept.from_bytes(plain(_place(folder, sha256)).read_bytes())
    except OSError:
        return None
    return found if found is not None and found.sha256 == sha256 else None


def _corners(box: PixelBox) -> list[int]:
    return [box.x0, box.y0, box.x1, box.y1]
