"""From a plan to finished files and their manifest; what is right already is left alone.

Masters are read, never written. A file is ours to replace only if this job wrote it and nobody
changed it since. One picture that fails never stops the others. Deciding, claiming and noting
happen here; the work on each master is a task of its own (:mod:`cropper.job.making`).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from enum import IntEnum
from itertools import groupby
from pathlib import Path
from typing import Final

from cropper import __version__
from cropper.deliverable.manifest import MANIFEST, Delivered, NotDelivered
from cropper.deliverable.manifest_writing import open_manifest
from cropper.deliverable.writing import swept
from cropper.disk import refuse_links
from cropper.errors import JobError
from cropper.job.exported import LISTED, Exported, FileTold, Wish
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
ASKED: Final = "asked"
"""Kind of words on the scratch paper: files that this run was asked for."""
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


class _State(IntEnum):
    """What became of an item."""

    NOT_COME_TO = 0
    FAILED = 1
    AS_BEFORE = 2
    WRITTEN = 3


@dataclass(slots=True)
class _Run:
    """What changes while an export goes on. Of an item only its state stays, by its number."""

    job: Path
    plan: Plan
    wish: Wish
    ledger: OpenLedger
    words: JobWords
    names: FileNames
    states: bytearray = field(default_factory=bytearray)
    in_hand: dict[int, tuple[Item, FileOrder]] = field(default_factory=dict)
    failures: dict[int, NotDelivered] = field(default_factory=dict)

    def items(self) -> Iterator[tuple[int, Item]]:
        """Every item with its number, read from the plan again, one master at a time."""
        return enumerate(one for one in self.owing() if isinstance(one, Item))

    @property
    def came_to_all(self) -> bool:
        """Whether every item was taken up: nobody stopped the run."""
        return _State.NOT_COME_TO not in self.states

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
    run = _Run(job, plan, wish, ledger, words, FileNames(wish.folder, ledger))
    _look_ahead(run)
    made = spread(_claiming(run))
    for done, one in enumerate(made, start=1):
        _note(run, one)
        if progress is not None:
            progress(done, len(run.states), one.name)
    ledger.close()
    if run.came_to_all:
        cleared(job)
    sidecars = write_sidecars(job, plan, beside_masters=wish.sidecars_beside_masters)
    told = replace(_told(run, now), sidecars=sidecars)
    ledger.scratch.close()
    return told


def refuse_linked(job: Path, folder: Path) -> None:
    """Raise :class:`JobError` for a job's own folder that is a link; one named may be one."""
    if folder == job / DELIVERABLES:
        try:
            refuse_links(folder, job)
        except OSError as error:
            raise JobError(
                f"{folder} is {reason(error)}", way_out="Put a real folder there, or name one: --to"
            ) from error


def _look_ahead(run: _Run) -> None:
    """Count the items, and jot down what has no file."""
    for one in run.owing():
        if isinstance(one, Item):
            run.states.append(_State.NOT_COME_TO)
        else:
            run.ledger.scratch.jot(json.dumps(asdict(one)))


