"""What the page is told, as plain JSON values: crops with their marks, words and numbers.

Coordinates are pixels of the upright master. Marks lie in the crop's own upright axes, as in
:mod:`cropper.proof.overlays`. Nothing here decides anything: rules, marks and words come from
the rooms below.
"""

from __future__ import annotations

import re
from typing import Any, Final

from cropper.destination.destination import Destination, Frame
from cropper.geometry import Extent, NormalBox, Point
from cropper.job.adjusting import biggest
from cropper.job.approving import standing
from cropper.job.plan import Choice, Plan, PlannedMaster
from cropper.proof import overlays, words
from cropper.proof.overlays import Area, Fill, Label, Line, Mark, Ring, Veil
from cropper.proposal.delivering import lying_as
from cropper.proposal.filling import filled_as
from cropper.proposal.proposal import WORST_FIRST, Answer, Measure, NoCrop, Proposal, Verdict
from cropper.subject.subject import Finding, Origin, Subject

Told = dict[str, Any]

GROUPS: Final = ("social", "web", "press", "print", "client", "identity")
"""The order in which kinds of destinations stand on the page; others follow."""


FILLED: Final = (
    "This crop reaches past the master and is filled there, so it is not moved by hand on this"
    " page. Choose another proposal to move one."
)


def box(extent: Extent) -> list[float]:
    """x, y, width, height: what a view box wants."""
    return [_px(extent.x0), _px(extent.y0), _px(extent.width), _px(extent.height)]


def point(at: Point) -> list[float]:
    """x, y."""
    return [_px(at.x), _px(at.y)]


def _px(value: float) -> float:
    return round(float(value), 2)


def mark(one: Mark) -> Told:
    """One overlay mark."""
    told: Told = {"layer": str(one.layer), "kind": one.kind}
    match one:
        case Line():
            return told | {"a": point(one.a), "b": point(one.b)}
        case Area():
            return told | {"box": box(one.box), "filled": one.filled}
        case Fill():
            hatch = [[*point(a), *point(b)] for a, b in one.hatch]
            return told | {"box": box(one.box), "colour": one.colour, "hatch": hatch}
        case Ring():
            return told | {"at": point(one.centre), "r": _px(one.radius)}
        case Veil():
            return told | {"outer": box(one.outer), "hole": box(one.hole), "round": one.round_hole}
        case Label():
            return told | {
                "at": point(one.at),
                "text": one.text,
                "anchor": one.anchor,
                "upwards": one.upwards,
            }


def rule(measure: Measure) -> Told:
    """One measured rule, in words."""
    return {
        "rule": measure.rule,
        "title": measure.title,
        "verdict": str(measure.verdict),
        "value": words.quantity(measure.value, measure.unit),
        "doubt": words.doubt(measure),
        "unit": words.unit_said(measure.unit),
        "target": words.span(measure.target, measure.unit),
        "limit": words.span(measure.limit, measure.unit),
        "sentence": measure.sentence,
        "source": measure.source,
        "raw": {"value": measure.value, "target": measure.target, "limit": measure.limit},
    }


def crop(proposal: Proposal, destination: Destination, finding: Finding) -> Told:
    """A crop as it will appear, with every rule measured on it."""
    lying = lying_as(destination, proposal.crop.box.size)
    taken = proposal.crop.box
    seen = overlays.seen_frame(lying, proposal.crop)
    page = lying.page_mm
    return {
        "box": [taken.x0, taken.y0, taken.x1, taken.y1],
        "deg": proposal.crop.straighten_deg,
        "corners": [point(one) for one in overlays.outline(proposal.crop)],
        "whole": [taken.x0, taken.y0, taken.width, taken.height],
        "seen": box(seen),
        "round": destination.frame is Frame.CIRCLE,
        "live": [
            {"name": one.name, "box": box(one.box.within(lying.trim).of(taken))}
            for one in lying.live_areas
        ],
        "page_mm": [float(page[0]), float(page[1])] if page else None,
        "marks": [mark(one) for one in overlays.marks(lying, proposal, finding)],
        "kind": proposal.kind,
        "shot": proposal.shot,
        "verdict": str(proposal.verdict),
        "reasons": [_begun(spoken(one)) for one in proposal.reasons],
        "pixels": words.pixels(proposal),
        "rules": [rule(one) for one in _worst_first(proposal.measures)],
        "by": proposal.proposed_by,
    }


def _worst_first(measures: tuple[Measure, ...]) -> list[Measure]:
    return sorted(measures, key=lambda one: WORST_FIRST.index(one.verdict))


