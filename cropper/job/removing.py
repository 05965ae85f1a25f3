"""Masters and destinations taken out of a job; what was delivered of them is set aside later.

The next export moves their files out of the deliverables, and its manifest says why.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from cropper.errors import MisuseError, RivalsError
from cropper.job.masters import Masters
from cropper.job.outlets import read_outlets
from cropper.job.plan import Plan, PlannedMaster
from cropper.job.recording import standing_in
from cropper.job.rival_sets import Sets, entry_of
from cropper.job.sets import assigned
from cropper.job.store import JobFolder

LISTED = 12
"""So many names are told in a sentence (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Removed:
    """What a removal came to: the plan, and the sets that cannot be assigned any more."""

    plan: Plan
    clashes: tuple[RivalsError, ...]


def run_remove(
    job: Path,
    versions: Collection[str],
    destinations: Collection[str],
    *,
    now: datetime,
    record: str | None = None,
) -> Removed:
    """Take these out of the job in the folder ``job``; sets are assigned again without them.

    A version may also be the name of a file that could not be planned. Raises :class:`MisuseError`
    for a name that the job does not have; then nothing is changed.
    """
    folder = JobFolder(job)
    folder.must_read()
    with folder.held():
        plan = without_destinations(folder.must_read(), destinations)
        plan = without_versions(plan, versions)
        where = read_outlets(job, None)
        known = standing_in(where, plan, job, address=record, now=now)
        plan, clashes = assigned(plan, known.outlets)
        return Removed(plan=folder.write(plan), clashes=clashes)


def without_versions(plan: Plan, versions: Collection[str]) -> Plan:
    """The plan without these masters; sets that held one go on without it."""
    waiting = [one.version for one in plan.waiting]
    failed = [one.file for one in plan.failed]
    _refuse_unknown(versions, [*plan.shelf.versions, *waiting, *failed], "version")
    entries = (one for one in plan.shelf.entries if one.version not in versions)
    sets = []
    for entry in plan.rivals.entries:
        left = tuple(one for one in entry.versions if one not in versions)
        if left == entry.versions:
            sets.append(entry)
        elif left:
            sets.append(entry_of(replace(entry.planned, versions=left, basis="")))
    return replace(
        plan,
        masters=Masters(entries),
        waiting=tuple(one for one in plan.waiting if one.version not in versions),
        failed=tuple(one for one in plan.failed if one.file not in versions),
        sets=Sets(sets),
    )


def without_destinations(plan: Plan, names: Collection[str]) -> Plan:
    """The plan without these destinations, and without what was chosen for them."""
    _refuse_unknown(names, [one.name for one in plan.destinations], "destination")
    if not names:
        return plan
    masters = (_without(one, names) for one in plan.masters)
    waiting = tuple(
        replace(one, destinations=tuple(to for to in one.destinations if to not in names))
        for one in plan.waiting
    )
    return replace(
        plan,
        destinations=tuple(one for one in plan.destinations if one.name not in names),
        masters=Masters.of(tuple(masters)),
        waiting=waiting,
    )


def _without(master: PlannedMaster, names: Collection[str]) -> PlannedMaster:
    return replace(
        master,
        answers=tuple(one for one in master.answers if one.destination not in names),
        choices={name: one for name, one in master.choices.items() if name not in names},
        basis={name: one for name, one in master.basis.items() if name not in names},
        approvals={name: one for name, one in master.approvals.items() if name not in names},
    )


def _refuse_unknown(given: Iterable[str], known: Collection[str], what: str) -> None:
    for name in given:
        if name not in known:
            listed = ", ".join(list(known)[:LISTED]) + (" ..." if len(known) > LISTED else "")
            raise MisuseError(
                f"the job has no {what} '{name}'", way_out=f"It has {listed or 'none'}"
            )
