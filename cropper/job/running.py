"""One whole run of planning in a job folder: what the command does, for anybody to call."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from cropper.errors import MisuseError, RivalsError
from cropper.job.looking import MasterLooker
from cropper.job.outlets import read_outlets
from cropper.job.plan import FailedMaster, Plan
from cropper.job.planning import Asked, Looker, Room, plan_job
from cropper.job.sets import assigned, joined
from cropper.job.store import JobFolder
from cropper.job.summary import exit_code

SAVE_EVERY_S: Final = 2.0
"""A plan under way is saved this often: what a killed run may have to do again (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What a run came to. ``failed`` are the masters of this run that could not be opened."""

    plan: Plan
    failed: tuple[FailedMaster, ...]
    clashes: tuple[RivalsError, ...]
    notes: tuple[str, ...]
    exit_code: int


def run_plan(
    job: Path,
    asked: Asked,
    *,
    now: datetime,
    set_name: str = "",
    outlets: Path | None = None,
    use_every_version: bool = False,
    looker: Looker | None = None,
    say: Callable[[str], None] = lambda _: None,
) -> Planned:
    """Plan into the folder ``job``, made if need be, held by this run alone while it lasts.

    Raises a :class:`CropperError` when nothing could be done; single failures are in the answer.
    """
    folder, where = JobFolder(job), read_outlets(job, outlets)
    if folder.read() is None:
        _refuse_empty(asked)
    with folder.held():
        before = folder.read()
        room = Room(
            job=job,
            looker=looker or MasterLooker(),
            now=now,
            say=say,
            save=_now_and_then(folder),
        )
        plan = plan_job(before, asked, room)
        if set_name:
            plan = joined(plan, set_name, versions_of(plan, asked.files, job), say)
        plan, clashes = assigned(plan, where, use_every_version=use_every_version)
        if plan != before:
            folder.write(plan)
    failed = _failed_now(plan, asked.files)
    versions, names = [m.version for m in plan.masters], [d.name for d in plan.destinations]
    return Planned(
        plan=plan,
        failed=failed,
        clashes=clashes,
        notes=where.strangers(versions, names),
        exit_code=exit_code(
            plan, len(failed), len(asked.files) or len(plan.masters), clashes=len(clashes)
        ),
    )


def _refuse_empty(asked: Asked) -> None:
    """A new job needs both; said before a folder is made."""
    if not asked.files:
        raise MisuseError("no master was named", way_out="Name the finished pictures to plan")
    if not asked.destinations:
        raise MisuseError(
            "no destination was named", way_out="Add --for NAME; see `cropper destinations`"
        )


def _now_and_then(folder: JobFolder) -> Callable[[Plan], None]:
    """Saves what is handed to it, but not more often than :data:`SAVE_EVERY_S`."""
    last = time.monotonic()

    def save(plan: Plan) -> None:
        nonlocal last
        if time.monotonic() - last >= SAVE_EVERY_S:
            folder.write(plan)
            last = time.monotonic()

    return save


def versions_of(plan: Plan, files: Iterable[Path], job: Path) -> tuple[str, ...]:
    """The names that the job has for these files, all of its masters when there are none."""
    real = {file.resolve() for file in files}
    return tuple(
        one.version for one in plan.masters if not real or one.located(job).resolve() in real
    )


def _failed_now(plan: Plan, files: Iterable[Path]) -> tuple[FailedMaster, ...]:
    named = {str(file) for file in files}
    return tuple(one for one in plan.failed if not named or one.file in named)