def card(plan: Plan, master: PlannedMaster, destination: Destination) -> Told:
    """One destination of one master: what counts, what else was proposed, what was said of it."""
    answer = master.answer(destination.name) or Answer(destination=destination.name)
    chosen, choice = master.chosen(destination.name), master.choices.get(destination.name)
    finding = master.finding
    shown = crop(chosen, destination, finding) if chosen else None
    start = biggest(destination, finding)
    frozen = choice is not None and choice.frozen
    filled = chosen is not None and not chosen.crop.box.inside(finding.size)
    return {
        "name": destination.name,
        "title": destination.title,
        "says": destination.description,
        "group": _group(destination),
        "size": words.size(destination, chosen),
        "shape": words.shape(destination),
        "caution": f"{destination.caution} {FILLED if filled else ''}".strip(),
        "fixed_frame": destination.full_frame or filled or frozen,
        "frozen": frozen,
        "turnable": len(destination.orientations) > 1,
        "start": [start.x0, start.y0, start.x1, start.y1],
        "verdict": str(chosen.verdict if chosen else Verdict.NO_CROP),
        "chosen": shown,
        "index": choice.index if choice else None,
        "choice": _choice(choice),
        "proposals": [crop(one, destination, finding) for one in answer.proposals],
        "no_crop": _no_crop(answer.no_crop),
        "word": word(master, destination.name),
        "note": note_of(master, destination.name),
        "goes": _goes(plan, master, destination.name),
        "covered": [
            {"name": one.name, "box": normal(one.box.within(destination.trim))}
            for one in destination.covered
        ],
        "gutter": destination.gutter is not None,
        "recipient": destination.recipient,
    }


def brief(plan: Plan, master: PlannedMaster, destination: Destination, tag: str) -> Told:
    """One crop as one of many: its picture, its verdict, its word, and how the head stands in it.

    ``head`` and ``eyes`` are shares of the height that is seen; None without anybody.
    """
    answer = master.answer(destination.name) or Answer(destination=destination.name)
    chosen = master.chosen(destination.name)
    told: Told = {
        "version": master.version,
        "file": master.file.replace("\\", "/").rsplit("/", 1)[-1],
        "width": master.width,
        "height": master.height,
        "tag": tag,
        "name": destination.name,
        "title": destination.title,
        "group": _group(destination),
        "verdict": str(chosen.verdict if chosen else Verdict.NO_CROP),
        "sentence": _sentence(chosen, answer),
        "word": word(master, destination.name),
        "note": note_of(master, destination.name),
        "proposals": len(answer.proposals),
        "kinds": [one.kind for one in answer.proposals],
        "goes": _goes(plan, master, destination.name),
        "view": None,
    }
    return told | (view(chosen, destination, master) if chosen is not None else {})


def _sentence(chosen: Proposal | None, answer: Answer) -> str:
    """What decides the verdict, in one sentence; empty when all is good."""
    if chosen is None:
        return spoken(answer.no_crop.sentence) if answer.no_crop else ""
    if chosen.verdict is Verdict.HOLDS:
        return ""
    worst = (one for one in chosen.measures if one.verdict is chosen.verdict)
    return next((one.sentence for one in worst), _begun(spoken(next(iter(chosen.reasons), ""))))


def view(chosen: Proposal, destination: Destination, master: PlannedMaster) -> Told:
    """What a small picture of a crop needs, and where head and eyes stand in it."""
    lying = lying_as(destination, chosen.crop.box.size)
    seen = overlays.seen_frame(lying, chosen.crop)
    people = master.finding.principals
    head = max((one.head_height_px for one in people), default=None)
    eyes = people[0].eyes.y if len(people) == 1 else None
    return {
        "view": box(seen),
        "round": destination.frame is Frame.CIRCLE,
        "deg": -chosen.crop.straighten_deg,
        "centre": point(chosen.crop.box.centre),
        "ground": overlays.ground(filled_as(destination, chosen)),
        "head": round(head / float(seen.height), 4) if head is not None else None,
        "eyes": round((eyes - float(seen.y0)) / float(seen.height), 4)
        if eyes is not None
        else None,
        "fixed_frame": destination.full_frame or not chosen.crop.box.inside(master.finding.size),
    }


def normal(one: NormalBox) -> list[float]:
    """x, y, width, height as shares of the frame."""
    return [float(one.x0), float(one.y0), float(one.x1 - one.x0), float(one.y1 - one.y0)]


def note_of(master: PlannedMaster, destination: str) -> str:
    """The note on a deliverable, with a word or without one."""
    approval = master.approvals.get(destination)
    return approval.note if approval is not None else master.notes.get(destination, "")


def _group(destination: Destination) -> str:
    known = [one for one in GROUPS if one in destination.groups]
    return known[0] if known else next(iter(destination.groups), "")


