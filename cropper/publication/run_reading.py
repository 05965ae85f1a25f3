"""Reading runs that stood apart: rates by people reached or by days, or why they do not compare.

Each version had its own time and its own people, so a difference in rates is never proof of a
difference between pictures; at best it is more than chance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from cropper.publication import rates
from cropper.publication.footing import Footing, NotComparableError, footing
from cropper.publication.pooling import leaders
from cropper.publication.rates import Ratio, Ratios, Showing
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
from cropper.publication.responses import Count, Question
from cropper.publication.samples import LEVEL
from cropper.publication.saying import chance, named, times

ENOUGH_RUNS: Final = 4
"""House value: with fewer spare runs, scatter is too poorly known to rest a verdict on."""
MORE_RUNS: Final = "Let each run two or three times, or ask in one poll that shows them all."
TIMES_APART: Final = (
    "That the picture made the difference: the runs had different times, and so different weather,"
    " news and people. One poll that shows both would tell."
)


def read_runs(question: Question, counts: Sequence[Count]) -> Reading:
    """The reading of separate runs' counts."""
    empty = Reading(question=question, call=Call.NOT_YET, sentence="Not yet: nothing is counted.")
    if not counts:
        return empty
    may_not = (TIMES_APART, SELF_CHOSEN, NO_GRADE, NO_REASON)
    try:
        stood = footing(question, counts)
    except NotComparableError as why:
        return replace(
            empty, call=Call.NOT_COMPARABLE, sentence=f"Not comparable: {why}", may_not=may_not[2:]
        )
    waited = patience(question, counts, stood.measure)
    call, sentence, told = _call(stood, waited)
    return Reading(
        question=question,
        call=call,
        sentence=sentence,
        ahead=told[0].first if told and call is Call.AHEAD else None,
        figures=_figures(stood),
        comparisons=tuple(_comparison(one) for one in told),
        may=_may(call, told, stood),
        may_not=may_not,
        warnings=(*stood.notes, *_simpson(stood), *waited.warnings()),
        answers=sum(one.count for one in stood.showings),
        looks=waited.taken,
    )


def _call(footing: Footing, waited: Patience) -> tuple[Call, str, tuple[Ratio, ...]]:
    if waited.waiting:
        return Call.NOT_YET, f"Not yet: {waited.waiting}.", ()
    totals = _totals(footing.showings)
    if not sum(totals.values()):
        return Call.NOT_YET, f"Not yet: no {footing.measure} at all.", ()
    if len(footing.showings) == 2:  # noqa: PLR2004 - one run each, at one outlet
        return _of_two(footing, waited)
    if min(totals.values()) < rates.FEWEST:
        few = [name for name, count in totals.items() if count < rates.FEWEST]
        return (
            Call.TOO_CLOSE,
            f"Too close to call: fewer than {rates.FEWEST} {footing.measure} for {named(few)}.",
            (),
        )
    if rates.without_end(footing.showings):
        said = (
            "Too close to call: wherever they ran together, some versions drew no"
            f" {footing.measure} at all, which gives no ratio."
        )
        return Call.TOO_CLOSE, said, ()
    return _of_many(footing, waited, rates.ratios(footing.showings))


def _of_two(footing: Footing, waited: Patience) -> tuple[Call, str, tuple[Ratio, ...]]:
    """One run each: the exact test, and how much scatter would undo it."""
    one, other = footing.showings
    if one.count / one.exposure < other.count / other.exposure:
        one, other = other, one
    told = rates.exact_ratio(one, other)
    told = replace(told, chance=waited.raised(told.chance))
    if told.chance >= LEVEL:
        return Call.TOO_CLOSE, _close(told, footing), (told,)
    undone = rates.undone_by(told)
    little = (
        f" ({undone:.1f} times the scatter of chance would do for this difference)"
        if undone > 1
        else ""
    )
    doubt = f"With one run each nobody knows how far runs scatter by themselves{little}."
    return Call.TOO_CLOSE, f"{_close(told, footing)} {doubt} {MORE_RUNS}", (told,)


def _of_many(
    footing: Footing, waited: Patience, found: Ratios
) -> tuple[Call, str, tuple[Ratio, ...]]:
    told = tuple(replace(one, chance=waited.raised(one.chance)) for one in found.ratios)
    lead = _foremost(told)
    mine = [one for one in told if one.first == lead]
    nearest = max(mine, key=lambda one: one.chance)
    ordered = (nearest, *(one for one in told if one is not nearest))
    ahead_at = leaders(_by_outlet(footing.showings))
    once = len(footing.showings) == len(footing.cells)
    agree = waited.raised(found.chance_outlets_agree, freedom=_freedom(footing))
    if agree < LEVEL and len(set(ahead_at.values())) > 1 and not once:
        led = "; ".join(f"'{version}' at '{outlet}'" for outlet, version in ahead_at.items())
        said = (
            f"The outlets differ, more than chance would have it ({chance(agree)}): ahead are"
            f" {led}."
        )
        return Call.OUTLETS_DIFFER, said, ordered
    if nearest.chance < LEVEL and found.scatter is not None:
        return (
            Call.AHEAD,
            f"'{lead}' is ahead: {_ratio(nearest, footing)}{_scatter(found)}.",
            ordered,
        )
    if found.spare < ENOUGH_RUNS and waited.raised(nearest.alone) < LEVEL:
        runs = len(footing.showings)
        doubt = f"{runs} runs are too few to know how far runs scatter by themselves"
        return Call.TOO_CLOSE, f"{_close(nearest, footing)[:-1]}; {doubt}. {MORE_RUNS}", ordered
    return Call.TOO_CLOSE, f"{_close(nearest, footing)[:-1]}{_scatter(found)}.", ordered


