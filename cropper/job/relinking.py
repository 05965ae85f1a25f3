"""Masters that were moved, renamed or copied, known again by their bytes.

A master's identity is its SHA-256 (:mod:`cropper.master.opening`), so wherever a file with that
digest lies, it is that master. Only files of the right length are read to find out.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from cropper.disk import sha256_of
from cropper.job.identity import length_of, way_between
from cropper.job.masters import Entry
from cropper.job.plan import Plan
from cropper.job.store import JobFolder
from cropper.job.taking_on import bytes_of, sha256_of_entry, way
from cropper.master.stored import StoredPath, placed

Hear = Callable[[Path], None]
"""Hears of every file that is read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Relinked:
    """What a search came to: the plan with the new places, what was found where, what is missing.

    ``missing`` maps a version to the place where its master was.
    """

    plan: Plan
    found: Mapping[str, Path] = field(default_factory=dict)
    missing: Mapping[str, Path] = field(default_factory=dict)


def missing_masters(plan: Plan, job: Path) -> dict[str, Path]:
    """Version -> place of every master that is not where the plan has it. Storage is not asked."""
    here = ((one.version, placed(job, way(one))) for one in plan.shelf.entries)
    return {
        version: path
        for version, path in here
        if not isinstance(path, StoredPath) and not path.is_file()
    }


def changed_masters(plan: Plan, job: Path) -> Iterator[str]:
    """Versions whose masters hold something else than when they were planned.

    The length tells of most; one of the same length is read only if it was written to since the
    plan was made. Storage is not asked.
    """
    made_at = plan.made_at.timestamp()
    for one in plan.shelf.entries:
        path = placed(job, way(one))
        length, known = length_of(path), bytes_of(one)
        if length is None or not known:
            continue
        if length != known or (
            path.stat().st_mtime > made_at and sha256_of(path) != sha256_of_entry(one)
        ):
            yield one.version


def relink(
    plan: Plan, job: Path, folders: Sequence[Path] = (), hear: Hear | None = None
) -> Relinked:
    """Look for the missing masters of a plan and give it their new places.

    First where they lay as seen from the job's former folder, then beside their former places, and
    then in ``folders`` and below. Choices, crops and approvals stay as they are.
    """
    missing = missing_masters(plan, job)
    if not missing:
        return Relinked(plan=plan)
    search = _Search([one for one in plan.shelf.entries if one.version in missing], hear)
    former = Path(plan.folder) if plan.folder else None
    before = [*missing.values(), *_as_seen_from(former, plan, missing)]
    search.look_at(path for path in before if path.is_file())
    search.look_at(_beside(before))
    for folder in folders:
        search.look_at(_below(folder))
    for version, path in search.found.items():
        plan = _moved(plan, version, path, job, former=missing[version])
    still = {version: path for version, path in missing.items() if version not in search.found}
    return Relinked(plan=plan, found=search.found, missing=still)


def _as_seen_from(former: Path | None, plan: Plan, missing: Iterable[str]) -> Iterator[Path]:
    """Where the masters lay for the job's folder as it was."""
    if former is not None:
        entries = (plan.shelf.entry(version) for version in missing)
        yield from (placed(former, way(one)).resolve() for one in entries if one is not None)


def _beside(places: Iterable[Path]) -> Iterator[Path]:
    """All files in the folders where the masters were, each folder once."""
    for folder in dict.fromkeys(path.parent.resolve() for path in places):
        yield from _files(folder)


def _files(folder: Path) -> Iterator[Path]:
    try:
        yield from sorted(one for one in folder.iterdir() if one.is_file())
    except OSError:
        return


def _below(folder: Path) -> Iterator[Path]:
    for at, folders, files in os.walk(folder):
        folders.sort()
        yield from (Path(at) / name for name in sorted(files))


class _Search:
    """Compares files with the masters that are missing, until all are found."""

    def __init__(self, entries: Iterable[Entry], hear: Hear | None) -> None:
        self.found: dict[str, Path] = {}
        self._hear, self._read = hear, set[Path]()
        self._wanted: dict[str, list[Entry]] = {}
        for one in entries:
            self._wanted.setdefault(sha256_of_entry(one), []).append(one)

    def look_at(self, files: Iterable[Path]) -> None:
        """Compare them, as long as something is missing."""
        for file in files:
            if not self._wanted:
                return
            if file not in self._read and self._may_be(file):
                self._compare(file)

    def _may_be(self, file: Path) -> bool:
        """Whether the length tells against it; where no length is known, the name's ending."""
        length = length_of(file)
        wanted = [one for same in self._wanted.values() for one in same]
        endings = {Path(way(one)).suffix.lower() for one in wanted if not bytes_of(one)}
        return length is not None and (
            any(bytes_of(one) == length for one in wanted) or file.suffix.lower() in endings
        )

    def _compare(self, file: Path) -> None:
        self._read.add(file)
        if self._hear is not None:
            self._hear(file)
        try:
            same = self._wanted.pop(sha256_of(file), ())
        except OSError:
            return
        self.found.update((one.version, file) for one in same)


def _moved(plan: Plan, version: str, path: Path, job: Path, *, former: Path) -> Plan:
    """The plan with a master's new place; that it failed at the old one is past."""
    master = plan.master(version)
    if master is None:
        raise ValueError(f"no version {version}")
    there = former.resolve()
    failed = tuple(one for one in plan.failed if placed(Path(), one.file).resolve() != there)
    new = replace(
        master, file=str(path), path=way_between(job, path), bytes=length_of(path) or master.bytes
    )
    return replace(plan.with_master(new), failed=failed)


def run_relink(job: Path, folders: Sequence[Path], hear: Hear | None = None) -> Relinked:
    """Look for the missing masters of the job in the folder ``job``, and write down where they are.

    Raises :class:`JobError` when there is no plan in it.
    """
    folder = JobFolder(job)
    folder.must_read()
    with folder.held():
        done = relink(folder.must_read(), job, folders, hear)
        return replace(done, plan=folder.write(done.plan)) if done.found else done
