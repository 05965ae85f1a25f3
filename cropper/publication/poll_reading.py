"""Reading a poll that showed all versions: shares, the exact test, and a plain call."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cached_property
from itertools import combinations
from typing import Final

from cropper.publication.pooling import chance_outlets_agree, leaders
from cropper.publication.reading import (
    NO_GRADE,
    NO_REASON,
    SELF_CHOSEN,
    Call,
    Comparison,
    Figure,
    Patience,
    Reading,
    patience,
)
from cropper.publication.responses import Count, Measure, Question, standing
from cropper.publication.samples import (
    LEVEL,
    POWER,
    WORTH_TELLING,
    answers_needed,
    power_of,
)
from cropper.publication.saying import chance, named, of_answers, percent, span
from cropper.publication.shares import (
    Share,
    chance_of_split,
    chance_of_unevenness,
    held_together,
    share,
    shares,
)

AT_ONE_TIME: Final = timedelta(hours=1)
"""House value: totals of one poll taken further apart may belong to different moments of it."""

Votes = Mapping[str, Mapping[str, int]]
"""Outlet to version to votes."""


@dataclass(frozen=True)  # no slots: sums are made once and kept
class Poll:
    """The votes of a poll, outlets whose count is whole, and what was left out or is odd."""

    question: Question
    votes: Votes
    patience: Patience
    notes: tuple[str, ...] = ()

    @cached_property
    def pooled(self) -> dict[str, int]:
        """Votes for each version, all outlets together."""
        return {
            version: sum(row[version] for row in self.votes.values())
            for version in self.question.versions
        }

    @property
    def answers(self) -> int:
        """All votes."""
        return sum(self.pooled.values())

    @cached_property
    def ranked(self) -> tuple[str, ...]:
        """Versions, most votes first."""
        return tuple(sorted(self.pooled, key=lambda name: (-self.pooled[name], name)))

    @cached_property
    def agree(self) -> float:
        """The chance that outlets with one taste differ as much as these, looks allowed for."""
        alone = chance_outlets_agree(
            {outlet: tuple(row.values()) for outlet, row in self.votes.items()}
        )
        freedom = (len(self.votes) - 1) * (len(self.question.versions) - 1)
        return self.patience.raised(alone, freedom=max(1, freedom))

    @property
    def two(self) -> bool:
        """Whether the choice is between two versions only."""
        return len(self.question.versions) == 2  # noqa: PLR2004 - two is what it asks

    @cached_property
    def unevenness(self) -> float:
        """The chance that blind answers come out so unevenly, looks allowed for."""
        return self.patience.raised(
            chance_of_unevenness(tuple(self.pooled.values())),
            freedom=len(self.question.versions) - 1,
        )

    @cached_property
    def led(self) -> dict[str, str]:
        """The version ahead at each outlet."""
        return leaders(self.votes)

    @cached_property
    def chances(self) -> dict[tuple[str, str], float]:
        """For each pair, more votes first: p of their split, all pairs and looks allowed for."""
        raw = {
            (one, other): chance_of_split(self.pooled[one], self.pooled[one] + self.pooled[other])
            for one, other in combinations(self.ranked, 2)
        }
        return {pair: self.patience.raised(p) for pair, p in held_together(raw).items()}


def read_poll(question: Question, counts: Sequence[Count]) -> Reading:
    """The reading of one poll's counts."""
    mine = [one for one in counts if one.measure is Measure.VOTES]
    votes, notes = _votes(question, standing(mine))
    if counts and not mine:
        return Reading(
            question=question,
            call=Call.NOT_COMPARABLE,
            sentence="Not comparable: a poll is read from votes, and there are none. Likes and"
            " comments are no choice: one person can like both.",
        )
    return read_votes(Poll(question, votes, patience(question, mine, Measure.VOTES), notes))