def _choice(choice: Choice | None) -> Told | None:
    if choice is None:
        return None
    return {
        "by_hand": choice.by_hand,
        "at": choice.at.isoformat(timespec="seconds"),
        "state": str(choice.state),
    }


def spoken(sentence: str) -> str:
    """A sentence without the words of the command line: on the page, hands place the eyes.

    >>> spoken("no face was found; place the eyes by hand with --eyes X,Y X,Y")
    'no face was found; place the eyes by hand'
    """
    return re.sub(r"(?:,? with|:) --[a-z-]+(?: [A-Z](?:,[A-Z])?)*", "", sentence)


def problem(master: PlannedMaster) -> str:
    """Why nobody is known in this master, as a sentence begins."""
    said = spoken(master.finding.problem or "nobody is known in this picture")
    return _begun(said.removesuffix("; place the eyes by hand").rstrip("."))


def _begun(sentence: str) -> str:
    """With a capital letter."""
    return sentence[:1].upper() + sentence[1:]


def _no_crop(why: NoCrop | None) -> Told | None:
    if why is None:
        return None
    return {
        "sentence": spoken(why.sentence),
        "conflicts": [spoken(one.sentence) for one in why.conflicts],
        "ways_out": [spoken(one.sentence) for one in why.ways_out if one.kind != "eyes"],
    }


def word(master: PlannedMaster, destination: str) -> Told | None:
    """The photographer's word on a deliverable."""
    now = standing(master, destination)
    if now.approval is None:
        return None
    return {
        "word": str(now.approval.word),
        "note": now.approval.note,
        "at": now.approval.at.isoformat(timespec="seconds"),
        "stands": now.stands,
    }


def _goes(plan: Plan, master: PlannedMaster, destination: str) -> Told | None:
    """Where a set sends this destination; None outside a set."""
    rivals = plan.set_of(master.version)
    if rivals is None:
        return None
    given = rivals.best.get(destination)
    return {"set": rivals.name, "version": given, "here": given == master.version}


def goes(plan: Plan, master: PlannedMaster) -> dict[str, Told | None]:
    """The same for every destination of a master."""
    return {one.destination: _goes(plan, master, one.destination) for one in master.answers}


def person(one: Subject, number: int, *, excluded: bool) -> Told:
    """Somebody in the picture, with the number by which marks name them."""
    return {
        "number": number,
        "principal": one.principal,
        "excluded": excluded,
        "eyes": [point(one.left_eye), point(one.right_eye)],
        "crown": point(one.hair_top.at),
        "chin": point(one.chin.at),
        "head": box(one.head_box),
        "tilt_deg": round(one.tilt_deg, 2),
        "estimated": one.eyes_in_doubt,
        "by_hand": one.eyes_from is Origin.HAND,
        "why": one.why,
        "doubt": one.doubt,
    }


def people(master: PlannedMaster, raw: Finding | None) -> list[Told]:
    """Everybody the finder saw, numbered as it saw them; marks taken into account."""
    marks = master.marks
    if raw is None:
        return []
    told = []
    for number, one in enumerate(raw.subjects, start=1):
        excluded = number in marks.excluded
        told.append(person(one, number, excluded=excluded) | {"principal": _named(master, one)})
    return told


def _named(master: PlannedMaster, one: Subject) -> bool:
    """Whether this found person is one that the picture is about, as things stand."""
    return any(other.eyes.to(one.eyes) < 1 and other.principal for other in master.finding.subjects)


def marks(master: PlannedMaster) -> Told:
    """What was said by hand about this master's people."""
    said = master.marks
    return {
        "eyes": [point(eye) for eye in said.eyes] if said.eyes else None,
        "crown": point(said.crown) if said.crown else None,
        "chin": point(said.chin) if said.chin else None,
        "principal": list(said.principal),
        "excluded": list(said.excluded),
        "small_faces": said.small_faces,
    }


def master(plan: Plan, one: PlannedMaster, raw: Finding | None) -> Told:
    """One master with all its destinations."""
    cards = [
        card(plan, one, destination)
        for destination in plan.destinations
        if one.answer(destination.name) is not None
    ]
    rivals = plan.set_of(one.version)
    return {
        "version": one.version,
        "file": one.file.replace("\\", "/").rsplit("/", 1)[-1],
        "width": one.width,
        "height": one.height,
        "set": rivals.name if rivals else None,
        "problem": None if one.finding.principals else problem(one),
        "remarks": list(one.remarks),
        "principals": [
            person(subject, 0, excluded=False)
            for subject in one.finding.subjects
            if subject.principal
        ],
        "people": people(one, raw),
        "people_known": raw is not None,
        "marks": marks(one),
        "cards": cards,
    }
