"""What a search for a found file knows: masters of some jobs, and their crops and finished files.

Exported crops come from the manifests that the job's exports left; a destination that was planned
and never exported is known by its chosen crop, and said to be planned only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from cropper.deliverable.manifest_reading import rows_of
from cropper.disk import sha256_of
from cropper.errors import JobError
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.cards import Card, card_of
from cropper.job.cuts_read import CutsRead, Read, ReadCut, of_master, of_row
from cropper.job.fingerprints import (
    FOLDER,
    Fingerprints,
    Say,
    Spread,
    Told,
    Wanted,
    fingerprints,
    in_turn,
)
from cropper.job.ledger import read_ledger
from cropper.job.manifesting import JSON_FILE
from cropper.job.masters import Entry
from cropper.job.store import DELIVERABLES, JobFolder
from cropper.likeness.fingerprint import Fingerprint
from cropper.likeness.shelf import Shelf, joined
from cropper.master.stored import placed


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownCut:
    """One crop of a master: exported as ``file`` with ``sha256``, or planned only (both empty)."""

    destination: str
    version: str
    crop: Crop
    file: str = ""
    sha256: str = ""
    recipient: str = ""

    @property
    def exported(self) -> bool:
        """Whether a finished file of it was made."""
        return bool(self.sha256)

    def photographed(self, size: Size) -> Crop:
        """What of the crop shows a master of ``size``: without what was filled past its edges."""
        box = self.crop.box
        if box.inside(size) or self.crop.straighten_deg:
            return self.crop
        within = PixelBox(
            max(0, box.x0), max(0, box.y0), min(size.width, box.x1), min(size.height, box.y1)
        )
        return Crop(within)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownMaster:
    """One master: where it is planned, its version and set, its crops, and boxes of its faces."""

    job: Path
    sha256: str
    path: Path
    version: str
    set: str | None
    size: Size
    cuts: tuple[KnownCut, ...] = ()
    faces: tuple[PixelBox, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """The masters as pictures: what a search looks at, in whatever process it is done."""

    shelf: Shelf
    prints: tuple[Fingerprints, ...]

    @classmethod
    def of(cls, prints: Iterable[Fingerprints]) -> Pictures:
        """Of some jobs' fingerprints."""
        kept = tuple(prints)
        return cls(shelf=joined([one.shelf for one in kept]), prints=kept)

    def load(self, sha256: str) -> Fingerprint | None:
        """The fingerprint of a master, from the first job that has it."""
        tried = (one.load(sha256) for one in self.prints)
        return next((found for found in tried if found is not None), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """All that is known. ``masters`` by the master's SHA-256: one picture may be in several jobs.

    ``files`` leads from a finished file's SHA-256 to its masters and crops: destinations that ask
    for the same get the same bytes.
    """

    masters: Mapping[str, tuple[KnownMaster, ...]]
    pictures: Pictures
    files: Mapping[str, tuple[tuple[KnownMaster, KnownCut], ...]] = field(default_factory=dict)


def known(
    jobs: Sequence[Path],
    say: Say,
    *,
    spread: Spread = in_turn,
    told: Told = lambda _made, _of: None,
) -> Known:
    """Everything the jobs know; fingerprints are made where they are missing, by ``spread``.

    ``told`` hears of each that is made. Raises :class:`JobError` when a job holds no plan.
    """
    mine = {job: tuple(known_masters(job, say)) for job in jobs}
    prints = [
        fingerprints(job, [_wanted(one) for one in masters], say, spread=spread, told=told)
        for job, masters in mine.items()
    ]
    by_sha256: dict[str, tuple[KnownMaster, ...]] = {}
    files: dict[str, tuple[tuple[KnownMaster, KnownCut], ...]] = {}
    for one in (one for masters in mine.values() for one in masters):
        by_sha256[one.sha256] = (*by_sha256.get(one.sha256, ()), one)
        for cut in (cut for cut in one.cuts if cut.exported):
            files[cut.sha256] = (*files.get(cut.sha256, ()), (one, cut))
    return Known(masters=by_sha256, pictures=Pictures.of(prints), files=files)


def known_masters(job: Path, say: Say) -> tuple[KnownMaster, ...]:
    """The plan's masters with their exported crops, and the planned ones nobody exported."""
    plan, read = JobFolder(job).must_read(), CutsRead(job)
    exported: dict[str, list[ReadCut]] = {}
    for folder in _folders(job, say):
        for cut in _delivered(folder / JSON_FILE, read, say).cuts:
            exported.setdefault(cut.master, []).append(cut)
    sets = plan.rivals.homes
    cards = ((one, one.card or card_of(one.master, place=one.place)) for one in plan.shelf.entries)
    masters = tuple(
        _known(job, card, _planned(entry, card, read), exported, sets.get(card.version))
        for entry, card in cards
    )
    read.keep()
    return masters


def _planned(entry: Entry, card: Card, read: CutsRead) -> Read:
    """What the plan says of a master; its file is opened where it is new."""
    return (
        read.of(card.text, lambda: of_master(entry.master))
        if card.text
        else of_master(entry.master)
    )


def _known(
    job: Path, card: Card, planned: Read, exported: Mapping[str, list[ReadCut]], in_set: str | None
) -> KnownMaster:
    made = exported.get(card.sha256, [])
    done = {cut.destination for cut in made}
    return KnownMaster(
        job=job,
        sha256=card.sha256,
        path=placed(job, card.path),
        version=card.version,
        set=in_set,
        size=Size(card.width, card.height),
        cuts=tuple(
            _cut(cut)
            for cut in (*made, *(one for one in planned.cuts if one.destination not in done))
        ),
        faces=planned.faces,
    )


def _folders(job: Path, say: Say) -> list[Path]:
    """Where the job's exports went: its own folder for them, and others that it wrote to."""
    try:
        others = [job / way for way in read_ledger(job).folders]
    except JobError as error:
        say(f"Other export folders are not known: {error}")
        others = []
    return list(dict.fromkeys(path.resolve() for path in (job / DELIVERABLES, *others)))


def _delivered(manifest: Path, read: CutsRead, say: Say) -> Read:
    """The crops of all finished files that a manifest lists."""
    try:
        return read.of(sha256_of(manifest), lambda: Read(tuple(_rows(manifest, say))))
    except FileNotFoundError:
        return Read()
    except (OSError, ValueError):
        say(f"{manifest} cannot be read; the files it lists are known by the plan alone.")
        return Read()


def _rows(manifest: Path, say: Say) -> Iterator[ReadCut]:
    for row in rows_of(manifest):
        try:
            yield of_row(row)
        except (KeyError, TypeError, ValueError):
            say(f"{manifest} has a line that says no crop; it is left out.")


def _cut(one: ReadCut) -> KnownCut:
    return KnownCut(
        destination=one.destination,
        version=one.version,
        crop=one.crop,
        file=one.file,
        sha256=one.sha256,
        recipient=one.recipient,
    )


def _wanted(one: KnownMaster) -> Wanted:
    boxes = dict.fromkeys(cut.photographed(one.size).box for cut in one.cuts)
    return Wanted(
        sha256=one.sha256,
        path=one.path,
        folder=one.job / FOLDER,
        crops=tuple(boxes),
        faces=one.faces,
    )
