"""From a plan to finished files and their manifest; what is right already is left alone.

Masters are read, never written. A file is ours to replace only if this job wrote it and nobody
changed it since. One picture that fails never stops the others. Deciding, claiming and noting
happen here; the work on each master is a task of its own (:mod:`cropper.job.making`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from itertools import groupby
from pathlib import Path
from typing import Final

from cropper import __version__
from cropper.deliverable.manifest import MANIFEST, Delivered, NotDelivered, crop_corners
from cropper.deliverable.words import Words
from cropper.job.exported import Exported, Wish
from cropper.job.file_names import FileNames, wanted_name
from cropper.job.identity import destination_hash, digest, way_between
from cropper.job.ledger import Entry, OpenLedger
from cropper.job.making import FileMade, FileOrder, MasterOrder, claimed, made_files
from cropper.job.manifest_rows import delivered_row
from cropper.job.plan import Plan
from cropper.job.sidecars import write_sidecars
from cropper.job.texts import Spoken, put_texts, texts_before, texts_of
from cropper.job.wanted import Item, Owed, failed, owed
from cropper.job.wording import JobWords, Worded, read_words, words_for

__all__ = ["Exported", "Wish", "export_job"]

ENGINE: Final = f"{__version__} finishing 1"
"""Goes into every file's basis: count it up when finished pixels change."""

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


@dataclass(slots=True)
class _Run:
    """What changes while an export goes on."""

    job: Path
    wish: Wish
    ledger: OpenLedger
    items: tuple[Item, ...]
    words: JobWords
    orders: dict[int, FileOrder] = field(default_factory=dict)
    delivered: dict[int, Delivered] = field(default_factory=dict)
    failures: dict[int, NotDelivered] = field(default_factory=dict)
    written: list[str] = field(default_factory=list)


def export_job(
    job: Path,
    plan: Plan,
    wish: Wish,
    progress: Say | None = None,
    *,
    spread: Spread = in_turn,
) -> Exported:
    """Make every file that ``plan`` owes; ``progress`` hears (done, of, file).

    Raises :class:`JobError` only when the job folder itself cannot be used, and
    :class:`PresetError` when ``words.toml`` is at fault: no file leaves with half its words.
    """
    listed = owed(
        plan, everything=wish.everything, only=wish.only, approved_only=wish.approved_only
    )
    words = read_words(job)
    ledger = OpenLedger(job, way_between(job, wish.folder))
    run = _Run(job, wish, ledger, listed.items, words)
    _order(run)
    made = spread(_claiming(run))
    for done, one in enumerate(made, start=1):
        _note(run, one)
        if progress is not None:
            progress(done, len(run.orders), one.name)
    ledger.close()
    sidecars = write_sidecars(job, plan, beside_masters=wish.sidecars_beside_masters)
    return replace(_told(run, listed), sidecars=sidecars)


def _order(run: _Run) -> None:
    """An order for every item, each with a file name of its own."""
    names, plain_names = FileNames(run.wish.folder, run.ledger), set(run.ledger.files)
    for number, item in enumerate(run.items):
        version, destination = item.master.version, item.destination.name
        wanted = wanted_name(item, day=run.wish.day, by_recipient=run.wish.by_recipient)
        name = names.give(wanted, version=version, destination=destination)
        before = run.ledger.files.get(name)
        words = _worded(run, item).words
        run.orders[number] = FileOrder(
            number=number,
            name=name,
            plain="" if before or wanted in plain_names else wanted,
            version=version,
            basis=basis(item, words),
            crop=item.proposal.crop,
            destination=item.destination,
            words=words,
            before=before,
        )
        plain_names.add(wanted)


def _worded(run: _Run, item: Item) -> Worded:
    destination = item.destination
    return words_for(
        run.words,
        version=item.master.version,
        destination=destination.name,
        recipient=destination.recipient,
    )


def basis(item: Item, words: Words) -> str:
    """Digest of all that a finished file rests on."""
    crop = item.proposal.crop
    return digest(
        [
            item.master.sha256,
            [*crop_corners(crop), crop.straighten_deg],
            destination_hash(item.destination),
            asdict(words),
            ENGINE,
        ]
    )


def _claiming(run: _Run) -> Iterator[MasterOrder]:
    """Every master's order, its names claimed at the moment it is taken."""
    pairs = zip(run.items, run.orders.values(), strict=True)
    for _, group in groupby(pairs, key=lambda pair: pair[0].master.version):
        mine = list(group)
        master, files = mine[0][0].master, tuple(order for _, order in mine)
        claims: dict[str, Entry | None] = {
            one.name: claim for one in files if (claim := claimed(one)) is not None
        }
        run.ledger.note(claims)
        yield MasterOrder(
            path=master.located(run.job),
            sha256=master.sha256,
            folder=run.wish.folder,
            files=files,
        )


def _note(run: _Run, made: FileMade) -> None:
    """Note what came of one file; a claim that came to nothing is given back."""
    order, item = run.orders[made.number], run.items[made.number]
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
    run.delivered[made.number] = delivered_row(made.name, item, made.entry, _worded(run, item))


def _give_back(run: _Run, order: FileOrder) -> None:
    if run.ledger.files.get(order.name) != order.before:
        run.ledger.note({order.name: order.before})


def _told(run: _Run, listed: Owed) -> Exported:
    left = _left_over(run)
    texts, rows = texts_of([_spoken(run, number) for number in sorted(run.delivered)])
    before = texts_before(run.wish.folder / MANIFEST)
    there, remarks = put_texts(run.wish.folder, texts, before, keep=bool(left))
    return Exported(
        delivered=tuple(rows),
        not_delivered=(*listed.not_delivered, *_failures(run), *_not_come_to(run)),
        failures=_failures(run),
        written=tuple(run.written),
        left_over=left,
        look_again=_look_again(run),
        clash=listed.clash,
        texts=there,
        remarks=remarks,
    )


def _spoken(run: _Run, number: int) -> Spoken:
    item = run.items[number]
    return Spoken(
        row=run.delivered[number],
        worded=_worded(run, item),
        on_pages=FOR_PAGES in item.destination.groups,
    )


def _failures(run: _Run) -> tuple[NotDelivered, ...]:
    return tuple(run.failures[number] for number in sorted(run.failures))


def _not_come_to(run: _Run) -> Iterator[NotDelivered]:
    """What an export that was stopped did not take up."""
    for number, item in enumerate(run.items):
        if number not in run.delivered and number not in run.failures:
            yield failed(item, STOPPED)


def _left_over(run: _Run) -> tuple[str, ...]:
    """Files of this job in the folder that nobody asked for this time."""
    here = {one.name for one in run.orders.values()} | {one.file for one in run.delivered.values()}
    known: Mapping[str, Entry] = run.ledger.files
    return tuple(name for name in known if name not in here and (run.wish.folder / name).exists())


def _look_again(run: _Run) -> tuple[str, ...]:
    return tuple(
        f"{run.items[number].master.version} for {run.items[number].destination.name}"
        for number in sorted(run.delivered)
        if run.items[number].choice.state == "look again"
    )
