"""One master for one destination, in words: the crop that counts, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass

from cropper.job.plan import ChoiceState, PlannedMaster
from cropper.proposal.proposal import Answer, Verdict
from cropper.subject.principal import question


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


def row_of(master: PlannedMaster, answer: Answer) -> Row:
    """What a table says of one answer."""
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


def question_of(master: PlannedMaster) -> str:
    """What the finder asks the photographer about this master; empty when it asks nothing."""
    people = master.finding.principals
    if not people:
        return master.finding.problem or question(()) or ""
    if any(one.eyes_in_doubt for one in people):
        return master.finding.problem or question(people) or ""
    return ""


def eyes_of(master: PlannedMaster) -> str:
    """The principal people's eyes in a few words: ``1 pair, found``."""
    people = master.finding.principals
    if not people:
        return "not found"
    pairs = "1 pair" if len(people) == 1 else f"{len(people)} pairs"
    origins = sorted({str(one.eyes_from) for one in people})
    return f"{pairs}, {' and '.join(origins)}"
