"""From a plan to finished files and their manifest; what is right already is left alone.

Masters are read, never written. A file is ours to replace only if this job wrote it and nobody
changed it since. One picture that fails never stops the others.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field, replace
from itertools import groupby
from pathlib import Path, PurePath
from typing import Final

from cropper import __version__
from cropper.deliverable.delivering import Finished, Order, deliver_all
from cropper.deliverable.manifest import (
    Delivered,
    NotDelivered,
    crop_corners,
    rule_rows,
    trim_corners,
)
from cropper.deliverable.naming import apart, file_name
from cropper.deliverable.writing import write_whole
from cropper.destination.naming import portable
from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_RIVALS_CLASH,
    EXIT_SOME_FAILED,
    DeliveryError,
    MasterError,
    weightiest,
)
from cropper.geometry import Size
from cropper.job.identity import destination_hash, digest, way_between
from cropper.job.ledger import Entry, Ledger, read_ledger, write_ledger
from cropper.job.plan import Plan
from cropper.job.wanted import Item, Owed, failed, owed
from cropper.master.opening import master_digest, open_master
from cropper.proposal.delivering import lying_as

ENGINE: Final = f"{__version__} finishing 1"
"""Goes into every file's basis: count it up when finished pixels change."""
NO_RECIPIENT: Final = "no-recipient"
"""Folder of the files that no recipient is named for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What one export is asked for. ``day`` (YYYYMMDD) fills ``{date}`` in names."""

    folder: Path
    day: str
    everything: bool = False
    by_recipient: bool = False
    only: Collection[str] = ()
    approved_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What came of it. ``failures`` are those not delivered because something went wrong."""

    delivered: tuple[Delivered, ...]
    not_delivered: tuple[NotDelivered, ...]
    failures: tuple[NotDelivered, ...]
    written: tuple[str, ...]
    left_over: tuple[str, ...]
    look_again: tuple[str, ...]
    clash: bool

    @property
    def exit_code(self) -> int:
        """What ``export`` exits with."""
        codes = [EXIT_DONE]
        if self.failures:
            codes.append(EXIT_SOME_FAILED if self.delivered else EXIT_CANNOT)
        if self.clash:
            codes.append(EXIT_RIVALS_CLASH)
        if self.look_again:
            codes.append(EXIT_NEEDS_YOUR_EYE)
        return weightiest(*codes)


@dataclass(slots=True)
class _Run:
    """What changes while an export goes on."""

    job: Path
    wish: Wish
    ledger: Ledger
    folder: str
    delivered: dict[int, Delivered] = field(default_factory=dict)
    failures: list[NotDelivered] = field(default_factory=list)
    written: list[str] = field(default_factory=list)

    def note(self, name: str, entry: Entry) -> None:
        self.ledger = self.ledger.with_entry(self.folder, name, entry)
        write_ledger(self.job, self.ledger)


@dataclass(frozen=True, slots=True)
class _Task:
    """An item with its place in the list, its file's name and what the file rests on."""

    number: int
    item: Item
    name: str
    wanted: str
    basis: str


@dataclass(frozen=True, slots=True)
class _Made:
    """A finished file's bytes."""

    data: bytes
    size: Size
    ppi: float | None


def export_job(
    job: Path, plan: Plan, wish: Wish, progress: Callable[[int, int, str], None] | None = None
) -> Exported:
    """Make every file that ``plan`` owes; ``progress`` hears (done, of, file).

    Raises :class:`JobError` only when the job folder itself cannot be used.
    """
    listed = owed(
        plan, everything=wish.everything, only=wish.only, approved_only=wish.approved_only
    )
    run = _Run(job, wish, read_ledger(job), way_between(job, wish.folder))
    tasks = tuple(_named(run, listed))
    done = 0
    for _, group in groupby(tasks, key=lambda task: task.item.master.version):
        for task in _of_one_master(run, tuple(group)):
            done += 1
            if progress is not None:
                progress(done, len(tasks), task.name)
    return _told(run, listed, tasks)


def _named(run: _Run, listed: Owed) -> Iterator[_Task]:
    """Every item with a file name of its own; a name once given stays."""
    used: set[str] = set()
    for number, item in enumerate(listed.items):
        wanted = _wanted_name(run.wish, item)
        mine = run.ledger.name_of(run.folder, item.master.version, item.destination.name)
        if mine is None or not _same_but_number(mine, wanted):
            mine = apart(wanted, _taken(run, used, wanted))
        used.add(mine)
        yield _Task(number, item, mine, wanted, _basis(item))


def _wanted_name(wish: Wish, item: Item) -> str:
    name = file_name(
        item.destination,
        item.proposal.delivered,
        version=item.master.version,
        master=PurePath(item.master.file).stem,
        set_name=item.set_name or "",
        recipient=item.destination.recipient,
        date=wish.day,
    )
    if not wish.by_recipient:
        return name
    return f"{portable(item.destination.recipient) or NO_RECIPIENT}/{name}"


def _same_but_number(mine: str, wanted: str) -> bool:
    """Whether ``mine`` is ``wanted``, or ``wanted`` with the running number it was given once."""
    stem, _, ending = wanted.rpartition(".")
    middle = mine.removeprefix(stem).removesuffix(f".{ending}")
    return mine == wanted or (middle.startswith("-") and middle[1:].isdigit())


def _taken(run: _Run, used: Collection[str], wanted: str) -> set[str]:
    """Names in use: by this run, by the ledger, and by files of others on the disk."""
    folder = (run.wish.folder / wanted).parent
    below = PurePath(wanted).parent
    on_disk = (below / one.name for one in folder.iterdir()) if folder.is_dir() else ()
    return {*used, *run.ledger.files(run.folder), *(one.as_posix() for one in on_disk)}


