"""Every deed of the page as a change of the plan; the job room does the work."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from cropper.destination.destination import Destination
from cropper.errors import MisuseError
from cropper.geometry import Crop
from cropper.job import adjusting, approving, choices
from cropper.job.plan import HandMarks, Plan, PlannedMaster, Word
from cropper.job.remarking import remarked, with_master
from cropper.proposal.filling import measured
from cropper.proposal.proposal import Proposal
from cropper.review import asking
from cropper.review.cabinet import Cabinet
from cropper.review.desk import Deed, Desk


def master_of(plan: Plan, version: str) -> PlannedMaster:
    """The master, or a sentence that there is none."""
    one = plan.master(version)
    if one is None:
        raise MisuseError(
            f"this job has no version '{version}'", way_out="Look at the newest state of the job"
        )
    return one


def destination_of(plan: Plan, master: PlannedMaster, name: str) -> Destination:
    """The destination as planned for this master, or a sentence that it is not."""
    one = plan.destination(name)
    if one is None or master.answer(name) is None:
        raise MisuseError(
            f"'{name}' is not planned for '{master.version}'",
            way_out="Add it with `cropper plan --for`",
        )
    return one


def measurer(master: PlannedMaster, destination: Destination) -> Callable[[Crop], Proposal]:
    """Measures a crop by the rules."""
    return lambda crop: measured(master.finding, destination, crop)


def tried(plan: Plan, asked: asking.Measure) -> tuple[Proposal, Destination, PlannedMaster]:
    """How a drawn frame would stand. Nothing is changed."""
    master = master_of(plan, asked.version)
    destination = destination_of(plan, master, asked.destination)
    crop = adjusting.fitted(_drawn(asked.frame), destination, master.finding.size)
    found = adjusting.measured(master, crop, measurer(master, destination))
    return found, destination, master


def _drawn(frame: asking.Frame) -> adjusting.Drawn:
    try:
        return frame.drawn()
    except ValueError as error:
        raise MisuseError(
            "the drawn frame is empty", way_out="Draw it from corner to corner"
        ) from error


def choose(desk: Desk, asked: asking.Choose) -> Deed:
    """Take one of the proposals."""

    def change(plan: Plan) -> Plan:
        master = master_of(plan, asked.version)
        choice = choices.picked(master, asked.destination, asked.index + 1, desk.clock())
        return with_master(plan, master.with_choice(asked.destination, choice))

    return _on_one(asked, f"chose proposal {asked.index + 1}", change)


def adjust(desk: Desk, asked: asking.Adjust) -> Deed:
    """Take a crop drawn by hand."""

    def change(plan: Plan) -> Plan:
        master = master_of(plan, asked.version)
        destination = destination_of(plan, master, asked.destination)
        choice = adjusting.by_hand(
            master,
            destination,
            _drawn(asked.frame),
            measure=measurer(master, destination),
            now=desk.clock(),
        )
        before = master.chosen(asked.destination)
        if before is not None and choice.hand is not None and before.crop == choice.hand.crop:
            return plan
        return with_master(plan, master.with_choice(asked.destination, choice))

    return _on_one(asked, "moved the crop", change, gesture=asked.gesture)


def _on_one(
    asked: asking.OnOne, label: str, change: Callable[[Plan], Plan], gesture: str = ""
) -> Deed:
    return Deed(
        label=f"{label} for {asked.destination}",
        change=change,
        version=asked.version,
        destination=asked.destination,
        gesture=f"{asked.version} {asked.destination} {gesture}" if gesture else "",
    )


def mark(desk: Desk, cabinet: Cabinet, asked: asking.Mark) -> Deed:
    """Put new marks in the place of all that were there."""
    marks = asked.marks.hand_marks()

    def change(plan: Plan) -> Plan:
        master = master_of(plan, asked.version)
        raw = cabinet.seen(master)
        cabinet.keep_seen(master)
        return remarked(plan, asked.version, marks, raw=raw, now=desk.clock())

    label = "marked the people" if marks != HandMarks() else "took the marks away"
    return Deed(label=label, change=change, version=asked.version)


def say(desk: Desk, asked: asking.Say) -> Deed:
    """Approve, hold or refuse, or take the word back."""

    def change(plan: Plan) -> Plan:
        master, now = master_of(plan, asked.version), desk.clock()
        for name in asked.destinations:
            destination_of(plan, master, name)
            if asked.word is None:
                master = approving.unsaid(master, name)
            else:
                master = approving.said(master, name, Word(asked.word), asked.note, now)
        return with_master(plan, master)

    one = asked.destinations[0] if len(asked.destinations) == 1 else ""
    where = one or f"{len(asked.destinations)} destinations"
    did = asked.word or "took the word back"
    return Deed(label=f"{did}: {where}", change=change, version=asked.version, destination=one)


def fix(asked: asking.Fix) -> Deed:
    """Say who goes where in a set, or lift it."""

    def change(plan: Plan) -> Plan:
        rivals = plan.rivals.get(asked.set_name)
        if rivals is None:
            raise MisuseError(f"this job has no set '{asked.set_name}'")
        if asked.version is not None and asked.version not in rivals.versions:
            raise MisuseError(f"the set '{rivals.name}' has no version '{asked.version}'")
        kept = {name: one for name, one in rivals.fixed.items() if name != asked.destination}
        given = {asked.destination: asked.version} if asked.version is not None else {}
        fixed = replace(rivals, fixed={**kept, **given}, basis="")
        return replace(plan, sets=plan.rivals.put(fixed))

    label = f"fixed {asked.version} for" if asked.version else "lifted what was fixed for"
    return Deed(label=f"{label} {asked.destination}", change=change, set_name=asked.set_name)
