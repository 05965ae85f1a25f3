"""What the counts of a question tell: one call, its figures, what may be concluded and what not.

The design decides how they are read: :mod:`.poll_reading`, :mod:`.run_reading`,
:mod:`.pair_reading`. Conclusions are about the people who answered, at those outlets, then.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import zip_longest
from typing import Final

from cropper.publication.looks import (
    always_valid,
    apart,
    boundary,
    chance_of_alarm,
    height_of,
    two_sided,
)
from cropper.publication.responses import (
    WHEN_I_LIKE,
    Count,
    Design,
    Measure,
    Question,
    Responses,
)
from cropper.publication.samples import LEVEL
from cropper.publication.saying import chance


class Call(StrEnum):
    """What may be said about the versions."""

    AHEAD = "ahead"
    ABOUT_EVEN = "about even"
    TOO_CLOSE = "too close to call"
    OUTLETS_DIFFER = "outlets differ"
    NOT_YET = "not yet"
    NOT_COMPARABLE = "not comparable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One version's number, at one outlet or (``outlet`` empty) at all together.

    ``count`` of ``of`` (answers, people reached, days, meetings), as ``value`` with the interval
    ``low`` .. ``high`` in ``unit``; the interval is None where none can be given.
    """

    version: str
    outlet: str
    count: int
    of: float
    value: float
    low: float | None
    high: float | None
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two versions: ``value`` in ``unit`` with its interval, and how often chance does as much."""

    first: str
    second: str
    value: float
    low: float
    high: float
    chance: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A question's counts, read: ``sentence`` says the call with its numbers.

    ``may`` and ``may_not``: what may be concluded and what not, a sentence each. ``warnings``: what
    weakens the figures (looks, outlets, times). ``answers`` is what was counted altogether, and
    ``looks`` how many times the record saw it grow.
    """

    question: Question
    call: Call
    sentence: str
    ahead: str | None = None
    figures: tuple[Figure, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    may: tuple[str, ...] = ()
    may_not: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    answers: int = 0
    looks: int = 0


ONE_LOOK: Final = timedelta(hours=1)
"""House value: counts less than an hour apart are one look."""

SELF_CHOSEN: Final = (
    "That others would answer alike: those who answered follow the outlet and chose to answer."
)
NO_REASON: Final = "Why: a vote gives no reason. Remarks may, as far as people leave any."
NO_GRADE: Final = "That one is the better picture: it is the one these people picked."


def read(responses: Responses, name: str, *, now: datetime) -> Reading:
    """What the question called ``name`` tells, as of ``now`` (aware)."""
    # They are made of what stands here.
    from cropper.publication.pair_reading import read_pairs  # noqa: PLC0415
    from cropper.publication.poll_reading import read_poll  # noqa: PLC0415
    from cropper.publication.run_reading import read_runs  # noqa: PLC0415

    question = responses.question(name)
    counts = tuple(one for one in responses.of(name) if one.at <= now)
    match question.design:
        case Design.ONE_POLL:
            return read_poll(question, counts)
        case Design.SEPARATE_RUNS:
            return read_runs(question, counts)
        case Design.PAIRS:
            return read_pairs(question, counts)


Look = tuple[datetime, int]
"""When somebody looked, and the total that stood there."""


def looks_taken(counts: Sequence[Count], measure: Measure) -> tuple[Look, ...]:
    """The total of ``measure`` over all versions at each look at which it had grown.

    Counts less than an hour apart (outlet after outlet, say) are one look.
    """
    latest: dict[tuple[str, ...], int] = {}
    looks: list[Look] = []
    chosen = [one for one in counts if one.measure is measure]
    instants = sorted({one.at for one in chosen})
    for at, following in zip_longest(instants, instants[1:]):
        latest |= {one.cell: one.number for one in chosen if one.at == at}
        if following is not None and following - at < ONE_LOOK:
            continue
        total = sum(latest.values())
        if total > max((before for _, before in looks), default=0):
            looks.append((at, total))
    return tuple(looks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """Whether the end was fixed in advance, and what the looks before it cost.

    ``looks`` are the totals whenever somebody could have stopped: where an end was ``fixed`` before
    the first count, those from that end on. ``planned`` is the number of looks declared before the
    first count (0: whenever one likes). ``taken`` is the number of all looks. ``waiting`` says, in
    a sentence, that the end is not reached yet.
    """

    looks: tuple[int, ...]
    taken: int
    fixed: bool
    waiting: str
    notes: tuple[str, ...]
    planned: int | None = None

    def raised(self, p: float, *, freedom: int = 1) -> float:
        """``p`` as it is after all looks at which somebody could have stopped.

        ``freedom``: the degrees of freedom of its test; 1 for a two-sided one.
        """
        if not self.looks:
            return p
        if self.planned == WHEN_I_LIKE:
            return always_valid(p, self.looks[-1], freedom=freedom)
        if self.planned is not None:
            return self._spent(p, freedom)
        if len(apart(self.looks)) < 2:  # noqa: PLR2004 - one look costs nothing
            return p
        return max(p, chance_of_alarm(self.looks, height=height_of(p)))

    def _spent(self, p: float, freedom: int) -> float:
        """``p`` in proportion to what this look may spend, so that 5 % is 5 % of all looks."""
        planned = self.planned or 1
        if len(apart(self.looks)) > planned:
            return 1.0
        if freedom > 1:  # no boundary is known for it: an equal part for each look
            return min(1.0, p * planned)
        nominal = two_sided(boundary(self.looks, planned, LEVEL))
        return min(1.0, p * LEVEL / nominal)

    def warnings(self) -> tuple[str, ...]:
        """What is to be said about looking."""
        seen = len(apart(self.looks))
        if self.planned == WHEN_I_LIKE:
            return self.notes
        if self.planned is not None:
            if seen <= self.planned:
                return self.notes
            said = (
                f"You planned {self.planned} looks, and this is number {seen}: nothing new may be"
                " concluded from looks beyond the plan."
            )
            return (*self.notes, said)
        if seen < 2:  # noqa: PLR2004 - as above
            return self.notes
        alarm = chance_of_alarm(self.looks)
        when = "from the end you fixed on" if self.fixed else "with no end fixed in advance"
        said = (
            f"Looked at {seen} times, {when}: who tests at each look and"
            f" stops at the first success is fooled {chance(alarm)}, not {chance(LEVEL)}. The"
            " verdict allows for that. Fix the number of answers or the last day before asking."
        )
        return (*self.notes, said)


def patience(question: Question, counts: Sequence[Count], measure: Measure) -> Patience:
    """What the record knows about the end of a question and the looks at it."""
    looks = looks_taken(counts, measure)
    declared = question.stop_at_answers is not None or question.stop_at is not None
    first = min((one.at for one in counts), default=question.declared_at)
    late = question.declared_at > first
    notes = []
    if late:
        notes.append(
            "The question was declared after the first count: what it asks, and when it ends, may"
            " have been chosen with the answers in view."
        )
    planned = None if late else question.looks
    fixed = declared and not late and planned is None
    stopping = [total for at, total in looks if not fixed or _ended(question, at, total)]
    return Patience(
        looks=tuple(stopping),
        taken=len(looks),
        fixed=fixed,
        waiting=_waiting(question, looks) if fixed and not stopping else "",
        notes=tuple(notes),
        planned=planned,
    )


def _ended(question: Question, at: datetime, total: int) -> bool:
    """Whether a look was at or after the end fixed in advance; where two are fixed, after both."""
    enough = question.stop_at_answers is None or total >= question.stop_at_answers
    return enough and (question.stop_at is None or at >= question.stop_at)


def _waiting(question: Question, looks: Sequence[Look]) -> str:
    have = looks[-1][1] if looks else 0
    wanted = question.stop_at_answers
    if wanted is not None and have < wanted:
        return f"{have:,} of the {wanted:,} answers you fixed in advance are in"
    end = f"{question.stop_at:%Y-%m-%d %H:%M} UTC"
    return f"the last count was taken before the end you fixed, {end}"
