"""How many answers a poll between two versions needs before it can tell what it is asked to tell.

Exact: the two-sided binomial test at 5 % is discrete, so its power saws up and down with the number
of answers. The number given is the one from which on the power never falls short again.
"""

from __future__ import annotations

from functools import cache
from math import ceil, sqrt
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEVEL: Final = 0.05
"""How often chance alone may pass for a difference; the usual convention."""
POWER: Final = 0.80
"""How often a true difference should be seen; the usual convention."""
WORTH_TELLING: Final = 0.55
"""House value: a split of 55 to 45 is the least that would change which version runs."""
SLACK: Final = 1.35
"""Exact numbers lie below so many times the normal formula's, plus ``ROOM`` (tested)."""
ROOM: Final = 60


@cache
def answers_needed(true_share: float = WORTH_TELLING, power: float = POWER) -> int:
    """The number of answers from which on ``true_share`` is told from one half with that power.

    >>> answers_needed(0.55)
    820
    """
    import numpy as np  # noqa: PLC0415 - only verdicts pay for it

    if not 0 < true_share < 1 or abs(true_share - 0.5) < 0.005 or not 0 < power < 1:  # noqa: PLR2004 - beyond, a poll has no hope
        message = f"no poll tells a share of {true_share} from one half with power {power}"
        raise ValueError(message)
    numbers = np.arange(1, int(SLACK * normal_answers(true_share, power)) + ROOM)
    short = np.flatnonzero(power_of(numbers, true_share) < power)
    return int(numbers[short[-1]]) + 1


def power_of(answers: NDArray[np.int64], true_share: float) -> NDArray[np.float64]:
    """How often so many answers show ``true_share`` to differ from one half, each by itself."""
    from scipy.stats import binom  # noqa: PLC0415 - as above

    fewest = fewest_votes(answers)
    seen = binom.sf(fewest - 1, answers, true_share) + binom.cdf(
        answers - fewest, answers, true_share
    )
    told: NDArray[np.float64] = seen
    return told


def fewest_votes(answers: Any) -> Any:
    """The least number of votes that passes the exact two-sided test; past all when none does.

    >>> int(fewest_votes(100))
    61
    """
    from scipy.stats import binom  # noqa: PLC0415 - as above

    # P(X >= k) = P(X <= n - k) <= 2.5 %, so n - k is the last count whose lower tail is that thin.
    last = binom.ppf(LEVEL / 2, answers, 0.5)
    last = last - (binom.cdf(last, answers, 0.5) > LEVEL / 2)
    return answers - last


def normal_answers(true_share: float, power: float = POWER) -> int:
    """The textbook's normal formula, rounded up: quicker, and short of the exact number."""
    from scipy.stats import norm  # noqa: PLC0415 - as above

    spread = norm.isf(LEVEL / 2) * 0.5 + norm.ppf(power) * sqrt(true_share * (1 - true_share))
    return ceil(float((spread / (true_share - 0.5)) ** 2))


def answers_for_margin(margin: float) -> int:
    """Answers that make an interval at 95 % reach ``margin`` to either side of one half.

    >>> answers_for_margin(0.05)
    385
    """
    from scipy.stats import norm  # noqa: PLC0415 - as above

    return ceil(float(norm.isf(LEVEL / 2) / (2 * margin)) ** 2)
