"""From a plan to finished files and their manifest; what is right already is left alone.

Masters are read, never written. A file is ours to replace only if this job wrote it and nobody
changed it since. One picture that fails never stops the others. Deciding, claiming and noting
happen here; the work on each master is a task of its own (:mod:`cropper.job.making`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Final

from cropper import __version__
from cropper.deliverable.manifest import MANIFEST, Delivered, NotDelivered
from cropper.deliverable.manifest_writing import open_manifest
from cropper.deliverable.writing import swept
from cropper.disk import refuse_links
from cropper.errors import JobError
from cropper.job.exported import Exported, FileTold, Wish
from cropper.job.file_names import FileNames, wanted_name
from cropper.job.identity import way_between
from cropper.job.ledger import Entry, OpenLedger
from cropper.job.making import (
    FileMade,
    FileOrder,
    MasterOrder,
    basis_of,
    claimed,
    made_files,
)
from cropper.job.manifest_rows import delivered_row
from cropper.job.plan import Plan
from cropper.job.sidecars import SIDECARS, write_sidecars
from cropper.job.stage import cleared, stage_of
from cropper.job.store import DELIVERABLES, reason
from cropper.job.texts import Spoken, TextFolder, texts_before, texts_of
from cropper.job.wanted import Item, clashing, failed, owing
from cropper.job.wording import JobWords, Worded, read_words, words_for

__all__ = ["Exported", "Wish", "export_job"]

FOR_PAGES: Final = "web"
"""Destinations of this group get snippets for web pages."""
STOPPED: Final = "The export was stopped before it came to this; export again."

Say = Callable[[int, int, str], None]
"""Hears (done, of, file)."""
Spread = Callable[[Iterable[MasterOrder]], Iterator[FileMade]]
"""Works off the orders and gives back what came of each file, in whatever order it is done.

It must take an order only when it is about to begin with it: its names are claimed just then.
"""


def in_turn(orders: Iterable[MasterOrder]) -> Iterator[FileMade]:
    """One master after the other, in this process."""
    for order in orders:
        yield from made_files(order)


@dataclass(frozen=True, slots=True)
class _Slot:
    """An item's place: its number, its file's name, and the plain name if that may be taken."""

    number: int
    name: str
    plain: str


@dataclass(slots=True)
class _Run:
    """What changes while an export goes on. Of an item only its slot stays, by (version, for)."""

    job: Path
    plan: Plan
    wish: Wish
    ledger: OpenLedger
    words: JobWords
    slots: dict[tuple[str, str], _Slot] = field(default_factory=dict)
    in_hand: dict[int, tuple[Item, FileOrder]] = field(default_factory=dict)
    delivered: dict[int, str] = field(default_factory=dict)
    failures: dict[int, NotDelivered] = field(default_factory=dict)
    missing: list[NotDelivered] = field(default_factory=list)
    written: list[str] = field(default_factory=list)

    @property
    def came_to_all(self) -> bool:
        """Whether every item was taken up: nobody stopped the run."""
        return len(self.delivered) + len(self.failures) == len(self.slots)

    def items(self) -> Iterator[tuple[Item, _Slot]]:
        """Every item with its slot, read from the plan again, one master at a time."""
        for item in self.owing():
            if isinstance(item, Item) and _key(item) in self.slots:
                yield item, self.slots[_key(item)]

    def owing(self) -> Iterator[Item | NotDelivered]:
        """What the plan owes, by this run's wish."""
        wish = self.wish
        return owing(
            self.plan,
            everything=wish.everything,
            only=wish.only,
            approved_only=wish.approved_only,
        )


def export_job(
    job: Path,
    plan: Plan,
    wish: Wish,
    progress: Say | None = None,
    *,
    now: datetime,
    spread: Spread = in_turn,
) -> Exported:
    """Make every file that ``plan`` owes, and the manifest; ``progress`` hears (done, of, file).

    Raises :class:`JobError` only when the job folder itself cannot be used, and
    :class:`PresetError` when ``words.toml`` is at fault: no file leaves with half its words.
    """
    refuse_linked(job, wish.folder)
    for mine in (DELIVERABLES, SIDECARS):
        swept(job / mine)
    words = read_words(job)
    ledger = OpenLedger(job, way_between(job, wish.folder))
    run = _Run(job, plan, wish, ledger, words)
    _name_all(run)
    made = spread(_claiming(run))
    for done, one in enumerate(made, start=1):
        _note(run, one)
        if progress is not None:
            progress(done, len(run.slots), one.name)
    ledger.close()
    if run.came_to_all:
        cleared(job)
    sidecars = write_sidecars(job, plan, beside_masters=wish.sidecars_beside_masters)
    return replace(_told(run, now), sidecars=sidecars)


def refuse_linked(job: Path, folder: Path) -> None:
    """Raise :class:`JobError` for a job's own folder that is a link; one named may be one."""
    if folder == job / DELIVERABLES:
        try:
            refuse_links(folder, job)
        except OSError as error:
            raise JobError(
                f"{folder} is {reason(error)}", way_out="Put a real folder there, or name one: --to"
            ) from error


def _key(item: Item) -> tuple[str, str]:
    return item.master.version, item.destination.name


