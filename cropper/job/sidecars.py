"""Sidecars of a job's masters: every chosen crop as an image region, for any reader of XMP.

They lie in JOB/sidecars, a file for each version. Beside the masters they go only when asked, and
there a file that somebody else made or wrote to is never replaced.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Final

from cropper.deliverable.naming import first_free, folded
from cropper.deliverable.regions import Region, region_of
from cropper.deliverable.sidecar import sidecar, untouched
from cropper.deliverable.writing import write_whole
from cropper.destination.naming import file_stem
from cropper.disk import plain
from cropper.errors import DeliveryError, MasterError
from cropper.geometry import Size
from cropper.job.approving import why_withheld
from cropper.job.plan import Plan, PlannedMaster
from cropper.master.opening import master_digest
from cropper.master.stored import StoredPath

SIDECARS: Final = "sidecars"
ENDING: Final = ".xmp"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sidecar:
    """One master's sidecar. ``fresh``: written just now; ``fault``: why it could not be."""

    version: str
    path: Path
    fresh: bool = False
    fault: str = ""


def regions_of(plan: Plan, master: PlannedMaster) -> tuple[Region, ...]:
    """Every crop that counts for this master, but for those that the photographer refused.

    A crop that reaches past the master, to be filled there, is no region of it and is left out.
    """
    size = Size(master.width, master.height)
    return tuple(
        region_of(chosen.crop, destination, size)
        for destination in plan.destinations
        if (chosen := master.chosen(destination.name)) is not None
        and chosen.crop.box.inside(size)
        and not why_withheld(master, destination.name, approved_only=False)
    )


def write_sidecars(job: Path, plan: Plan, *, beside_masters: bool = False) -> tuple[Sidecar, ...]:
    """Write what changed, and take away those of versions that the job no longer has.

    Gives those that could not be written.
    """
    kept: set[str] = set()
    faulty = []
    for one in _written(job, plan, beside_masters=beside_masters):
        kept.add(one.path.name)
        if one.fault:
            faulty.append(one)
    _take_away(job / SIDECARS, kept)
    return tuple(faulty)


def _written(job: Path, plan: Plan, *, beside_masters: bool) -> Iterator[Sidecar]:
    taken: set[str] = set()
    for master in plan.masters:
        text = sidecar(regions_of(plan, master), master=PurePath(master.file).name)
        name = first_free(file_stem("{version}", {"version": master.version}) + ENDING, taken)
        taken.add(folded(name))
        yield _put(master.version, job / SIDECARS / name, text, within=job)
        if beside_masters:
            yield _beside(job, master, text)


def _beside(job: Path, master: PlannedMaster, text: str) -> Sidecar:
    """Beside a master only if it is the one that was planned: a plan's paths are not trusted."""
    path = master.located(job)
    if isinstance(path, StoredPath):
        fault = f"{path} is on storage that is only read, so nothing was put beside it"
        return Sidecar(version=master.version, path=path.with_suffix(ENDING), fault=fault)
    try:
        same = master_digest(path) == master.sha256
    except MasterError:
        same = False
    if same:
        return _put(master.version, path.with_suffix(ENDING), text)
    fault = f"{path} is not the master that was planned, so nothing was put beside it"
    return Sidecar(version=master.version, path=path.with_suffix(ENDING), fault=fault)


def _put(version: str, path: Path, text: str, *, within: Path | None = None) -> Sidecar:
    """Write one sidecar, unless somebody else's is there."""
    try:
        there = _read(path)
        if there == text.encode():
            return Sidecar(version=version, path=path)
        _refuse_strangers(path, there)
        write_whole(path, text.encode(), replace=there is not None, within=within)
    except DeliveryError as error:
        return Sidecar(version=version, path=path, fault=str(error))
    return Sidecar(version=version, path=path, fresh=True)


def _read(path: Path) -> bytes | None:
    try:
        return plain(path).read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise DeliveryError(
            f"{path} cannot be read ({error.strerror or error})",
            way_out="Look at what stands in the way there",
        ) from error


def _refuse_strangers(path: Path, there: bytes | None) -> None:
    if there is not None and not untouched(there.decode("utf-8", "replace")):
        raise DeliveryError(
            f"{path} was made or changed by somebody else, and is left as it is",
            way_out="Move it away to have it written, or take its regions: cropper regions --read",
        )


def _take_away(folder: Path, kept: set[str]) -> None:
    """Sidecars of ours that belong to nothing any more."""
    if not folder.is_dir() or folder.is_symlink():
        return
    for path in folder.glob(f"*{ENDING}"):
        ours = path.is_file() and untouched(path.read_text(encoding="utf-8", errors="replace"))
        if ours and path.name not in kept:
            path.unlink(missing_ok=True)
