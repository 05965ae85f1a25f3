"""From a plan to finished files and their manifest; what is right already is left alone.

Masters are read, never written. A file is ours to replace only if this job wrote it and nobody
changed it since. One picture that fails never stops the others. Deciding, claiming and noting
happen here; the work on each master is a task of its own (:mod:`cropper.job.making`), and the
manifest is written by :mod:`cropper.job.export_manifest`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, replace
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Final

from cropper.deliverable.manifest import MANIFEST, NotDelivered
from cropper.deliverable.manifest_reading import head_of, refuse_newer
from cropper.deliverable.writing import swept
from cropper.disk import refuse_links
from cropper.errors import JobError
from cropper.job.approving import HELD_FOR_A_PROBLEM
from cropper.job.export_manifest import account_for
from cropper.job.export_run import ExportRun, State
from cropper.job.exported import Exported, Wish
from cropper.job.file_names import FileNames
from cropper.job.identity import way_between
from cropper.job.ledger import Entry, OpenLedger
from cropper.job.making import FileMade, FileOrder, MasterOrder, claimed, made_files
from cropper.job.plan import Plan
from cropper.job.sidecars import SIDECARS, write_sidecars
from cropper.job.stage import cleared, stage_of
from cropper.job.store import DELIVERABLES, reason
from cropper.job.wanted import destinations_meant, failed
from cropper.job.wording import read_words

__all__ = ["Exported", "Wish", "export_job"]

OTHER_FOLDER: Final = "Name another folder with --to, or move the manifest there away first"

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

    Raises :class:`JobError` only when the job folder itself, or the folder for the files, cannot
    be used, :class:`MisuseError` for a destination that the job does not know, and
    :class:`PresetError` when ``words.toml`` is at fault: no file leaves with half its words.
    """
    refuse_linked(job, wish.folder)
    wish = replace(wish, only=destinations_meant(plan, wish.only))
    ledger = OpenLedger(job, way_between(job, wish.folder))
    refuse_foreign(job, plan, wish.folder, known=next(ledger.names(), None) is not None)
    for mine in (DELIVERABLES, SIDECARS):
        swept(job / mine)
    run = _begun(job, plan, wish, ledger)
    made = spread(_claiming(run))
    for done, one in enumerate(made, start=1):
        _note(run, one)
        if progress is not None:
            progress(done, len(run.states), one.name)
    ledger.close()
    if run.came_to_all:
        cleared(job)
    sidecars = write_sidecars(job, plan, beside_masters=wish.sidecars_beside_masters)
    told = replace(account_for(run, now), sidecars=sidecars)
    ledger.scratch.close()
    return told


def _begun(job: Path, plan: Plan, wish: Wish, ledger: OpenLedger) -> ExportRun:
    """A run that knows how many items there are."""
    sorted_already = any("/" in name for name in ledger.names())
    run = ExportRun(
        job=job,
        plan=plan,
        wish=wish,
        ledger=ledger,
        words=read_words(job),
        names=FileNames(wish.folder, ledger),
        by_recipient=sorted_already if wish.by_recipient is None else wish.by_recipient,
    )
    _look_ahead(run)
    return run


def refuse_linked(job: Path, folder: Path) -> None:
    """Raise :class:`JobError` for a job's own folder that is a link; one named may be one."""
    if folder == job / DELIVERABLES:
        try:
            refuse_links(folder, job)
        except OSError as error:
            raise JobError(
                f"{folder} is {reason(error)}", way_out="Put a real folder there, or name one: --to"
            ) from error


def refuse_foreign(job: Path, plan: Plan, folder: Path, *, known: bool) -> None:
    """Raise :class:`JobError` for a folder whose manifest is another job's, or a newer program's.

    ``known``: this job's ledger has files there. A manifest of before jobs had ids is taken for
    this job's own only then; what lies in the job's own folder is its own. A damaged one is made
    anew.
    """
    manifest = folder / MANIFEST
    try:
        refuse_newer(manifest)
        theirs = head_of(manifest, "job")
    except FileNotFoundError:
        return
    except (OSError, ValueError):
        theirs = None
    both_named = bool(theirs and plan.id)
    ours = theirs == plan.id if both_named else known
    if not ours and folder.resolve() != (job / DELIVERABLES).resolve():
        raise JobError(
            f"{folder} holds the files and the manifest of another job", way_out=OTHER_FOLDER
        )


def _look_ahead(run: ExportRun) -> None:
    """Count the items, and jot down what has no file."""
    for number, one in run.numbered():
        if number is not None:
            run.states.append(State.NOT_COME_TO)
        elif isinstance(one, NotDelivered) and run.asks(one.destination):
            run.ledger.scratch.jot(json.dumps(asdict(one)))
            run.held += one.reason.startswith(HELD_FOR_A_PROBLEM)


def _claiming(run: ExportRun) -> Iterator[MasterOrder]:
    """Every master's order, its names given and claimed at the moment it is taken."""
    for _, group in groupby(run.items(), key=lambda pair: pair[1].master.version):
        mine = [(item, run.order(number, item)) for number, item in group]
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


def _note(run: ExportRun, made: FileMade) -> None:
    """Note what came of one file; a claim that came to nothing is given back."""
    item, order = run.in_hand.pop(made.number)
    if made.entry is None:
        _give_back(run, order)
        run.failures[made.number] = failed(item, made.fault)
        run.states[made.number] = State.FAILED
        return
    changed: dict[str, Entry | None] = {}
    if made.name != order.name:
        changed[order.name] = order.before
    if run.ledger.entry(made.name) != made.entry:
        changed[made.name] = made.entry
    if made.moved and order.former:
        changed[order.former[0]] = None
    run.ledger.note(changed)
    run.states[made.number] = _state(made)
    if made.doubt:
        run.doubts[made.doubt] = run.doubts.get(made.doubt, 0) + 1


def _state(made: FileMade) -> State:
    if made.moved:
        return State.MOVED
    return State.WRITTEN if made.fresh else State.AS_BEFORE


def _give_back(run: ExportRun, order: FileOrder) -> None:
    if run.ledger.entry(order.name) != order.before:
        run.ledger.note({order.name: order.before})