def _basis(item: Item) -> str:
    crop = item.proposal.crop
    return digest(
        [
            item.master.sha256,
            [*crop_corners(crop), crop.straighten_deg],
            destination_hash(item.destination),
            ENGINE,
        ]
    )


def _of_one_master(run: _Run, tasks: tuple[_Task, ...]) -> Iterator[_Task]:
    """All files of one master, opened only if something is to be made of it."""
    try:
        _refuse_changed(run, tasks[0])
        fresh = [task for task in tasks if not _stands(run, task)]
        yield from (task for task in tasks if task not in fresh)
        if fresh:
            yield from _made_of(run, fresh)
    except (MasterError, DeliveryError) as error:
        for task in tasks:
            if task.number not in run.delivered:
                run.failures.append(failed(task.item, str(error)))
                yield task


def _refuse_changed(run: _Run, task: _Task) -> None:
    master = task.item.master
    path = master.located(run.job)
    if master_digest(path) != master.sha256:
        raise MasterError(
            f"{path} has changed since it was planned",
            way_out="Plan it again, with the same --job: what you chose by hand is kept",
        )


def _stands(run: _Run, task: _Task) -> bool:
    """Whether the file is there as this very task would make it; then it is delivered already."""
    entry = run.ledger.files(run.folder).get(task.name)
    if entry is None or not entry.written or entry.basis != task.basis:
        return False
    if _sha256(run.wish.folder / task.name) != entry.sha256:
        return False
    run.delivered[task.number] = _row(task, entry)
    return True


def _sha256(path: Path) -> str | None:
    """Digest of a file; None when it is not there."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise DeliveryError(
            f"{path} cannot be read ({error.strerror or error})",
            way_out="Choose another folder with --to",
        ) from error


def _made_of(run: _Run, tasks: list[_Task]) -> Iterator[_Task]:
    """Render, encode and write, in order."""
    master = open_master(tasks[0].item.master.located(run.job))
    orders = (
        Order(crop=task.item.proposal.crop, destination=task.item.destination) for task in tasks
    )
    for task, finished in zip(tasks, deliver_all(master, orders), strict=True):
        try:
            _written(run, task, _whole(finished))
        except DeliveryError as error:
            run.failures.append(failed(task.item, str(error)))
        yield task


def _whole(finished: Finished) -> _Made:
    """The finished file; raises its fault when there is none."""
    if finished.fault is not None or finished.size is None:
        raise finished.fault or DeliveryError("nothing was made")
    return _Made(finished.data, finished.size, finished.ppi)


def _written(run: _Run, task: _Task, made: _Made) -> None:
    """Claim the name, put the file there, and note it; refuse a file that is not ours."""
    mine = hashlib.sha256(made.data).hexdigest()
    task = _taken_over(run, task, mine)
    path = run.wish.folder / task.name
    there = _sha256(path)
    before = run.ledger.files(run.folder).get(task.name)
    if there not in {None, mine, before.sha256 if before else None}:
        raise DeliveryError(
            f"{path} was changed by somebody since it was written, and is left as it is",
            way_out="Move it away to have it written again",
        )
    item = task.item
    claim = Entry(
        version=item.master.version,
        destination=item.destination.name,
        basis=task.basis,
        sha256=there or "",
    )
    run.note(task.name, claim)
    if there != mine:
        write_whole(path, made.data, replace=there is not None)
        run.written.append(task.name)
    entry = replace(
        claim,
        sha256=mine,
        bytes=len(made.data),
        width=made.size.width,
        height=made.size.height,
        ppi=made.ppi,
        written=True,
    )
    run.note(task.name, entry)
    run.delivered[task.number] = _row(task, entry)


def _taken_over(run: _Run, task: _Task, mine: str) -> _Task:
    """The task under the plain name, when that file is right already: a ledger was lost."""
    known = run.ledger.files(run.folder)
    if task.name == task.wanted or task.name in known or task.wanted in known:
        return task
    same = _sha256(run.wish.folder / task.wanted) == mine
    return replace(task, name=task.wanted) if same else task


def _row(task: _Task, entry: Entry) -> Delivered:
    item = task.item
    size = Size(entry.width, entry.height)
    lying = lying_as(item.destination, item.proposal.crop.box.size)
    return Delivered(
        file=task.name,
        sha256=entry.sha256,
        bytes=entry.bytes,
        width=entry.width,
        height=entry.height,
        ppi=entry.ppi,
        destination=item.destination.name,
        outlet=item.outlet,
        recipient=item.destination.recipient,
        set=item.set_name,
        version=item.master.version,
        master=PurePath(item.master.file).name,
        master_sha256=item.master.sha256,
        crop=crop_corners(item.proposal.crop),
        trim=trim_corners(lying.trim, size),
        straighten_deg=item.proposal.crop.straighten_deg,
        proposed_by=item.proposal.proposed_by,
        verdict=str(item.proposal.verdict),
        rules=rule_rows(item.proposal.measures),
    )


def _told(run: _Run, listed: Owed, tasks: tuple[_Task, ...]) -> Exported:
    here = {task.name for task in tasks} | {one.file for one in run.delivered.values()}
    known = run.ledger.files(run.folder)
    left = [name for name in known if name not in here and (run.wish.folder / name).exists()]
    again = [
        f"{task.item.master.version} for {task.item.destination.name}"
        for task in tasks
        if task.number in run.delivered and task.item.choice.state == "look again"
    ]
    return Exported(
        delivered=tuple(run.delivered[number] for number in sorted(run.delivered)),
        not_delivered=(*listed.not_delivered, *run.failures),
        failures=tuple(run.failures),
        written=tuple(run.written),
        left_over=tuple(left),
        look_again=tuple(again),
        clash=listed.clash,
    )
