"""Every deed of the page as a change of the plan; the job room does the work."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from cropper.destination.destination import Destination
from cropper.errors import MisuseError
from cropper.geometry import Crop, Extent, Point
from cropper.job import adjusting, approving, choices
from cropper.job.one_master import measurer
from cropper.job.plan import HandMarks, Plan, PlannedMaster, Word
from cropper.job.remarking import remarked, with_master
from cropper.proposal.proposal import Proposal
from cropper.review import asking
from cropper.review.cabinet import Cabinet
from cropper.review.desk import Deed, Desk
from cropper.review.telling import note_of


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


def tried(plan: Plan, asked: asking.Measure) -> tuple[Proposal, Destination, PlannedMaster]:
    """How a drawn frame would stand. Nothing is changed."""
    master = master_of(plan, asked.version)
    destination = destination_of(plan, master, asked.destination)
    crop = adjusting.fitted(_drawn(asked.frame), destination, master.finding.size)
    found = measurer(master, destination)(crop)
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
        _refuse_frozen(master, asked.destination)
        choice = choices.picked(master, asked.destination, asked.index + 1, desk.clock())
        return with_master(plan, master.with_choice(asked.destination, choice))

    return _on_one(asked, f"chose proposal {asked.index + 1}", change)


def adjust(desk: Desk, asked: asking.Adjust) -> Deed:
    """Take a crop drawn by hand."""

    def change(plan: Plan) -> Plan:
        master = master_of(plan, asked.version)
        destination = destination_of(plan, master, asked.destination)
        _refuse_frozen(master, asked.destination)
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


def freeze(desk: Desk, asked: asking.Freeze) -> Deed:
    """Freeze a crop, or let go of it."""

    def change(plan: Plan) -> Plan:
        master = master_of(plan, asked.version)
        choice = master.choices.get(asked.destination)
        if choice is None:
            raise MisuseError("there is no crop to freeze", way_out="Choose or draw one first")
        if choice.frozen == asked.frozen:
            return plan
        now = desk.clock()
        after = choices.frozen(choice, now) if asked.frozen else choices.unfrozen(choice)
        return with_master(plan, master.with_choice(asked.destination, after))

    return _on_one(asked, "froze the crop" if asked.frozen else "unfroze the crop", change)


def _refuse_frozen(master: PlannedMaster, destination: str) -> None:
    choice = master.choices.get(destination)
    if choice is not None and choice.frozen:
        raise MisuseError("this crop is frozen", way_out="Unfreeze it to change it")


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
        changed = remarked(plan, asked.version, marks, raw=raw, now=desk.clock())
        if marks.crown is not None or marks.chin is not None:
            _refuse_upside_down(master_of(changed, asked.version))
        return changed

    label = "marked the people" if marks != HandMarks() else "removed all points"
    return Deed(label=label, change=change, version=asked.version)


def _refuse_upside_down(master: PlannedMaster) -> None:
    """A crown lies above the eyes and a chin below them, along the head's own axis."""
    for one in master.finding.principals:
        eyes, left, right = one.eyes, one.left_eye, one.right_eye
        up = (right.y - left.y, left.x - right.x)  # the eye line turned by a quarter, upwards

        def above(at: Point, up: tuple[float, float] = up, eyes: Point = eyes) -> bool:
            return (at.x - eyes.x) * up[0] + (at.y - eyes.y) * up[1] > 0

        if not above(one.hair_top.at):
            raise MisuseError(
                "the crown lies below the eyes", way_out="Place it at the top of the hair"
            )
        if above(one.chin.at):
            raise MisuseError(
                "the chin lies above the eyes", way_out="Place it at the lowest point of the face"
            )


def say(desk: Desk, asked: asking.Say) -> Deed:
    """Approve, hold or refuse, or take the word back."""

    def change(plan: Plan) -> Plan:
        master = master_of(plan, asked.version)
        for name in asked.destinations:
            destination_of(plan, master, name)
            master = _with_word(master, name, asked.word, asked.note, desk)
        return with_master(plan, master)

    one = asked.destinations[0] if len(asked.destinations) == 1 else ""
    where = one or f"{len(asked.destinations)} crops"
    did = asked.word or "took the word back"
    return Deed(label=f"{did}: {where}", change=change, version=asked.version, destination=one)


