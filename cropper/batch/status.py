"""How a job stands: what is done, what waits for the eye and why, what failed and the way out.

All of it is read from the cards and the ledger; no master is opened.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from enum import IntEnum
from pathlib import Path
from typing import Any, Final

from cropper.errors import EXIT_DONE, EXIT_NEEDS_YOUR_EYE, EXIT_SOME_FAILED, weightiest
from cropper.job.cards import Card, Line
from cropper.job.ledger import read_ledger
from cropper.job.plan import Plan
from cropper.job.relinking import changed_masters, missing_masters
from cropper.job.store import JobFolder
from cropper.job.summary import TALLIED, cards
from cropper.master.stored import placed
from cropper.proposal.proposal import Verdict

FORMAT: Final = 1


class Matter(IntEnum):
    """Why something waits, the gravest first: what stops files altogether, then what may be wrong.

    The order is a house rule: without eyes nothing of a master can leave; a choice of yours whose
    ground moved may be wrong unseen; a broken rule is certain, an uncertain one is not.
    """

    NOBODY = 1
    LOOK_AGAIN = 2
    BREAKS = 3
    ESTIMATED = 4
    UNCERTAIN = 5
    NO_CROP = 6


_WORDS: Final = {
    Matter.NOBODY: "no eyes",
    Matter.LOOK_AGAIN: "check again",
    Matter.BREAKS: Verdict.BREAKS.word,
    Matter.ESTIMATED: "eyes estimated",
    Matter.UNCERTAIN: Verdict.UNCERTAIN.word,
    Matter.NO_CROP: "no crop",
}


def word_of(matter: Matter) -> str:
    """The matter in words."""
    return _WORDS[matter]


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """One thing that waits for the eye: a master, the destinations it is about, and why."""

    matter: Matter
    version: str
    destinations: tuple[str, ...]
    sentence: str
    way_out: str

    @property
    def word(self) -> str:
        """The matter in words."""
        return word_of(self.matter)

    @property
    def rank(self) -> tuple[int, int, str]:
        """The gravest first, then what holds up most files."""
        return (int(self.matter), -len(self.destinations), self.version)


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A file that could not be planned, and what to do about it."""

    file: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """A job at a glance. Counts are of masters, and of crops (a master for a destination).

    ``missing`` maps versions whose masters are not where the plan has them to that place;
    ``changed`` are those whose masters hold something else than when they were planned.
    """

    masters: int
    to_be_planned: int
    crops: int
    verdicts: dict[str, int]
    words: dict[str, int]
    by_hand: int
    files_written: int
    waiting: tuple[Waiting, ...]
    failed: tuple[Failure, ...]
    missing: dict[str, str] = field(default_factory=dict)
    changed: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """5 when something waits for the eye, 6 when something failed or is yet to be planned."""
        codes = [EXIT_DONE]
        if self.failed or self.to_be_planned or self.missing or self.changed:
            codes.append(EXIT_SOME_FAILED)
        if self.waiting:
            codes.append(EXIT_NEEDS_YOUR_EYE)
        return weightiest(*codes)

    def mapping(self) -> dict[str, Any]:
        """As JSON values."""
        told = asdict(self)
        for one, waits in zip(told["waiting"], self.waiting, strict=True):
            one["matter"] = waits.word
        return {"format": FORMAT, **told}


def status_of(job: Path) -> Status:
    """How the job in this folder stands; raises :class:`JobError` when there is no plan in it."""
    folder = JobFolder(job)
    plan = folder.must_read()
    told = list(cards(plan))
    lines = [line for card in told for line in card.lines]
    verdicts = Counter(line.verdict for line in lines)
    missing = missing_masters(plan, job)
    gone = {path.resolve() for path in missing.values()}
    return Status(
        masters=len(told),
        to_be_planned=len(plan.waiting),
        crops=len(lines) - verdicts[str(Verdict.NO_CROP)],
        verdicts={str(one): verdicts[str(one)] for one in TALLIED},
        words=dict(Counter(line.word for line in lines if line.word)),
        by_hand=sum(line.chosen_by == "photographer" for line in lines),
        files_written=_written(job),
        waiting=tuple(
            sorted(
                (one for card in told for one in waiting_of(card, job)), key=lambda one: one.rank
            )
        ),
        failed=tuple(
            Failure(file=one.file, sentence=one.sentence)
            for one in plan.failed
            if placed(Path(), one.file).resolve() not in gone
        ),
        missing={version: str(path) for version, path in missing.items()},
        changed=tuple(changed_masters(plan, job)),
    )


def _written(job: Path) -> int:
    """Files that exports of this job have finished, wherever they went."""
    folders = read_ledger(job).folders
    return sum(entry.written for files in folders.values() for entry in files.values())


def waiting_of(card: Card, job: Path = Path()) -> Iterator[Waiting]:
    """What waits for the eye in one master; ``job`` is where the ways out lead."""
    yield from _people(card, job)
    if card.look_again:
        yield Waiting(
            matter=Matter.LOOK_AGAIN,
            version=card.version,
            destinations=card.look_again,
            sentence="The ground of your choice has changed since you made it.",
            way_out=_look(card, job),
        )
    yield from _verdicts(card, job)


def _people(card: Card, job: Path) -> Iterator[Waiting]:
    if card.question:
        nobody = card.eyes == "not found"
        yield Waiting(
            matter=Matter.NOBODY if nobody else Matter.ESTIMATED,
            version=card.version,
            destinations=tuple(line.destination for line in card.lines),
            sentence=card.question,
            way_out=_look(card, job, "place the eyes"),
        )


_LOOKED_AT: Final = {
    Verdict.BREAKS: (Matter.BREAKS, "choose another or draw one"),
    Verdict.UNCERTAIN: (Matter.UNCERTAIN, "see whether it will do"),
    Verdict.NO_CROP: (Matter.NO_CROP, "see the ways out, or leave it"),
}


def _verdicts(card: Card, job: Path) -> Iterator[Waiting]:
    """One for each verdict that needs a look and has not had one."""
    for verdict, (matter, deed) in _LOOKED_AT.items():
        lines = [
            one
            for one in card.lines
            if one.verdict == verdict and not one.word and one.chosen_by != "photographer"
        ]
        if lines and not (card.eyes == "not found" and verdict is Verdict.NO_CROP):
            yield Waiting(
                matter=matter,
                version=card.version,
                destinations=tuple(one.destination for one in lines),
                sentence=_fault(lines),
                way_out=_look(card, job, deed),
            )


def _fault(lines: list[Line]) -> str:
    """What is wrong with most of them."""
    return Counter(one.fault or one.sentence for one in lines).most_common(1)[0][0]


def _look(card: Card, job: Path, deed: str = "look at it") -> str:
    return f"cropper review --job {job}, '{card.version}': {deed}"


def worst(plan: Plan, most: int) -> tuple[str, ...]:
    """The ``most`` versions that need a look most, the worst first."""
    graver = (Verdict.BREAKS, Verdict.UNCERTAIN, Verdict.NO_CROP)
    ranked: list[tuple[tuple[int, ...], str]] = []
    for card in cards(plan):
        told = Counter(line.verdict for line in card.lines if not line.word)
        rank = (int(bool(card.question)), len(card.look_again), *(told[str(v)] for v in graver))
        if any(rank):
            ranked.append((rank, card.version))
    ranked.sort(key=lambda one: (tuple(-part for part in one[0]), one[1]))
    return tuple(version for _, version in ranked[:most])
