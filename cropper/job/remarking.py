"""New marks by hand on a master that was looked at already: nobody is looked for again.

What the finder saw, before any mark, is kept by whoever calls (the page keeps it beside its
previews): marks can then be changed and taken away at once, and all proposals follow.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from cropper.errors import MisuseError
from cropper.job.marking import marked
from cropper.job.one_master import proposed
from cropper.job.plan import HandMarks, Plan, PlannedMaster
from cropper.subject.subject import Finding


def remarked(plan: Plan, version: str, marks: HandMarks, *, raw: Finding, now: datetime) -> Plan:
    """The plan with exactly these marks on one master, and every proposal of it following.

    ``raw`` is what the finder saw in that master. Choices made by hand stay, measured anew, and
    ask for another look. Raises :class:`MisuseError` for marks that make no sense.
    """
    master = plan.master(version)
    if master is None:
        raise MisuseError(f"this job has no version '{version}'")
    if master.marks == marks:
        return plan
    fresh = replace(master, marks=marks, finding=_seen(master, marks, raw))
    asked = {one.destination for one in master.answers}
    destinations = [one for one in plan.destinations if one.name in asked]
    return plan.with_master(proposed(fresh, destinations, now))


def _seen(master: PlannedMaster, marks: HandMarks, raw: Finding) -> Finding:
    try:
        return marked(raw, marks)
    except ValueError as error:
        raise MisuseError(
            f"{master.version}: {error}", way_out="Take that mark away, or place it anew"
        ) from error


def with_master(plan: Plan, master: PlannedMaster) -> Plan:
    """The plan with this master in the place of its former self."""
    return plan.with_master(master)
