"""Reading preferences between pairs: a strength for each version, or why there is none yet."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Final

from cropper.publication import pairs
from cropper.publication.pairs import Preference, Ranking, expit
from cropper.publication.poll_reading import Poll, read_votes
from cropper.publication.pooling import chance_outlets_agree
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
from cropper.publication.samples import LEVEL
from cropper.publication.saying import chance, named, percent, span
from cropper.publication.shares import held_together

AGAINST_AVERAGE: Final = "share of choices against an average version"
"""A strength told as a share: what a version of average strength would lose to it."""
NO_TIES: Final = (
    "How many find them alike: answers that prefer neither have no place in these figures."
)


def read_pairs(question: Question, counts: Sequence[Count]) -> Reading:
    """The reading of answers that each prefer one version to another."""
    mine = [one for one in counts if one.measure is Measure.VOTES and one.over is not None]
    now, waited = standing(mine), patience(question, mine, Measure.VOTES)
    if len(question.versions) == 2:  # noqa: PLR2004 - one pair is a poll of two
        return read_votes(Poll(question, _as_poll(question, now), waited))
    wins = _wins(now)
    answers = sum(wins.values())
    if not answers:
        return Reading(
            question=question, call=Call.NOT_YET, sentence="Not yet: nobody has answered."
        )
    why = waited.waiting or pairs.unranked(question.versions, wins)
    found = None if why else pairs.ranking(question.versions, wins)
    call, sentence = _call(found, waited) if found else (Call.NOT_YET, f"Not yet: {_ended(why)}")
    return Reading(
        question=question,
        call=call,
        sentence=sentence,
        ahead=found.strengths[0].version if found and call is Call.AHEAD else None,
        figures=_figures(question, wins, found),
        comparisons=_comparisons(found, waited) if found else (),
        may=_may(call, found),
        may_not=(SELF_CHOSEN, NO_GRADE, NO_REASON, NO_TIES),
        warnings=(*_circles(found), *_outlets(now), *waited.warnings()),
        answers=answers,
        looks=waited.taken,
    )


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith(".") else f"{sentence}."


def _wins(now: Sequence[Count]) -> dict[tuple[str, str], int]:
    wins: dict[tuple[str, str], int] = {}
    for one in now:
        pair = (one.version, one.over or "")
        wins[pair] = wins.get(pair, 0) + one.number
    return wins


def _as_poll(question: Question, now: Sequence[Count]) -> dict[str, dict[str, int]]:
    votes: dict[str, dict[str, int]] = {}
    for one in now:
        row = votes.setdefault(one.outlet, dict.fromkeys(question.versions, 0))
        row[one.version] += one.number
    return votes


def _call(found: Ranking, waited: Patience) -> tuple[Call, str]:
    first = found.strengths[0].version
    mine = [one for one in found.preferences if one.first == first]
    nearest = max(mine, key=lambda one: one.chance)
    if all(waited.raised(one.chance) < LEVEL for one in mine):
        said = f"'{first}' is ahead of every other version; {_preferred(nearest)}."
        return Call.AHEAD, said
    level = [one.second for one in mine if waited.raised(one.chance) >= LEVEL]
    return (
        Call.TOO_CLOSE,
        (
            f"Too close to call between {named((first, *level))}: '{first}' comes first for now,"
            f" and {_preferred(mine[0])}."
        ),
    )


def _preferred(one: Preference) -> str:
    return (
        f"it would be preferred to '{one.second}' in {percent(one.value)} of choices"
        f" ({span(one.low, one.high)})"
    )


def _figures(
    question: Question, wins: dict[tuple[str, str], int], found: Ranking | None
) -> tuple[Figure, ...]:
    strengths = {one.version: one for one in found.strengths} if found else {}
    order = list(strengths) or list(question.versions)
    told = []
    for version in order:
        won = sum(number for (one, _), number in wins.items() if one == version)
        met = won + sum(number for (_, other), number in wins.items() if other == version)
        one = strengths.get(version)
        told.append(
            Figure(
                version=version,
                outlet="",
                count=won,
                of=met,
                value=expit(one.value) if one else (won / met if met else 0.5),
                low=expit(one.low) if one else None,
                high=expit(one.high) if one else None,
                unit=AGAINST_AVERAGE if one else "share of its pairs",
            )
        )
    return tuple(told)


def _comparisons(found: Ranking, waited: Patience) -> tuple[Comparison, ...]:
    return tuple(
        Comparison(
            first=one.first,
            second=one.second,
            value=one.value,
            low=one.low,
            high=one.high,
            chance=waited.raised(one.chance),
            unit="share of choices between the two",
        )
        for one in found.preferences
    )


def _may(call: Call, found: Ranking | None) -> tuple[str, ...]:
    if found and call is Call.AHEAD:
        first = found.strengths[0].version
        return (f"People like those who answered prefer '{first}' to each of the others.",)
    clear = [one for one in found.preferences if one.chance < LEVEL] if found else []
    if clear:
        said = "; ".join(f"'{one.first}' rather than '{one.second}'" for one in clear)
        return (f"These people prefer {said}. Which is first remains open.",)
    return ("Nothing yet about which of them these people prefer.",)


def _circles(found: Ranking | None) -> tuple[str, ...]:
    if found is None or found.chance_of_circles >= LEVEL:
        return ()
    said = (
        f"The preferences run in circles (chance does as much {chance(found.chance_of_circles)}):"
        " one strength each describes them badly."
    )
    return (said,)


def _outlets(now: Sequence[Count]) -> tuple[str, ...]:
    """Pairs on which outlets differ more than chance would have it."""
    apart: dict[tuple[str, str], float] = {}
    names = sorted({one.version for one in now} | {one.over or "" for one in now})
    for one, other in combinations(names, 2):
        rows: dict[str, list[int]] = {}
        for count in now:
            if {count.version, count.over} == {one, other}:
                row = rows.setdefault(count.outlet, [0, 0])
                row[count.version == other] += count.number
        if len(rows) > 1:
            apart[one, other] = chance_outlets_agree(rows)
    return tuple(
        f"The outlets differ over '{one}' and '{other}' more than chance would have it"
        f" ({chance(p)}): the strengths are a mixture of tastes."
        for (one, other), p in held_together(apart).items()
        if p < LEVEL
    )
