"""New marks by hand on a master that was looked at already: nobody is looked for again.

What the finder saw, before any mark, is kept by whoever calls (the page keeps it beside its
previews): marks can then be changed and taken away at once, and all proposals follow.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from cropper.errors import MisuseError
from cropper.geometry import Size
from cropper.job.marking import marked
from cropper.job.plan import HandMarks, Plan, PlannedMaster
from cropper.job.planning import Asked, Room, Seen, plan_job
from cropper.subject.subject import Finding

_UNSEEN = "not looked at"


class _Known:
    """A looker that only remembers."""

    def __init__(self, master: PlannedMaster, raw: Finding) -> None:
        self.master, self.raw, self.name = master, raw, raw.finder

    def digest(self, path: Path) -> str:
        del path
        return self.master.sha256

    def look(self, path: Path, marks: HandMarks) -> Seen:
        del path
        try:
            finding = marked(self.raw, marks)
        except ValueError as error:
            raise MisuseError(
                f"{self.master.version}: {error}", way_out="Take that mark away, or place it anew"
            ) from error
        size = Size(self.master.width, self.master.height)
        return Seen(
            sha256=self.master.sha256, size=size, finding=finding, notes=self.master.remarks
        )


def remarked(
    plan: Plan, version: str, marks: HandMarks, *, raw: Finding, job: Path, now: datetime
) -> Plan:
    """The plan with exactly these marks on one master, and every proposal of it following.

    ``raw`` is what the finder saw in that master. Choices made by hand stay, measured anew, and
    ask for another look. Raises :class:`MisuseError` for marks that make no sense.
    """
    master = plan.master(version)
    if master is None:
        raise MisuseError(f"this job has no version '{version}'")
    if master.marks == marks:
        return plan
    # As if never marked nor seen: the run merges what is given over what was there before.
    fresh = replace(
        master, marks=HandMarks(), finding=replace(master.finding, finder=_UNSEEN), remarks=()
    )
    alone = replace(plan, masters=(fresh,), sets=(), failed=())
    known = _Known(replace(fresh, remarks=master.remarks), raw)
    room = Room(job=job, looker=known, now=now)
    done = plan_job(alone, Asked(files=(master.located(job),), marks=marks), room).masters[0]
    return with_master(plan, replace(done, remarks=master.remarks))


def with_master(plan: Plan, master: PlannedMaster) -> Plan:
    """The plan with this master in the place of its former self."""
    masters = (master if one.version == master.version else one for one in plan.masters)
    return replace(plan, masters=tuple(masters))