def _freedom(footing: Footing) -> int:
    """The degrees of freedom of outlets that may differ: cells beyond one preference for all."""
    outlets = {one.outlet for one in footing.showings}
    versions = {one.version for one in footing.showings}
    return max(1, len(footing.cells) - len(outlets) - len(versions) + 1)


def _foremost(told: Sequence[Ratio]) -> str:
    """The version that no ratio puts second."""
    second = {one.second for one in told}
    return next(one.first for one in told if one.first not in second)


def _ratio(told: Ratio, footing: Footing) -> str:
    return (
        f"per {footing.per} it drew {times(told.value)} times the {footing.measure} of"
        f" '{told.second}' ({times(told.low)} to {times(told.high)})"
    )


def _close(told: Ratio, footing: Footing) -> str:
    return (
        f"Too close to call: per {footing.per} '{told.first}' drew {times(told.value)} times the"
        f" {footing.measure} of '{told.second}' ({times(told.low)} to {times(told.high)})."
    )


def _scatter(found: Ratios) -> str:
    if found.scatter is None or found.scatter <= 1:
        return ""
    return f"; the runs scatter {found.scatter:.1f} times as much as chance, which is allowed for"


def _totals(showings: Iterable[Showing]) -> dict[str, int]:
    totals: dict[str, int] = {}
    for one in showings:
        totals[one.version] = totals.get(one.version, 0) + one.count
    return totals


def _by_outlet(showings: Sequence[Showing]) -> dict[str, Mapping[str, float]]:
    """Rates at each outlet where more than one version ran."""
    told: dict[str, Mapping[str, float]] = {}
    for outlet in sorted({one.outlet for one in showings}):
        here = rates.crude_rates([one for one in showings if one.outlet == outlet])
        if len(here) > 1:
            told[outlet] = here
    return told


def _figures(footing: Footing) -> tuple[Figure, ...]:
    """Rates with exact Poisson intervals, thrown together and then by outlet."""
    pooled = _rows(footing, "")
    outlets = sorted({one.outlet for one in footing.showings})
    if len(outlets) == 1:
        return pooled
    apart = (_rows(footing, outlet) for outlet in outlets)
    return (*pooled, *(row for rows in apart for row in rows))


def _rows(footing: Footing, outlet: str) -> tuple[Figure, ...]:
    """The rates at one outlet, or at all when ``outlet`` is empty."""
    mine = [one for one in footing.showings if outlet in {"", one.outlet}]
    rows = []
    for version, count in sorted(_totals(mine).items()):
        exposure = sum(one.exposure for one in mine if one.version == version)
        low, high = rates.count_interval(count)
        rows.append(
            Figure(
                version=version,
                outlet=outlet,
                count=count,
                of=exposure,
                value=count / exposure,
                low=low / exposure,
                high=high / exposure,
                unit=f"{footing.measure} per {footing.per}",
            )
        )
    return tuple(rows)


def _comparison(one: Ratio) -> Comparison:
    return Comparison(
        first=one.first,
        second=one.second,
        value=one.value,
        low=one.low,
        high=one.high,
        chance=one.chance,
        unit="times the rate",
    )


def _may(call: Call, told: Sequence[Ratio], footing: Footing) -> tuple[str, ...]:
    if call is Call.AHEAD and told:
        said = (
            f"While they ran, '{told[0].first}' drew more {footing.measure} per {footing.per} than"
            f" '{told[0].second}'."
        )
        return (said,)
    if call is Call.OUTLETS_DIFFER:
        return ("The outlets drew differently; each may be looked at by itself.",)
    return ("Nothing yet about which of them draws more.",)


def _simpson(footing: Footing) -> tuple[str, ...]:
    """Whether throwing outlets together would turn what every outlet says."""
    by_outlet = _by_outlet(footing.showings)
    led = set(leaders(by_outlet).values())
    if len(by_outlet) < 2:  # noqa: PLR2004 - nothing to throw together
        return ()
    crude = leaders({"all": rates.crude_rates(footing.showings)}).get("all")
    if len(led) == 1 and crude is not None and crude not in led:
        said = (
            f"Thrown together '{crude}' draws more, yet at every outlet {named(led)} does: the"
            " outlets' sizes mislead (Simpson's paradox). The comparison is made within outlets."
        )
        return (said,)
    if len(led) > 1:
        ahead = "; ".join(f"'{one}' at '{outlet}'" for outlet, one in leaders(by_outlet).items())
        return (f"The outlets lead different ways: {ahead}.",)
    return ()
