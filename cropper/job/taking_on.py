"""What a run takes on: its files, each once, with names and places that last.

Names and places are given before any work is done and are written down, so that neither the order
in which the work comes back nor an interruption changes what a master is called.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from cropper.disk import sha256_of
from cropper.job.asked import Asked
from cropper.job.identity import length_of, unlike, version_name, way_between
from cropper.job.masters import Entry
from cropper.job.plan import Plan, WaitingMaster
from cropper.master.stored import placed


def all_files(plan: Plan, asked: Asked, job: Path) -> tuple[Path, ...]:
    """Without a file named: all masters there are and all that still wait, or those wished for."""
    wished = asked.only_wishes
    there = ((one.version, way(one)) for one in plan.shelf.entries)
    waiting = ((one.version, one.path) for one in plan.waiting)
    return tuple(
        placed(job, path) for version, path in (*there, *waiting) if not wished or version in wished
    )


def way(entry: Entry) -> str:
    """The way from the job folder to a master's picture."""
    return entry.card.path if entry.card is not None else entry.master.path


def bytes_of(entry: Entry) -> int:
    """The length of a master's file, 0 where that is not known."""
    return entry.card.bytes if entry.card is not None else entry.master.bytes


def sha256_of_entry(entry: Entry) -> str:
    """The digest that a master had when it was planned."""
    return entry.card.sha256 if entry.card is not None else entry.master.sha256


def once(files: tuple[Path, ...], say: Callable[[str], None]) -> tuple[Path, ...]:
    """Each file once, in the order given."""
    apart: dict[Path, Path] = {}
    for file in files:
        real = file.resolve()
        if real in apart:
            say(f"{file} was named twice; it is planned once.")
        apart.setdefault(real, file)
    return tuple(apart.values())


def taken_on(
    plan: Plan,
    files: Sequence[Path],
    asked: Asked,
    job: Path,
    say: Callable[[str], None] = lambda _: None,
) -> tuple[Plan, dict[Path, str]]:
    """The plan with names and places for new files, and the version of every file of this run.

    A new file that holds the very bytes of a known master is that master: moved, if nothing lies
    at its old place, else a copy that is not planned again.
    """
    by_file = {placed(job, way(one)).resolve(): one.version for one in plan.shelf.entries}
    waiting = {one.version: one for one in plan.waiting}
    by_file |= {placed(job, one.path).resolve(): one.version for one in plan.waiting}
    names = Names(plan)
    touched: dict[Path, str] = {}
    taken: set[str] = set()
    wanted = tuple(one.name for one in asked.destinations)
    pictures = _Pictures(plan, job)
    for one in files:
        file, known = one, by_file.get(one.resolve())
        if known is None and (same := pictures.like(file)) is not None:
            known, place = same
            if place.exists():
                say(f"{file} is the same picture as '{known}' ({place}); it is planned once.")
                file = place
        version = known or names.given(file)
        if known is None:
            pictures.add(file, version)
        if version in taken:
            continue
        taken.add(version)
        touched[file] = version
        if plan.shelf.entry(version) is None:
            there = waiting.get(version) or WaitingMaster(
                file=str(file),
                path=way_between(job, file),
                version=version,
                place=names.next_place(),
            )
            both = tuple(dict.fromkeys((*there.destinations, *wanted)))
            waiting[version] = replace(there, destinations=both)
    return replace(plan, waiting=tuple(waiting.values())), touched


class _Pictures:
    """What is known by its bytes. Only files of one length are read, and each once."""

    def __init__(self, plan: Plan, job: Path) -> None:
        self._known: dict[int, list[tuple[str, Path, str]]] = {}
        for one in plan.shelf.entries:
            place = placed(job, way(one))
            there, length = length_of(place), bytes_of(one)
            if there is None or there == (length or there):  # one that changed is another picture
                kept = self._known.setdefault(length or there or 0, [])
                kept.append((one.version, place, sha256_of_entry(one)))

    def like(self, file: Path) -> tuple[str, Path] | None:
        """Version and place of the known picture with the same bytes; storage is not asked."""
        length = length_of(file)
        if length is None:
            return None
        alike = [*self._known.get(length, ()), *self._known.get(0, ())]
        if not alike:
            return None
        mine = _digest(file)
        return next(
            (
                (version, place)
                for version, place, digest in alike
                if mine and mine == (digest or _digest(place))
            ),
            None,
        )

    def add(self, file: Path, version: str) -> None:
        """A new picture of this run."""
        length = length_of(file)
        if length is not None:
            self._known.setdefault(length, []).append((version, file, ""))


def _digest(file: Path) -> str:
    """SHA-256 of a file; empty where it cannot be read: whoever opens it will tell."""
    try:
        return sha256_of(file)
    except OSError:
        return ""


class Names:
    """Names and places that no other master of the job has."""

    def __init__(self, plan: Plan) -> None:
        self._files = {one.version: file_of(one) for one in plan.shelf.entries}
        self._files |= {one.version: one.file for one in plan.waiting}
        self._folded = {one.casefold(): one for one in self._files}
        places = [*(one.place for one in plan.shelf.entries), *(one.place for one in plan.waiting)]
        self._place = max(places, default=-1)

    def given(self, file: Path) -> str:
        """A new name for ``file``, kept from now on."""
        name = unlike(version_name(file.stem), self._folded.keys())
        self._folded[name.casefold()] = name
        self._files[name] = str(file)
        return name

    def next_place(self) -> int:
        """The place behind all others."""
        self._place += 1
        return self._place

    def remark(self, version: str, file: Path) -> str:
        """What to say of a name that another master had already."""
        wanted = version_name(file.stem)
        other = self._folded.get(wanted.casefold())
        if other is None or other == version:
            return ""
        return f"{file} is called '{version}' here, because '{wanted}' is {self._files[other]}."


def file_of(entry: Entry) -> str:
    """A master's picture as it was given."""
    return entry.card.file if entry.card is not None else entry.master.file
