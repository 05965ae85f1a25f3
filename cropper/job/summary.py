"""A plan in a few plain values: what a table, a script or an exit code wants to know."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_RIVALS_CLASH,
    EXIT_SOME_FAILED,
    weightiest,
)
from cropper.job.cards import Card, card_of
from cropper.job.plan import Plan, PlannedMaster
from cropper.job.rows import Row, row_of
from cropper.proposal.proposal import Answer, Verdict

TALLIED: Final = (
    Verdict.HOLDS,
    Verdict.BENDS,
    Verdict.UNCERTAIN,
    Verdict.BREAKS,
    Verdict.NO_CROP,
)
"""The verdicts in the order of a tally's columns."""


def cards(plan: Plan) -> Iterator[Card]:
    """Every master at a glance, in the plan's order, opened only where it has no card yet."""
    for entry in plan.shelf.entries:
        yield entry.card or card_of(entry.master, place=entry.place)


def rows(plan: Plan) -> Iterator[Row]:
    """Every master's destinations with all that is known of them, in the plan's order."""
    for master in plan.masters:
        for answer in master.answers:
            yield row_of(master, answer)


def listed(plan: Plan) -> Iterator[Row]:
    """The same rows with the first reason only, from the cards."""
    for card in cards(plan):
        yield from card.rows()


def needs_an_eye(plan: Plan) -> tuple[str, ...]:
    """A sentence for each thing that a person must look at before all is well."""
    said: list[str] = []
    for card in cards(plan):
        if card.question:
            said.append(f"{card.version}: {card.question}")
        if card.look_again:
            said.append(f"{card.version}: look again at {', '.join(card.look_again)}")
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
    row, chosen = row_of(master, answer), master.chosen(answer.destination)
    choice = master.choices.get(answer.destination)
    box = chosen.crop.box if chosen else None
    return {
        "destination": answer.destination,
        "crop": [box.x0, box.y0, box.x1, box.y1] if box else None,
        "straighten_deg": chosen.crop.straighten_deg if chosen else None,
        "delivered": [chosen.delivered.width, chosen.delivered.height] if chosen else None,
        "shot": row.shot or None,
        "verdict": row.verdict,
        "chosen_by": row.chosen_by or None,
        "frozen": choice is not None and choice.frozen,
        "reasons": list(row.reasons),
        "ways_out": list(row.ways_out),
        "other_proposals": row.others,
    }


def tallies(plan: Plan) -> Iterator[tuple[str, ...]]:
    """Per master: eyes, how many destinations stand at each verdict, and what it is assigned to."""
    homes = {version: one for one in plan.sets for version in one.versions}
    for card in cards(plan):
        told = [one.verdict for one in card.lines]
        rivals = homes.get(card.version)
        mine = [] if rivals is None else [n for n, v in rivals.best.items() if v == card.version]
        yield (
            card.version,
            card.eyes,
            *(str(told.count(str(verdict))) for verdict in TALLIED),
            "" if rivals is None else f"{len(mine)} of {len(told)}",
        )