def _name_all(run: _Run) -> None:
    """A slot for every item, with a file name of its own; and what has no file."""
    names, plain_names = FileNames(run.wish.folder, run.ledger), set(run.ledger.files)
    for item in run.owing():
        if not isinstance(item, Item):
            run.missing.append(item)
            continue
        wanted = wanted_name(item, day=run.wish.day, by_recipient=run.wish.by_recipient)
        version, destination = _key(item)
        name = names.give(wanted, version=version, destination=destination)
        owned = name in run.ledger.files or wanted in plain_names
        plain_names.add(wanted)
        number = len(run.slots)
        run.slots[version, destination] = _Slot(number, name, "" if owned else wanted)


def _order(run: _Run, item: Item, slot: _Slot) -> FileOrder:
    words, crop = _worded(run, item).words, item.proposal.crop
    return FileOrder(
        number=slot.number,
        name=slot.name,
        plain=slot.plain,
        version=item.master.version,
        basis=basis_of(item.master.sha256, crop, item.destination, words),
        crop=crop,
        destination=item.destination,
        words=words,
        before=run.ledger.files.get(slot.name),
    )


def _worded(run: _Run, item: Item) -> Worded:
    destination = item.destination
    return words_for(
        run.words,
        version=item.master.version,
        destination=destination.name,
        recipient=destination.recipient,
    )


def _claiming(run: _Run) -> Iterator[MasterOrder]:
    """Every master's order, its names claimed at the moment it is taken."""
    for _, group in groupby(run.items(), key=lambda pair: pair[0].master.version):
        mine = [(item, _order(run, item, slot)) for item, slot in group]
        files = tuple(order for _, order in mine)
        claims: dict[str, Entry | None] = {
            one.name: claim for one in files if (claim := claimed(one)) is not None
        }
        run.ledger.note(claims)
        run.in_hand.update((order.number, (item, order)) for item, order in mine)
        master = mine[0][0].master
        yield MasterOrder(
            path=master.located(run.job),
            sha256=master.sha256,
            folder=run.wish.folder,
            files=files,
            stage=stage_of(run.job, master.version),
        )


def _note(run: _Run, made: FileMade) -> None:
    """Note what came of one file; a claim that came to nothing is given back."""
    item, order = run.in_hand.pop(made.number)
    if made.entry is None:
        _give_back(run, order)
        run.failures[made.number] = failed(item, made.fault)
        return
    changed: dict[str, Entry | None] = {}
    if made.name != order.name:
        changed[order.name] = order.before
    if run.ledger.files.get(made.name) != made.entry:
        changed[made.name] = made.entry
    run.ledger.note(changed)
    if made.fresh:
        run.written.append(made.name)
    run.delivered[made.number] = made.name


def _give_back(run: _Run, order: FileOrder) -> None:
    if run.ledger.files.get(order.name) != order.before:
        run.ledger.note({order.name: order.before})


def _told(run: _Run, now: datetime) -> Exported:
    """Tell of everything in order, in the manifest, the texts, and briefly in the answer."""
    folder, left = run.wish.folder, _left_over(run)
    brief: list[FileTold] = []
    again: list[str] = []
    texts, taken = TextFolder(folder, texts_before(folder / MANIFEST)), set[str]()
    made_at = now.isoformat(timespec="seconds")
    with open_manifest(folder, made_by=f"cropper {__version__}", made_at=made_at) as manifest:
        for _, group in groupby(_come_to(run), key=lambda pair: pair[0].master.version):
            mine = list(group)
            said, rows = texts_of([_spoken(run, item, file) for item, file in mine], taken)
            texts.put(said)
            for row in rows:
                manifest.add(row)
                brief.append(_brief(row))
            again += [_in_words(item) for item, _ in mine if item.choice.state == "look again"]
        there, remarks = texts.close(keep=bool(left))
        failures = tuple(run.failures[number] for number in sorted(run.failures))
        missing = (*run.missing, *failures, *_not_come_to(run))
        manifest.close(missing, there)
    return Exported(
        delivered=tuple(brief),
        not_delivered=missing,
        failures=failures,
        written=tuple(run.written),
        left_over=left,
        look_again=tuple(again),
        clash=clashing(run.plan, everything=run.wish.everything),
        remarks=remarks,
    )


def _come_to(run: _Run) -> Iterator[tuple[Item, str]]:
    """Every item that has its file, and the file's name."""
    for item, slot in run.items():
        if slot.number in run.delivered:
            yield item, run.delivered[slot.number]


def _spoken(run: _Run, item: Item, file: str) -> Spoken:
    worded = _worded(run, item)
    return Spoken(
        row=delivered_row(file, item, run.ledger.files[file], worded),
        worded=worded,
        on_pages=FOR_PAGES in item.destination.groups,
    )


def _brief(row: Delivered) -> FileTold:
    return FileTold(
        file=row.file, width=row.width, height=row.height, bytes=row.bytes, verdict=row.verdict
    )


def _in_words(item: Item) -> str:
    return f"{item.master.version} for {item.destination.name}"


def _not_come_to(run: _Run) -> Iterator[NotDelivered]:
    """What an export that was stopped did not take up."""
    if run.came_to_all:
        return
    for item, slot in run.items():
        if slot.number not in run.delivered and slot.number not in run.failures:
            yield failed(item, STOPPED)


def _left_over(run: _Run) -> tuple[str, ...]:
    """Files of this job in the folder that nobody asked for this time."""
    here = {one.name for one in run.slots.values()} | set(run.delivered.values())
    known: Mapping[str, Entry] = run.ledger.files
    return tuple(name for name in known if name not in here and (run.wish.folder / name).exists())
