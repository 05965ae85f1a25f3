"""Several outlets, one question: whether their answers may be thrown together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

THINNEST: Final = 5.0
"""Fewer answers expected in a cell: drawn tables replace chi-squared's curve [cochran1954]."""
DRAWS: Final = 9_999
SEED: Final = 1954
"""The same tables are drawn each time, so that the same counts give the same answer."""


def chance_outlets_agree(votes: Mapping[str, Sequence[int]]) -> float:
    """The chance that outlets with one taste differ as much as these (p); 1 for fewer than two.

    ``votes``: outlet to its votes for each version, in one order. Pearson's test of homogeneity.
    """
    outlets = [row for row in votes.values() if sum(row)]
    table = [list(column) for column in zip(*outlets, strict=True) if sum(column)]
    if len(outlets) < 2 or len(table) < 2:  # noqa: PLR2004 - nothing to compare
        return 1.0
    import numpy as np  # noqa: PLC0415 - only verdicts pay for it
    from scipy.stats import MonteCarloMethod, chi2_contingency  # noqa: PLC0415 - as above
    from scipy.stats.contingency import expected_freq  # noqa: PLC0415 - as above

    thin = expected_freq(np.asarray(table)).min() < THINNEST
    drawn = MonteCarloMethod(n_resamples=DRAWS, rng=np.random.default_rng(SEED)) if thin else None
    return float(chi2_contingency(table, correction=False, method=drawn).pvalue)


def leaders(votes: Mapping[str, Mapping[str, float]]) -> dict[str, str]:
    """The version ahead at each outlet; an outlet whose best are level has none."""
    told: dict[str, str] = {}
    for outlet, by_version in votes.items():
        best = max(by_version.values(), default=0)
        first = [version for version, value in by_version.items() if value == best]
        if len(first) == 1 and best > 0:
            told[outlet] = first[0]
    return told
