"""Looking again and again: what it does to the chance of a false alarm.

Whoever tests at 5 % each time they look, and stops at the first success, is fooled far more often
than 1 time in 20 [armitage1969]. With the number of answers at each look known, the true chance
follows from the normal approximation, by integrating over the sum from each look to the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from typing import Final

ALARM: Final = 1.959964
"""|z| that passes a two-sided test at 5 %."""
NODES: Final = 160
"""Points of the quadrature at each look: five figures hold down to looks ``CLOSEST`` apart."""
CLOSEST: Final = 1.02
"""House value: looks with less than 2 % more answers between them are one look."""


def chance_of_alarm(answers: Sequence[int], *, height: float = ALARM) -> float:
    """How often chance alone lifts |z| to ``height`` at one of the looks.

    ``answers`` are the totals at the looks. None, or no answers yet, give 0.

    >>> round(chance_of_alarm([100, 200, 300, 400, 500]), 3)
    0.142
    """
    totals = apart(answers)
    return 1.0 - _chance_of_quiet(totals, height) if totals else 0.0


def apart(answers: Sequence[int]) -> list[int]:
    """The totals in order, without those that hardly differ from the one before.

    >>> apart([0, 300, 100, 101, 200])
    [101, 200, 300]
    """
    kept: list[int] = []
    for one in sorted(answers, reverse=True):  # the last look is the one that counts
        if one > 0 and (not kept or one * CLOSEST <= kept[-1]):
            kept.append(one)
    return kept[::-1]


def _chance_of_quiet(totals: Sequence[int], height: float) -> float:
    """How often the sum stays below its bound at every look, by integrating from look to look."""
    from scipy.special import roots_legendre  # noqa: PLC0415 - as above
    from scipy.stats import norm  # noqa: PLC0415 - as above

    nodes, weights = roots_legendre(NODES)
    bound = height * sqrt(totals[0])
    sums = bound * nodes
    density = norm.pdf(sums, scale=sqrt(totals[0]))
    for before, now in pairwise(totals):
        reached = height * sqrt(now) * nodes
        steps = norm.pdf(reached[:, None] - sums[None, :], scale=sqrt(now - before))
        density = steps @ (density * weights * bound)
        sums, bound = reached, height * sqrt(now)
    return float(min(1.0, (density * weights * bound).sum()))


def two_sided(height: float) -> float:
    """How often |z| reaches ``height`` at a single look."""
    from scipy.stats import norm  # noqa: PLC0415 - as above

    return float(2 * norm.sf(height))


def height_of(p: float) -> float:
    """The |z| whose two-sided chance is ``p``."""
    from scipy.stats import norm  # noqa: PLC0415 - as above

    return float(norm.isf(min(max(p, 1e-300), 1.0) / 2))