def _order(run: _Run, number: int, item: Item) -> FileOrder:
    """What is to be made, under a name of its own."""
    wanted = wanted_name(item, day=run.wish.day, by_recipient=run.wish.by_recipient)
    version, destination = item.master.version, item.destination
    name = run.names.give(wanted, version=version, destination=destination.name)
    run.ledger.scratch.say(ASKED, name)
    words, crop = _worded(run, item).words, item.proposal.crop
    return FileOrder(
        number=number,
        name=name,
        plain=run.names.plain(wanted, name),
        version=version,
        basis=basis_of(item.master.sha256, crop, destination, words),
        crop=crop,
        destination=destination,
        words=words,
        before=run.ledger.entry(name),
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
    """Every master's order, its names given and claimed at the moment it is taken."""
    for _, group in groupby(run.items(), key=lambda pair: pair[1].master.version):
        mine = [(item, _order(run, number, item)) for number, item in group]
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
        run.states[made.number] = _State.FAILED
        return
    changed: dict[str, Entry | None] = {}
    if made.name != order.name:
        changed[order.name] = order.before
    if run.ledger.entry(made.name) != made.entry:
        changed[made.name] = made.entry
    run.ledger.note(changed)
    run.states[made.number] = _State.WRITTEN if made.fresh else _State.AS_BEFORE


def _give_back(run: _Run, order: FileOrder) -> None:
    if run.ledger.entry(order.name) != order.before:
        run.ledger.note({order.name: order.before})


def _told(run: _Run, now: datetime) -> Exported:
    """Tell of everything in order, in the manifest, the texts, and briefly in the answer."""
    folder = run.wish.folder
    first: list[FileTold] = []
    again: list[str] = []
    texts, taken = TextFolder(folder, texts_before(folder / MANIFEST)), set[str]()
    made_at = now.isoformat(timespec="seconds")
    with open_manifest(folder, made_by=f"cropper {__version__}", made_at=made_at) as manifest:
        for _, group in groupby(_come_to(run), key=lambda one: one[1].master.version):
            mine = list(group)
            said, rows = texts_of([_spoken(run, item, file) for _, item, file in mine], taken)
            texts.put(said)
            for row, (number, _, file) in zip(rows, mine, strict=True):
                manifest.add(row)
                run.ledger.scratch.say(ASKED, file)
                if len(first) < LISTED:
                    first.append(_brief(row, fresh=run.states[number] == _State.WRITTEN))
            again += [_in_words(item) for _, item, _ in mine if item.choice.state == "look again"]
        left = _left_over(run)
        there, remarks = texts.close(keep=bool(left))
        missing = _Counting(_missing(run))
        manifest.close(missing, there)
    written = run.states.count(_State.WRITTEN)
    return Exported(
        delivered=written + run.states.count(_State.AS_BEFORE),
        not_delivered=missing.count,
        written=written,
        first=tuple(first),
        first_missing=tuple(missing.first),
        failures=tuple(_failures(run)),
        left_over=left,
        look_again=tuple(again),
        clash=clashing(run.plan, everything=run.wish.everything),
        remarks=remarks,
    )


def _come_to(run: _Run) -> Iterator[tuple[int, Item, str]]:
    """Every item that has its file, with its number and the file's name."""
    for number, item in run.items():
        if run.states[number] in {_State.AS_BEFORE, _State.WRITTEN}:
            file = run.ledger.name_of(item.master.version, item.destination.name)
            if file is not None:
                yield number, item, file


class _Counting:
    """Rows that are counted as they pass, and the first kept."""

    def __init__(self, rows: Iterable[NotDelivered]) -> None:
        self._rows, self.count = rows, 0
        self.first: list[NotDelivered] = []

    def __iter__(self) -> Iterator[NotDelivered]:
        for row in self._rows:
            self.count += 1
            if self.count <= LISTED:
                self.first.append(row)
            yield row


def _missing(run: _Run) -> Iterator[NotDelivered]:
    """Everything without a file: never owed, failed, and not come to."""
    for line in run.ledger.scratch.jotted():
        yield NotDelivered(**json.loads(line))
    yield from _failures(run)
    yield from (failed(item, STOPPED) for item in _waiting(run))


def _failures(run: _Run) -> Iterator[NotDelivered]:
    return (run.failures[number] for number in sorted(run.failures))


def _spoken(run: _Run, item: Item, file: str) -> Spoken:
    worded, entry = _worded(run, item), run.ledger.entry(file)
    if entry is None:
        raise ValueError(f"nothing was noted of {file}")
    return Spoken(
        row=delivered_row(file, item, entry, worded),
        worded=worded,
        on_pages=FOR_PAGES in item.destination.groups,
    )


def _brief(row: Delivered, *, fresh: bool) -> FileTold:
    return FileTold(
        file=row.file,
        width=row.width,
        height=row.height,
        bytes=row.bytes,
        verdict=row.verdict,
        fresh=fresh,
    )


def _in_words(item: Item) -> str:
    return f"{item.master.version} for {item.destination.name}"


def _waiting(run: _Run) -> Iterator[Item]:
    """What an export that was stopped did not take up."""
    if not run.came_to_all:
        for number, item in run.items():
            if run.states[number] == _State.NOT_COME_TO:
                yield item


def _left_over(run: _Run) -> tuple[str, ...]:
    """Files of this job in the folder that nobody asked for this time."""
    folder, ledger = run.wish.folder, run.ledger
    for item in _waiting(run):
        ledger.scratch.say(ASKED, ledger.name_of(item.master.version, item.destination.name) or "")
    return tuple(
        name
        for name in ledger.names()
        if not ledger.scratch.was_said(ASKED, name) and (folder / name).exists()
    )