def read_votes(poll: Poll) -> Reading:
    """The reading of a poll's votes, whole or between two of a pair."""
    reading = Reading(
        question=poll.question,
        call=Call.NOT_YET,
        sentence="Not yet: nobody has answered.",
        warnings=(*poll.notes, *poll.patience.warnings()),
        looks=poll.patience.taken,
    )
    if not poll.answers:
        return reading
    call, sentence = _call(poll)
    return replace(
        reading,
        call=call,
        sentence=sentence,
        ahead=poll.ranked[0] if call is Call.AHEAD else None,
        figures=_figures(poll),
        comparisons=_comparisons(poll),
        may=_may(poll, call),
        may_not=(SELF_CHOSEN, NO_GRADE, NO_REASON),
        warnings=(*poll.notes, *_outlets(poll), *_hair(poll, call), *poll.patience.warnings()),
        answers=poll.answers,
    )


def _votes(question: Question, now: Sequence[Count]) -> tuple[Votes, tuple[str, ...]]:
    """Votes by outlet; an outlet where a version was not counted is left out, and said."""
    votes: dict[str, dict[str, int]] = {}
    notes: list[str] = []
    for outlet in sorted({one.outlet for one in now}):
        here = [one for one in now if one.outlet == outlet]
        row = dict.fromkeys(question.versions, 0)
        for one in here:
            row[one.version] += one.number
        missing = [name for name in row if all(one.version != name for one in here)]
        if missing:
            notes.append(
                f"'{outlet}' is left out: no votes were noted there for {named(missing)}."
                " If there were none, count 0."
            )
            continue
        votes[outlet] = row
        if max(one.at for one in here) - min(one.at for one in here) > AT_ONE_TIME:
            notes.append(f"At '{outlet}' the versions were counted at different times.")
    return votes, tuple(notes)


def _call(poll: Poll) -> tuple[Call, str]:
    if poll.patience.waiting:
        return Call.NOT_YET, f"Not yet: {poll.patience.waiting}. So far {_standing(poll)}."
    if _tastes_differ(poll):
        led = "; ".join(f"'{version}' at '{outlet}'" for outlet, version in poll.led.items())
        said = (
            f"The outlets differ, more than chance would have it ({chance(poll.agree)}): ahead are"
            f" {led}. Choose for each outlet by itself."
        )
        return Call.OUTLETS_DIFFER, said
    first, second = poll.ranked[:2]
    if all(p < LEVEL for (one, _), p in poll.chances.items() if one == first):
        return Call.AHEAD, _ahead(poll, first)
    told = share(poll.pooled[first], poll.answers)
    if poll.two and told.high <= WORTH_TELLING:
        said = (
            f"About even: '{first}' has {of_answers(told)}, closer than"
            f" {percent(WORTH_TELLING)} to {percent(1 - WORTH_TELLING)} either way."
        )
        return Call.ABOUT_EVEN, said
    return Call.TOO_CLOSE, _too_close(poll, first, second)


def _tastes_differ(poll: Poll) -> bool:
    return poll.agree < LEVEL and len(set(poll.led.values())) > 1


def _standing(poll: Poll) -> str:
    return ", ".join(f"'{name}' has {poll.pooled[name]:,}" for name in poll.ranked)


def _ahead(poll: Poll, first: str) -> str:
    told = shares(poll.pooled)[first]
    p = max(p for (one, _), p in poll.chances.items() if one == first)
    if poll.two:
        return (
            f"'{first}' is ahead with {of_answers(told)}. Chance alone gives so uneven a split"
            f" {chance(p)}.{_by_little(told)}"
        )
    return (
        f"'{first}' is ahead of every other version with {of_answers(told)}. Chance alone puts it"
        f" so far before the next {chance(p)}."
    )


def _by_little(told: Share) -> str:
    """A lead can be certain and yet not worth a change of plan."""
    if told.high > WORTH_TELLING:
        return ""
    return f" It leads by little: no more than {percent(told.high)} of such answers."


def _too_close(poll: Poll, first: str, second: str) -> str:
    if not poll.two:
        behind = [other for other in poll.ranked[1:] if poll.chances[first, other] < LEVEL]
        of_both = poll.pooled[first] + poll.pooled[second]
        tail = f" {named(behind)} {'is' if len(behind) == 1 else 'are'} behind." if behind else ""
        return (
            f"Too close to call: '{first}' has {of_answers(shares(poll.pooled)[first])}, '{second}'"
            f" {poll.pooled[second]:,}.{tail} {_needed(of_both, between='for either ')}"
        )
    told = share(poll.pooled[first], poll.answers)
    level = poll.pooled[first] == poll.pooled[second]
    lead = f"both have {poll.pooled[first]:,}" if level else f"'{first}' has {of_answers(told)}"
    p = poll.chances[first, second]
    return (
        f"Too close to call: {lead}, and chance alone gives a split at least as uneven {chance(p)}."
        f" {_needed(poll.answers)}"
    )


