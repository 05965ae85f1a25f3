"""What a run takes on: its files, each once, with names and places that last.

Names and places are given before any work is done and are written down, so that neither the order
in which the work comes back nor an interruption changes what a master is called.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from cropper.job.asked import Asked
from cropper.job.identity import unlike, version_name, way_between
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
    plan: Plan, files: Sequence[Path], asked: Asked, job: Path
) -> tuple[Plan, dict[Path, str]]:
    """The plan with names and places for new files, and the version of every file of this run."""
    by_file = {placed(job, way(one)).resolve(): one.version for one in plan.shelf.entries}
    waiting = {one.version: one for one in plan.waiting}
    by_file |= {placed(job, one.path).resolve(): one.version for one in plan.waiting}
    names = Names(plan)
    touched: dict[Path, str] = {}
    wanted = tuple(one.name for one in asked.destinations)
    for file in files:
        known = by_file.get(file.resolve())
        version = known or names.given(file)
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
