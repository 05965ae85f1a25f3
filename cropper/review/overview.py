"""The whole job at a glance: the wall of thumbnails, what is deliverable, and sets of rivals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from cropper.errors import MisuseError
from cropper.job.approving import standing, why_withheld
from cropper.job.plan import ChoiceState, Plan, PlannedMaster, PlannedSet
from cropper.proof import words
from cropper.proposal.proposal import Verdict
from cropper.review import telling
from cropper.review.cabinet import Cabinet
from cropper.review.telling import Told


def wall(plan: Plan, cabinet: Cabinet, versions: Iterable[str]) -> list[Told]:
    """These masters, each with a thumbnail per destination."""
    found = (plan.master(one) for one in versions)
    return [_row(plan, master, cabinet) for master in found if master is not None]


def _row(plan: Plan, master: PlannedMaster, cabinet: Cabinet) -> Told:
    rivals = plan.set_of(master.version)
    return {
        "version": master.version,
        "width": master.width,
        "height": master.height,
        "tag": cabinet.tag(master),
        "set": rivals.name if rivals else "",
        "problem": "" if master.finding.principals else telling.problem(master),
        "thumbs": list(_thumbs(plan, master)),
    }


def _thumbs(plan: Plan, master: PlannedMaster) -> Iterator[Told]:
    for destination in plan.destinations:
        if master.answer(destination.name) is None:
            continue
        chosen = master.chosen(destination.name)
        verdict = chosen.verdict if chosen else Verdict.NO_CROP
        thumb: Told = {
            "name": destination.name,
            "title": destination.title,
            "verdict": str(verdict),
            "said": words.said(verdict),
            "slug": words.slug(verdict),
            "word": _word(master, destination.name),
            "view": None,
        }
        yield thumb | (telling.view(chosen, destination, master) if chosen is not None else {})


def _word(master: PlannedMaster, destination: str) -> str:
    now = standing(master, destination)
    if now.approval is None:
        return ""
    return str(now.approval.word) if now.stands else "check again"


def deliverables(plan: Plan, cabinet: Cabinet, versions: Iterable[str]) -> list[Told]:
    """Each crop of these masters, with the word on it and whether it would leave."""
    found = (plan.master(one) for one in versions)
    return [
        one | {"tag": cabinet.tag(master), "width": master.width, "height": master.height}
        for master in found
        if master is not None
        for one in _deliverables(plan, master)
    ]


def _deliverables(plan: Plan, master: PlannedMaster) -> Iterator[Told]:
    rivals = plan.set_of(master.version)
    for answer in master.answers:
        destination = plan.destination(answer.destination)
        if destination is None:
            continue
        chosen = master.chosen(answer.destination)
        given = rivals.best.get(answer.destination) if rivals else master.version
        choice = master.choices.get(answer.destination)
        yield {
            "version": master.version,
            "destination": destination.name,
            "title": destination.title,
            "size": words.size(destination, chosen),
            "verdict": str(chosen.verdict if chosen else Verdict.NO_CROP),
            "sentence": chosen.reasons[0] if chosen and chosen.reasons else "",
            "word": telling.word(master, destination.name),
            "goes_elsewhere": given != master.version,
            "given": given,
            "look_again": choice is not None and choice.state is ChoiceState.LOOK_AGAIN,
            "withheld": why_withheld(master, destination.name, approved_only=True),
            "note": telling.note_of(master, destination.name),
            "picture": telling.view(chosen, destination, master) if chosen is not None else None,
        }


def crops(
    plan: Plan, cabinet: Cabinet, versions: Iterable[str], *, destination: str = ""
) -> list[Told]:
    """The crops of these masters, or those for one destination, each as one of many."""
    found = (plan.master(one) for one in versions)
    return [
        telling.brief(plan, master, place, cabinet.tag(master))
        for master in found
        if master is not None
        for place in plan.destinations
        if master.answer(place.name) is not None and destination in {"", place.name}
    ]


def set_of(plan: Plan, name: str) -> PlannedSet:
    """The set, or a sentence that there is none."""
    found = plan.rivals.get(name)
    if found is None:
        raise MisuseError(f"this job has no set '{name}'")
    return found


def rivals(plan: Plan, planned: PlannedSet, cabinet: Cabinet) -> Told:
    """A set's matrix with the crops to be seen side by side."""
    places = [one for one in plan.shelf.entries if one.version in planned.versions]
    masters = [one.master for one in places]
    names = [one.name for one in plan.destinations if any(m.answer(one.name) for m in masters)]
    whys = _whys(planned)
    return {
        "name": planned.name,
        "assigned": planned.assigned,
        "versions": [
            {
                "version": one.version,
                "width": one.width,
                "height": one.height,
                "tag": cabinet.tag(one),
                "head_px": _head_px(one),
            }
            for one in masters
        ],
        "rows": [_matrix_row(plan, planned, masters, name, whys.get(name, "")) for name in names],
        "sentences": [one for one in planned.sentences if _about(one, names) == ""],
        "runner_up": planned.runner_up_costs,
    }


def _whys(planned: PlannedSet) -> dict[str, str]:
    """The sentence about each destination, its name taken off."""
    told: dict[str, str] = {}
    for sentence in planned.sentences:
        name, colon, said = sentence.partition(": ")
        if colon:
            told.setdefault(name, said)
    return told


def _about(sentence: str, names: list[str]) -> str:
    name, colon, _ = sentence.partition(": ")
    return name if colon and name in names else ""


def _head_px(master: PlannedMaster) -> float | None:
    """The largest principal head's height: what the same face scale goes by."""
    heads = [one.head_height_px for one in master.finding.principals]
    return max(heads) if heads else None


def _matrix_row(
    plan: Plan, planned: PlannedSet, masters: list[PlannedMaster], name: str, why: str
) -> Told:
    destination = plan.destination(name)
    if destination is None:
        raise MisuseError(f"this job has no destination '{name}'")
    fields: dict[str, Any] = {}
    for master in masters:
        chosen, cell = master.chosen(name), planned.cell(master.version, name)
        fields[master.version] = {
            "crop": telling.crop(chosen, destination, master.finding) if chosen else None,
            "verdict": str(chosen.verdict if chosen else Verdict.NO_CROP),
            "sentence": cell.sentence if cell else "",
            "word": telling.word(master, name),
        }
    return {
        "name": name,
        "title": destination.title,
        "given": planned.best.get(name),
        "fixed": planned.fixed.get(name),
        "why": why,
        "fields": fields,
    }
