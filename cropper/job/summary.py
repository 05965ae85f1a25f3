"""A plan in a few plain values: what a table, a script or an exit code wants to know."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_RIVALS_CLASH,
    EXIT_SOME_FAILED,
    weightiest,
)
from cropper.job.plan import ChoiceState, Plan, PlannedMaster
from cropper.proposal.proposal import Answer, Verdict
from cropper.subject.principal import question
from cropper.subject.subject import Origin

TALLIED: Final = (
    Verdict.HOLDS,
    Verdict.BENDS,
    Verdict.UNCERTAIN,
    Verdict.BREAKS,
    Verdict.NO_CROP,
)
"""The verdicts in the order of a tally's columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One master for one destination: the crop that counts, or why there is none."""

    version: str
    destination: str
    shot: str
    verdict: str
    sentence: str
    reasons: tuple[str, ...]
    ways_out: tuple[str, ...]
    chosen_by: str
    others: int


def rows(plan: Plan) -> Iterator[Row]:
    """Every master's destinations, in the plan's order."""
    for master in plan.masters:
        for answer in master.answers:
            yield _row(master, answer)


def _row(master: PlannedMaster, answer: Answer) -> Row:
    chosen, choice = master.chosen(answer.destination), master.choices.get(answer.destination)
    if chosen is None or choice is None:
        return _without(master, answer)
    reasons = chosen.reasons
    if choice.state is ChoiceState.LOOK_AGAIN:
        reasons = ("Look again: the ground of this choice has changed since.", *reasons)
    return Row(
        version=master.version,
        destination=answer.destination,
        shot=chosen.shot,
        verdict=str(chosen.verdict),
        sentence=next(iter(reasons), ""),
        reasons=reasons,
        ways_out=(),
        chosen_by=choice.chosen_by,
        others=len(answer.proposals) - (choice.index is not None),
    )


def _without(master: PlannedMaster, answer: Answer) -> Row:
    why = answer.no_crop
    conflicts = tuple(one.sentence for one in why.conflicts) if why else ()
    return Row(
        version=master.version,
        destination=answer.destination,
        shot="",
        verdict=str(Verdict.NO_CROP),
        sentence=why.sentence if why else "",
        reasons=(*((why.sentence,) if why else ()), *conflicts),
        ways_out=tuple(one.sentence for one in why.ways_out) if why else (),
        chosen_by="",
        others=0,
    )


def needs_an_eye(plan: Plan) -> tuple[str, ...]:
    """A sentence for each thing that a person must look at before all is well."""
    said: list[str] = []
    for master in plan.masters:
        people = master.finding.principals
        if not people:
            said.append(f"{master.version}: {master.finding.problem or question(())}")
        elif any(one.eyes_from is Origin.ESTIMATED for one in people):
            said.append(f"{master.version}: {master.finding.problem or question(people)}")
        again = [
            name
            for name, choice in master.choices.items()
            if choice.state is ChoiceState.LOOK_AGAIN
        ]
        if again:
            said.append(f"{master.version}: look again at {', '.join(again)}")
    return tuple(said)


def exit_code(plan: Plan, failed: int, asked: int, *, clashes: int = 0) -> int:
    """What ``plan`` exits with when ``failed`` of ``asked`` masters could not be opened."""
    codes = [EXIT_DONE]
    if failed:
        codes.append(EXIT_CANNOT if failed == asked else EXIT_SOME_FAILED)
    if clashes:
        codes.append(EXIT_RIVALS_CLASH)
    if needs_an_eye(plan):
        codes.append(EXIT_NEEDS_YOUR_EYE)
    return weightiest(*codes)


def mapping(plan: Plan) -> dict[str, Any]:
    """The plan for scripts: the crop that counts per master and destination, sets, failures."""
    return {
        "format": 1,
        "masters": [_master(one) for one in plan.masters],
        "sets": [
            {
                "name": one.name,
                "versions": list(one.versions),
                "assigned": one.assigned,
                "best": dict(one.best),
                "runner_up": dict(one.runner_up) if one.runner_up is not None else None,
                "sentences": [*one.sentences, *([one.runner_up_costs] * bool(one.runner_up_costs))],
            }
            for one in plan.sets
        ],
        "failed": [{"file": one.file, "problem": one.sentence} for one in plan.failed],
        "needs_your_eye": list(needs_an_eye(plan)),
    }


def _master(master: PlannedMaster) -> dict[str, Any]:
    return {
        "file": master.file,
        "version": master.version,
        "sha256": master.sha256,
        "width": master.width,
        "height": master.height,
        "problem": master.finding.problem,
        "remarks": list(master.remarks),
        "destinations": [_destination(master, answer) for answer in master.answers],
    }


def _destination(master: PlannedMaster, answer: Answer) -> dict[str, Any]:
    row, chosen = _row(master, answer), master.chosen(answer.destination)
    box = chosen.crop.box if chosen else None
    return {
        "destination": answer.destination,
        "crop": [box.x0, box.y0, box.x1, box.y1] if box else None,
        "straighten_deg": chosen.crop.straighten_deg if chosen else None,
        "delivered": [chosen.delivered.width, chosen.delivered.height] if chosen else None,
        "shot": row.shot or None,
        "verdict": row.verdict,
        "chosen_by": row.chosen_by or None,
        "reasons": list(row.reasons),
        "ways_out": list(row.ways_out),
        "other_proposals": row.others,
    }


def tallies(plan: Plan) -> Iterator[tuple[str, ...]]:
    """Per master: eyes, how many destinations stand at each verdict, and what it is assigned to."""
    for master in plan.masters:
        told = [_row(master, answer).verdict for answer in master.answers]
        rivals = plan.set_of(master.version)
        mine = [] if rivals is None else [n for n, v in rivals.best.items() if v == master.version]
        yield (
            master.version,
            _eyes(master),
            *(str(told.count(str(verdict))) for verdict in TALLIED),
            "" if rivals is None else f"{len(mine)} of {len(told)}",
        )


def _eyes(master: PlannedMaster) -> str:
    people = master.finding.principals
    if not people:
        return "not found"
    pairs = "1 pair" if len(people) == 1 else f"{len(people)} pairs"
    origins = sorted({str(one.eyes_from) for one in people})
    return f"{pairs}, {' and '.join(origins)}"
