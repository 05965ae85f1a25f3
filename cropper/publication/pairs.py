"""Preferences between pairs: one strength for each version, from who was preferred to whom.

The model of Bradley and Terry [bradley1952]: version i is preferred to j with the odds
strength i : strength j. It needs no version to have met every other, but it needs every version to
be reachable from every other through preferences [ford1957]: one that was never preferred, or
always, has no finite strength. Answers "both alike" have no place in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import exp
from typing import TYPE_CHECKING

from cropper.publication.looks import two_sided
from cropper.publication.shares import CONFIDENCE, held_together

if TYPE_CHECKING:
    from cropper.publication.fitting import Fit

Wins = Mapping[tuple[str, str], int]
"""(preferred, over) to how often."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preference:
    """How often ``first`` would be preferred to ``second``, interval, and p against one half.

    ``chance`` is raised for the number of pairs compared, so that all comparisons hold together.
    """

    first: str
    second: str
    value: float
    low: float
    high: float
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """The log strength of a version against the average of all, with its interval."""

    version: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """Versions by strength, strongest first; every pair compared, the stronger named first.

    ``chance_of_circles``: p that preferences which follow one strength each come out as tangled
    as these; 1 when there is nothing to be tangled.
    """

    strengths: tuple[Strength, ...]
    preferences: tuple[Preference, ...]
    chance_of_circles: float


def unranked(versions: Sequence[str], wins: Wins) -> str:
    """Why these preferences give no strengths, in a sentence; empty when they do."""
    from scipy.sparse import csr_array  # noqa: PLC0415 - only verdicts pay for it
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415 - as above

    table = [[wins.get((one, other), 0) for other in versions] for one in versions]
    parts, label = connected_components(csr_array(table), directed=True, connection="strong")
    if parts == 1:
        return ""
    groups = [
        [one for one, at in zip(versions, label, strict=True) if at == part]
        for part in range(parts)
    ]
    for group in groups:
        rest = [one for one in versions if one not in group]
        won = any(wins.get((one, other), 0) for one in group for other in rest)
        lost = any(wins.get((other, one), 0) for one in group for other in rest)
        if not won or not lost:
            return _apart(group, won=won, lost=lost)
    return "The preferences do not connect all versions."


def _apart(group: Sequence[str], *, won: bool, lost: bool) -> str:
    """Why a group of versions, nobody else's equal in any pair, cannot be placed."""
    names = " and ".join(f"'{one}'" for one in group)
    were = "was" if len(group) == 1 else "were"
    if not won and not lost:
        return f"{names} never met the others, so nothing tells how they compare."
    how = "never" if lost else "always"
    return f"{names} {were} {how} preferred to any other so far; no finite strength describes that."


def ranking(versions: Sequence[str], wins: Wins, *, confidence: float = CONFIDENCE) -> Ranking:
    """Fit one strength each; raises ``ValueError`` where :func:`unranked` gives a reason."""
    why = unranked(versions, wins)
    if why:
        raise ValueError(why)
    from scipy.stats import norm  # noqa: PLC0415 - as above

    from cropper.publication.fitting import fitted_preferences  # noqa: PLC0415 - as above

    met = [
        pair for pair in combinations(range(len(versions)), 2) if _meetings(versions, pair, wins)
    ]
    rows = [[(at == i) - (at == j) for at in range(len(versions) - 1)] for i, j in met]
    won = [wins.get((versions[i], versions[j]), 0) for i, j in met]
    of = [_meetings(versions, pair, wins) for pair in met]
    fit = fitted_preferences(won, of, rows)
    reach = float(norm.isf((1 - confidence) / 2))
    strengths = _strengths(versions, fit, reach)
    return Ranking(
        strengths=strengths,
        preferences=_preferences(versions, strengths, fit, reach),
        chance_of_circles=_circles(won, of, fit, len(met) - (len(versions) - 1)),
    )


def _meetings(versions: Sequence[str], pair: tuple[int, int], wins: Wins) -> int:
    one, other = versions[pair[0]], versions[pair[1]]
    return wins.get((one, other), 0) + wins.get((other, one), 0)


def _strengths(versions: Sequence[str], fit: Fit, reach: float) -> tuple[Strength, ...]:
    """Against the mean of all strengths, which no version's place in the list can change."""
    k = len(versions)
    told = []
    for at, version in enumerate(versions):
        value, error = fit.contrast([(at == i) - 1 / k for i in range(k - 1)])
        told.append(
            Strength(
                version=version, value=value, low=value - reach * error, high=value + reach * error
            )
        )
    return tuple(sorted(told, key=lambda one: (-one.value, one.version)))


def _preferences(
    versions: Sequence[str], strengths: Sequence[Strength], fit: Fit, reach: float
) -> tuple[Preference, ...]:
    place = {version: at for at, version in enumerate(versions)}
    gaps: dict[tuple[str, str], tuple[float, float]] = {}
    for one, other in combinations([strength.version for strength in strengths], 2):
        i, j = place[one], place[other]
        gaps[one, other] = fit.contrast([(at == i) - (at == j) for at in range(len(versions) - 1)])
    chances = held_together({pair: two_sided(gap / error) for pair, (gap, error) in gaps.items()})
    return tuple(
        Preference(
            first=pair[0],
            second=pair[1],
            value=expit(gap),
            low=expit(gap - reach * error),
            high=expit(gap + reach * error),
            chance=chances[pair],
        )
        for pair, (gap, error) in gaps.items()
    )


def expit(gap: float) -> float:
    """The share that log odds of ``gap`` give."""
    return 1 / (1 + exp(-gap))


def _circles(won: Sequence[int], of: Sequence[int], fit: Fit, spare: int) -> float:
    """Pearson's chi-squared of the pairs against one strength each."""
    if spare < 1:
        return 1.0
    from scipy.stats import chi2  # noqa: PLC0415 - as above

    apart = sum(
        (w - e) ** 2 / e + (w - e) ** 2 / (n - e)
        for w, n, e in zip(won, of, fit.expected, strict=True)
    )
    return float(chi2.sf(apart, spare))
