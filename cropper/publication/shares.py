"""Shares of the answers to one poll, with their intervals, and whether a split is more than chance.

Everything assumes that the answers are independent of each other: one person, one answer, nobody
copying the crowd. What an audience that chose itself says holds for that audience alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import comb
from typing import Final

CONFIDENCE: Final = 0.95
"""How often such intervals hold what they are for; the usual convention, no more."""

EXACT_OUTCOMES: Final = 200_000
"""House value: up to so many possible outcomes, a poll of several is tested by listing them all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """``votes`` of ``of`` answers, with the interval ``low`` .. ``high`` around the share."""

    votes: int
    of: int
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0 <= self.votes <= self.of or not 0 <= self.low <= self.high <= 1:
            message = f"{self.votes} of {self.of}, {self.low} .. {self.high}, is no share"
            raise ValueError(message)

    @property
    def value(self) -> float:
        """The share itself; one half when nobody has answered."""
        return self.votes / self.of if self.of else 0.5

    def holds(self, value: float) -> bool:
        """Whether the interval leaves ``value`` possible."""
        return self.low <= value <= self.high


def share(votes: int, of: int, *, confidence: float = CONFIDENCE) -> Share:
    """The share with its score interval [wilson1927]; everything is possible of no answers.

    >>> told = share(60, 100)
    >>> round(told.low, 4), round(told.high, 4)
    (0.502, 0.6906)
    """
    if of == 0:
        return Share(votes=votes, of=0, low=0.0, high=1.0)
    from scipy.stats import binomtest  # noqa: PLC0415 - half a second that only verdicts pay

    told = binomtest(votes, of).proportion_ci(confidence, method="wilson")
    # Rounding may push an end past the share at 0 and 1.
    low, high = max(0.0, min(told.low, votes / of)), min(1.0, max(told.high, votes / of))
    return Share(votes=votes, of=of, low=float(low), high=float(high))


def shares(votes: Mapping[str, int], *, confidence: float = CONFIDENCE) -> dict[str, Share]:
    """The share of each version; the intervals of three or more hold all together.

    Of k > 2 each gets 1 - (1 - confidence) / k, which is Goodman's rule [goodman1965].
    """
    of, k = sum(votes.values()), len(votes)
    each = confidence if k <= 2 else 1 - (1 - confidence) / k  # noqa: PLR2004 - two mirror each other
    return {name: share(count, of, confidence=each) for name, count in votes.items()}


def chance_of_split(votes: int, of: int, *, expected: float = 0.5) -> float:
    """Exact two-sided p: how often chance alone splits ``of`` answers as unlikely as this.

    >>> round(chance_of_split(60, 100), 4)
    0.0569
    """
    if of == 0:
        return 1.0
    from scipy.stats import binomtest  # noqa: PLC0415 - as above

    return float(binomtest(votes, of, expected).pvalue)


def chance_of_unevenness(votes: Sequence[int]) -> float:
    """The chance that answers which choose blindly between all versions come out so unevenly (p).

    Exact (all outcomes no likelier than this one) while they can be listed, Pearson's chi-squared
    beyond [agresti2019].
    """
    of, k = sum(votes), len(votes)
    if of == 0:
        return 1.0
    if k == 2:  # noqa: PLR2004 - two versions are a split
        return chance_of_split(votes[0], of)
    if comb(of + k - 1, k - 1) <= EXACT_OUTCOMES:
        return _chance_by_listing(votes)
    from scipy.stats import chisquare  # noqa: PLC0415 - as above

    return float(chisquare(votes).pvalue)


def _chance_by_listing(votes: Sequence[int]) -> float:
    """The added chances of all outcomes that are no likelier than ``votes``."""
    import numpy as np  # noqa: PLC0415 - only here
    from scipy.stats import multinomial  # noqa: PLC0415 - as above

    blind = multinomial(sum(votes), [1 / len(votes)] * len(votes))
    chances = blind.pmf(np.array(_outcomes(sum(votes), len(votes))))
    # A hair of slack: equal chances differ in their last digits.
    return float(min(1.0, chances[chances <= blind.pmf(votes) * (1 + 1e-7)].sum()))


def _outcomes(of: int, k: int) -> list[tuple[int, ...]]:
    """Every way to split ``of`` answers over ``k`` versions."""
    if k == 1:
        return [(of,)]
    return [(first, *rest) for first in range(of + 1) for rest in _outcomes(of - first, k - 1)]


def held_together(chances: Mapping[tuple[str, str], float]) -> dict[tuple[str, str], float]:
    """The p of many comparisons, each raised so that all hold together [holm1979]."""
    raised: dict[tuple[str, str], float] = {}
    least = 0.0
    for rank, (pair, p) in enumerate(sorted(chances.items(), key=lambda item: item[1])):
        least = min(1.0, max(least, p * (len(chances) - rank)))
        raised[pair] = least
    return {pair: raised[pair] for pair in chances}
