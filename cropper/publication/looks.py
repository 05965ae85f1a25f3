"""Looking again and again: what it does to the chance of a false alarm.

Whoever tests at 5 % each time they look, and stops at the first success, is fooled far more often
than 1 time in 20 [armitage1969]. With the number of answers at each look known, the true chance
follows from the normal approximation, by integrating over the sum from each look to the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import exp, inf, log, sqrt
from typing import Any, Final

ALARM: Final = 1.959964
"""|z| that passes a two-sided test at 5 %."""
NODES: Final = 160
"""Points of the quadrature at each look: five figures hold down to looks ``CLOSEST`` apart."""
MIXTURE: Final = 100
"""House value: the always-valid bound costs least at a few times so many answers."""
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


def boundary(answers: Sequence[int], planned: int, level: float) -> float:
    """The height of |z| at the last of ``answers`` that spends ``level`` evenly over the looks.

    Each of the ``planned`` looks may raise a false alarm in an equal part of ``level``, whatever
    the numbers of answers turn out to be [slud1982]: so whoever stops at the first success is
    fooled no more often than ``level`` altogether. More looks than planned have nothing left to
    spend: no height is enough.

    >>> round(boundary([100, 200, 300], 3, 0.05), 2)
    2.2
    """
    from scipy.special import roots_legendre  # noqa: PLC0415 - as above
    from scipy.stats import norm  # noqa: PLC0415 - as above

    totals = apart(answers)
    if len(totals) > planned:
        return inf
    part = level / planned
    height = float(norm.isf(part / 2))
    nodes, weights = roots_legendre(NODES)
    bound = height * sqrt(totals[0])
    sums, mass = bound * nodes, norm.pdf(bound * nodes, scale=sqrt(totals[0])) * weights * bound
    for before, now in pairwise(totals):
        step = sqrt(now - before)
        height = _height_that_spends(part, sums, mass, step, sqrt(now))
        bound = height * sqrt(now)
        reached = bound * nodes
        density = norm.pdf(reached[:, None] - sums[None, :], scale=step) @ mass
        sums, mass = reached, density * weights * bound
    return height


def _height_that_spends(part: float, sums: Any, mass: Any, step: float, root: float) -> float:
    """The |z| that so much of what is still quiet passes at the next look."""
    from scipy.optimize import brentq  # noqa: PLC0415 - as above
    from scipy.stats import norm  # noqa: PLC0415 - as above

    def spent(height: float) -> float:
        bound = height * root
        beyond = norm.sf((bound - sums) / step) + norm.cdf((-bound - sums) / step)
        return float(beyond @ mass) - part

    return float(brentq(spent, 0.0, 12.0))


def always_valid(p: float, answers: int, *, freedom: int = 1) -> float:
    """``p`` as it may be used at every look, for ever: the mixture bound [robbins1970].

    ``p`` is of a two-sided test, or of one with ``freedom`` degrees of freedom, after ``answers``.
    Whoever looks when they like and stops at the first value below 5 % is fooled no more often
    than that.

    >>> round(always_valid(0.05, 400), 2), round(always_valid(0.001, 400), 3)
    (0.48, 0.029)
    """
    from scipy.stats import chi2  # noqa: PLC0415 - as above

    if answers <= 0:
        return 1.0
    apart_by = float(chi2.isf(min(max(p, 1e-300), 1.0), freedom))
    share = answers / (answers + MIXTURE)
    weighed = apart_by * share / 2 + log(1 - share) * freedom / 2
    return min(1.0, exp(-weighed))


def two_sided(height: float) -> float:
    """How often |z| reaches ``height`` at a single look."""
    from scipy.stats import norm  # noqa: PLC0415 - as above

    return float(2 * norm.sf(height))


def height_of(p: float) -> float:
    """The |z| whose two-sided chance is ``p``."""
    from scipy.stats import norm  # noqa: PLC0415 - as above

    return float(norm.isf(min(max(p, 1e-300), 1.0) / 2))
