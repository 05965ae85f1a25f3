"""One whole run of planning in a job folder: what the command does, for anybody to call."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final

from cropper.disk import spelled
from cropper.errors import MisuseError, RivalsError
from cropper.job import codec
from cropper.job.asked import Asked
from cropper.job.finishing_ahead import to_be_finished
from cropper.job.looking import MasterLooker
from cropper.job.masters import Entry
from cropper.job.one_master import Looker, MasterDone
from cropper.job.outlets import read_outlets
from cropper.job.plan import FailedMaster, Plan
from cropper.job.planning import Room, Spread, one_by_one, plan_job
from cropper.job.recording import standing_in
from cropper.job.relinking import missing_masters, relink
from cropper.job.sets import assigned, joined
from cropper.job.store import JobFolder
from cropper.job.summary import exit_code
from cropper.job.taking_on import way
from cropper.job.twins import undeclared_twins
from cropper.job.wording import read_words
from cropper.master.stored import placed
from cropper.publication.outlets import Outlets

MOST_COMPARED: Final = 200
"""Masters among which twins are looked for (house): a glance takes some 60 ms the first time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What a run came to. ``failed`` are the masters of this run that could not be opened.

    ``absent`` are versions of before whose masters are not where the plan has them.
    """

    plan: Plan
    failed: tuple[FailedMaster, ...]
    clashes: tuple[RivalsError, ...]
    notes: tuple[str, ...]
    exit_code: int
    absent: tuple[str, ...] = ()


def run_plan(
    job: Path,
    asked: Asked,
    *,
    now: datetime,
    set_name: str = "",
    outlets: Path | None = None,
    record: str | None = None,
    use_every_version: bool = False,
    finish: bool = False,
    looker: Looker | None = None,
    spread: Spread | None = None,
    say: Callable[[str], None] = lambda _: None,
    told: Callable[[MasterDone, int], None] = lambda _done, _of: None,
) -> Planned:
    """Plan into the folder ``job``, made if need be, held by this run alone while it lasts.

    ``spread`` does the work, this process unless given (then by ``looker``); ``told`` hears of
    every master as it is done, and of how many there are. What is done is on the disk at once.
    ``finish``: the files that an export will owe are made ready while their masters are in hand.
    What the record at ``record`` (else the usual one) says is running or promised stays there.
    Raises a :class:`CropperError` when nothing could be done; single failures are in the answer.
    """
    folder, where = JobFolder(job), read_outlets(job, outlets)
    if folder.read() is None:
        _refuse_empty(asked)
    with folder.held():
        before = _reconnected(folder, folder.in_today_s_format(), say)
        work = spread or one_by_one(looker or MasterLooker())
        if finish and not set_name:  # the files of a set wait until all of it is planned
            work = _finishing(work, before, job)
        room = Room(
            job=job,
            spread=work,
            now=now,
            text=lambda entry: _text(folder, entry),
            keep=lambda done: _kept(folder, done),
            save=folder.write_head,
            say=say,
            told=told,
        )
        plan = plan_job(before, asked, room)
        if set_name:
            plan = joined(plan, set_name, versions_of(plan, asked.files, job), say)
        known = standing_in(where, plan, job, address=record, now=now)
        plan, clashes = assigned(plan, known.outlets, use_every_version=use_every_version)
        plan = folder.write(plan)  # what is there already is not touched
    planned = _planned(plan, clashes, asked, where)
    return replace(
        planned,
        notes=(*planned.notes, *known.sentences, *_twins(plan, job)),
        absent=tuple(missing_masters(plan, job)),
    )


def _reconnected(folder: JobFolder, plan: Plan | None, say: Callable[[str], None]) -> Plan | None:
    """The plan, with masters that were moved or renamed close by found again."""
    if plan is None:
        return None
    done = relink(plan, folder.at)
    if not done.found:
        return plan
    for version, path in done.found.items():
        say(f"The master of '{version}' was found again: {path}")
    return folder.write(done.plan)


def _finishing(work: Spread, before: Plan | None, job: Path) -> Spread:
    """The same work, each master's files made ready with it, but for those of sets."""
    rivals = {version for one in (before.sets if before else ()) for version in one.versions}
    words = read_words(job)
    return lambda tasks: work(to_be_finished(tasks, words, rivals))


def _planned(plan: Plan, clashes: tuple[RivalsError, ...], asked: Asked, where: Outlets) -> Planned:
    failed = _failed_now(plan, asked.files)
    versions, names = plan.shelf.versions, [one.name for one in plan.destinations]
    of = len(asked.files) or len(versions)
    return Planned(
        plan=plan,
        failed=failed,
        clashes=clashes,
        notes=where.strangers(versions, names),
        exit_code=exit_code(plan, len(failed), of, clashes=len(clashes)),
    )


def _twins(plan: Plan, job: Path) -> tuple[str, ...]:
    """Masters that look like versions of one idea and are in no common set.

    Every pair is compared, so a large job is left alone: a season's sittings are named by hand.
    """
    if not 1 < len(plan.shelf.entries) <= MOST_COMPARED:
        return ()
    sets = [(one.name, one.versions) for one in plan.rivals.entries]
    return undeclared_twins(job, plan.masters, sets)


def _text(folder: JobFolder, entry: Entry) -> str:
    if entry.card is None:
        return codec.master_text(entry.master, entry.place)
    return folder.shelf.text(entry.card)


def _kept(folder: JobFolder, done: MasterDone) -> Entry:
    """What came of a task, on the disk."""
    if done.card is None:
        raise ValueError("a master that could not be opened is not kept")
    folder.shelf.put(done.card, done.text)
    return folder.entry(done.card)


def _refuse_empty(asked: Asked) -> None:
    """A new job needs both; said before a folder is made."""
    if not asked.files:
        raise MisuseError("no master was named", way_out="Name the finished pictures to plan")
    if not asked.destinations:
        raise MisuseError(
            "no destination was named", way_out="Add --for NAME; see `cropper destinations`"
        )


def versions_of(plan: Plan, files: Iterable[Path], job: Path) -> tuple[str, ...]:
    """The names that the job has for these files, all of its masters when there are none."""
    real = {file.resolve() for file in files}
    return tuple(
        one.version
        for one in plan.shelf.entries
        if not real or placed(job, way(one)).resolve() in real
    )


def _failed_now(plan: Plan, files: Iterable[Path]) -> tuple[FailedMaster, ...]:
    named = {spelled(file) for file in files}
    return tuple(one for one in plan.failed if not named or one.file in named)