def _with_word(
    master: PlannedMaster, name: str, word: str | None, note: str | None, desk: Desk
) -> PlannedMaster:
    """The master with this word, its note kept unless another is given."""
    kept = note_of(master, name) if note is None else note.strip()
    if word is None:
        return _with_note(approving.unsaid(master, name), name, kept)
    said = approving.said(master, name, Word(word), kept, desk.clock())
    return replace(said, notes={at: one for at, one in said.notes.items() if at != name})


def _with_note(master: PlannedMaster, name: str, note: str) -> PlannedMaster:
    approval, note = master.approvals.get(name), note.strip()
    if approval is not None:
        approvals = {**master.approvals, name: replace(approval, note=note)}
        return replace(master, approvals=approvals)
    others = {at: one for at, one in master.notes.items() if at != name}
    return replace(master, notes={**others, name: note} if note else others)


def note(asked: asking.Note) -> Deed:
    """Keep a note, whether there is a word or not."""

    def change(plan: Plan) -> Plan:
        master = master_of(plan, asked.version)
        destination_of(plan, master, asked.destination)
        return with_master(plan, _with_note(master, asked.destination, asked.note))

    return _on_one(asked, "wrote a note", change, gesture="note")


def many(desk: Desk, asked: asking.Many) -> tuple[Deed, list[str]]:
    """One action on several deliverables, and the list that will say which ones it passed over."""
    passed: list[str] = []
    given = [one for one in (asked.word, asked.index, asked.shift) if one is not None]
    if len(given) != 1:
        raise MisuseError("one action at a time", way_out="Approve, choose or move")

    def change(plan: Plan) -> Plan:
        for item in asked.items:
            master = master_of(plan, item.version)
            destination = destination_of(plan, master, item.destination)
            try:
                plan = with_master(plan, _one_of_many(desk, master, destination, asked))
            except MisuseError as error:
                passed.append(f"{item.version} for {item.destination}: {error}")
        return plan

    count = len(asked.items)
    crops = "1 crop" if count == 1 else f"{count} crops"
    versions = tuple(dict.fromkeys(one.version for one in asked.items))
    return Deed(label=f"{_did(asked)} {crops}", change=change, versions=versions), passed


def _did(asked: asking.Many) -> str:
    if asked.word is not None:
        return asked.word
    return "moved" if asked.shift is not None else f"chose proposal {(asked.index or 0) + 1} of"


def _one_of_many(
    desk: Desk, master: PlannedMaster, destination: Destination, asked: asking.Many
) -> PlannedMaster:
    name = destination.name
    if asked.word is not None:
        return _with_word(master, name, asked.word, None, desk)
    _refuse_frozen(master, name)
    if asked.index is not None:
        return master.with_choice(name, choices.picked(master, name, asked.index + 1, desk.clock()))
    chosen = master.chosen(name)
    if chosen is None or asked.shift is None:
        raise MisuseError("there is no crop to move", way_out="Choose or draw one first")
    if destination.full_frame or not chosen.crop.box.inside(master.finding.size):
        raise MisuseError("this crop is not moved by hand")
    choice = adjusting.by_hand(
        master,
        destination,
        _shifted(chosen.crop, asked.shift, master),
        measure=measurer(master, destination),
        now=desk.clock(),
    )
    return master.with_choice(name, choice)


def _shifted(crop: Crop, shift: asking.Shift, master: PlannedMaster) -> adjusting.Drawn:
    """What is seen goes up and left by shares of the crop's height, and closer about the eyes."""
    box, people = crop.box, master.finding.principals
    eyes = people[0].eyes if people else box.centre
    times = 1 - shift.closer
    across, down = shift.left * box.height, shift.up * box.height
    return adjusting.Drawn(
        box=Extent(
            eyes.x + (box.x0 - eyes.x) * times + across,
            eyes.y + (box.y0 - eyes.y) * times + down,
            eyes.x + (box.x1 - eyes.x) * times + across,
            eyes.y + (box.y1 - eyes.y) * times + down,
        ),
        straighten_deg=crop.straighten_deg,
    )


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

    label = f"sent {asked.version} to" if asked.version else "let the rules decide for"
    return Deed(label=f"{label} {asked.destination}", change=change, set_name=asked.set_name)
