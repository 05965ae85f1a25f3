"""What a search for a found file knows: masters of some jobs, and their crops and finished files.

Exported crops come from the manifests that the job's exports left; a destination that was planned
and never exported is known by its chosen crop, and said to be planned only.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cropper.errors import JobError
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.fingerprints import Fingerprints, Say, Step, Wanted, fingerprints
from cropper.job.ledger import read_ledger
from cropper.job.manifesting import JSON_FILE
from cropper.job.plan import Plan, PlannedMaster
from cropper.job.store import DELIVERABLES, JobFolder
from cropper.likeness.fingerprint import Fingerprint
from cropper.likeness.shelf import Shelf, joined


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
    """One master: where it is planned, its version and set, and its crops."""

    job: Path
    sha256: str
    path: Path
    version: str
    set: str | None
    size: Size
    cuts: tuple[KnownCut, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """All that is known. ``masters`` by the master's SHA-256: one picture may be in several jobs.

    ``files`` leads from a finished file's SHA-256 to its masters and crops: destinations that ask
    for the same get the same bytes.
    """

    masters: Mapping[str, tuple[KnownMaster, ...]]
    shelf: Shelf
    prints: tuple[Fingerprints, ...]
    files: Mapping[str, tuple[tuple[KnownMaster, KnownCut], ...]] = field(default_factory=dict)

    def load(self, sha256: str) -> Fingerprint | None:
        """The fingerprint of a master, from the first job that has it."""
        tried = (one.load(sha256) for one in self.prints)
        return next((found for found in tried if found is not None), None)


def known(jobs: Sequence[Path], say: Say, step: Step) -> Known:
    """Everything the jobs know; fingerprints are made where they are missing.

    Raises :class:`JobError` when a job holds no plan.
    """
    masters: dict[str, tuple[KnownMaster, ...]] = {}
    prints: list[Fingerprints] = []
    for job in jobs:
        mine = tuple(known_masters(job, JobFolder(job).must_read(), say))
        for one in mine:
            masters[one.sha256] = (*masters.get(one.sha256, ()), one)
        prints.append(fingerprints(job, [_wanted(one) for one in mine], say, step))
    files: dict[str, tuple[tuple[KnownMaster, KnownCut], ...]] = {}
    for one in (one for same in masters.values() for one in same):
        for cut in (cut for cut in one.cuts if cut.exported):
            files[cut.sha256] = (*files.get(cut.sha256, ()), (one, cut))
    return Known(
        masters=masters,
        shelf=joined([one.shelf for one in prints]),
        prints=tuple(prints),
        files=files,
    )


def known_masters(job: Path, plan: Plan, say: Say) -> Iterator[KnownMaster]:
    """The plan's masters with their exported crops, and the planned ones nobody exported."""
    rows = [row for folder in _folders(job, say) for row in _delivered(folder, say)]
    exported: dict[str, list[KnownCut]] = {}
    for row in rows:
        exported.setdefault(row[0], []).append(row[1])
    sets = {version: one.name for one in plan.sets for version in one.versions}
    for master in plan.masters:
        made = exported.get(master.sha256, [])
        done = {cut.destination for cut in made}
        planned = (cut for cut in _planned(master) if cut.destination not in done)
        yield KnownMaster(
            job=job,
            sha256=master.sha256,
            path=master.located(job),
            version=master.version,
            set=sets.get(master.version),
            size=Size(master.width, master.height),
            cuts=(*made, *planned),
        )


def _planned(master: PlannedMaster) -> Iterator[KnownCut]:
    for destination in master.choices:
        chosen = master.chosen(destination)
        if chosen is not None:
            yield KnownCut(destination=destination, version=master.version, crop=chosen.crop)


def _folders(job: Path, say: Say) -> list[Path]:
    """Where the job's exports went: its own folder for them, and others that it wrote to."""
    try:
        others = [job / way for way in read_ledger(job).folders]
    except JobError as error:
        say(f"Other export folders are not known: {error}")
        others = []
    return list(dict.fromkeys(path.resolve() for path in (job / DELIVERABLES, *others)))


def _delivered(folder: Path, say: Say) -> Iterator[tuple[str, KnownCut]]:
    """(master's SHA-256, crop) of each finished file that the folder's manifest lists."""
    path = folder / JSON_FILE
    try:
        rows = json.loads(path.read_text(encoding="utf-8"))["delivered"]
    except FileNotFoundError:
        return
    except (OSError, ValueError, KeyError, TypeError):
        say(f"{path} cannot be read; the files it lists are known by the plan alone.")
        return
    for row in rows:
        try:
            yield str(row["master_sha256"]), _cut(row)
        except (KeyError, TypeError, ValueError):
            say(f"{path} has a line that says no crop; it is left out.")


def _cut(row: Mapping[str, Any]) -> KnownCut:
    box = PixelBox(*(int(edge) for edge in row["crop"]))
    return KnownCut(
        destination=str(row["destination"]),
        version=str(row["version"]),
        crop=Crop(box, float(row.get("straighten_deg") or 0)),
        file=str(row["file"]),
        sha256=str(row["sha256"]),
        recipient=str(row.get("recipient") or ""),
    )


def _wanted(one: KnownMaster) -> Wanted:
    boxes = dict.fromkeys(cut.photographed(one.size).box for cut in one.cuts)
    return Wanted(sha256=one.sha256, path=one.path, crops=tuple(boxes))