def _needed(answers: int, *, between: str = "") -> str:
    """What more answers would tell; or what so many should have told."""
    split = f"{100 * WORTH_TELLING:.0f} from {100 * (1 - WORTH_TELLING):.0f}"
    needed = answers_needed(WORTH_TELLING, POWER)
    if answers < needed:
        return f"{needed} answers {between}would tell {split} with {percent(POWER)} power."
    import numpy as np  # noqa: PLC0415 - only verdicts pay for it

    seen = float(power_of(np.array([answers]), WORTH_TELLING)[0])
    return (
        f"{answers:,} answers {between}tell {split} {percent(seen)} of the time: whoever is ahead,"
        " it is hardly by more."
    )


def _figures(poll: Poll) -> tuple[Figure, ...]:
    pooled = _rows(shares(poll.pooled), "")
    if len(poll.votes) < 2:  # noqa: PLR2004 - one outlet is the pool
        return pooled
    apart = (_rows(shares(row), outlet) for outlet, row in poll.votes.items())
    return (*pooled, *(figure for rows in apart for figure in rows))


def _rows(told: Mapping[str, Share], outlet: str) -> tuple[Figure, ...]:
    return tuple(
        Figure(
            version=version,
            outlet=outlet,
            count=one.votes,
            of=one.of,
            value=one.value,
            low=one.low,
            high=one.high,
            unit="share of answers",
        )
        for version, one in told.items()
    )


def _comparisons(poll: Poll) -> tuple[Comparison, ...]:
    told = []
    for (one, other), p in poll.chances.items():
        between = share(poll.pooled[one], poll.pooled[one] + poll.pooled[other])
        told.append(
            Comparison(
                first=one,
                second=other,
                value=between.value,
                low=between.low,
                high=between.high,
                chance=p,
                unit="share of the answers for either",
            )
        )
    return tuple(told)


def _may(poll: Poll, call: Call) -> tuple[str, ...]:
    first = poll.ranked[0]
    told = shares(poll.pooled)[first]
    match call:
        case Call.AHEAD:
            said = (
                f"People like those who answered, asked the same way, would pick '{first}' more"
                f" often: in {span(told.low, told.high)} of cases."
            )
            return (said,)
        case Call.ABOUT_EVEN:
            return ("Either version will do with these people; choose by other reasons.",)
        case Call.OUTLETS_DIFFER:
            return ("The people at different outlets pick differently.",)
        case Call.TOO_CLOSE if not poll.two and poll.unevenness < LEVEL:
            return ("The versions are not all liked equally; which is first remains open.",)
        case _:
            return ("Nothing yet about which of them these people prefer.",)


def _outlets(poll: Poll) -> tuple[str, ...]:
    """Whether outlets pull different ways."""
    if len(set(poll.led.values())) < 2 and poll.agree >= LEVEL:  # noqa: PLR2004 - all one way
        return ()
    if _tastes_differ(poll):
        return ("All outlets together, the larger one speaks for the smaller: read them apart.",)
    if poll.agree < LEVEL:
        said = (
            "All outlets lead the same way but not equally far, more than chance would have it"
            f" ({chance(poll.agree)}): the figure for all together holds for this mixture alone."
        )
        return (said,)
    led = "; ".join(f"'{version}' at '{outlet}'" for outlet, version in poll.led.items())
    return (
        f"The outlets lead different ways ({led}), which may be chance ({chance(poll.agree)}).",
    )


def _hair(poll: Poll, call: Call) -> tuple[str, ...]:
    """The interval and the exact test can differ by a hair; the test decides."""
    if not poll.two or call in {Call.AHEAD, Call.NOT_YET}:
        return ()
    told = share(poll.pooled[poll.ranked[0]], poll.answers)
    if told.holds(0.5):
        return ()
    said = (
        "The interval just leaves out one half, the exact test (looks allowed for) does not: the"
        " test decides."
    )
    return (said,)
