"""Shares, chances and names in the words that a verdict is told in."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from cropper.publication.shares import Share

ONCE_IN: Final = 0.1
"""House value: chances below are told as "1 time in ...", above as so many in 100."""
RAREST: Final = 1e-6
"""House value: rarer is only called rarer."""


def percent(value: float) -> str:
    """A share in whole per cent; one decimal near the ends, where it matters.

    >>> percent(0.572), percent(0.004)
    ('57 %', '0.4 %')
    """
    near_an_end = 0 < value < 0.01 or 0.99 < value < 1  # noqa: PLR2004 - a per cent from the ends
    return f"{100 * value:.1f} %" if near_an_end else f"{100 * value:.0f} %"


def span(low: float, high: float) -> str:
    """An interval of shares.

    >>> span(0.502, 0.6906)
    '50 to 69 %'
    """
    return f"{percent(low).removesuffix(' %')} to {percent(high)}"


def of_answers(told: Share) -> str:
    """A share as it is said.

    >>> from cropper.publication.shares import share
    >>> of_answers(share(60, 100))
    '60 of 100 answers (50 to 69 %)'
    """
    word = "answer" if told.of == 1 else "answers"
    return f"{told.votes:,} of {told.of:,} {word} ({span(told.low, told.high)})"


def chance(p: float) -> str:
    """How often something happens.

    >>> chance(0.0035), chance(0.569), chance(1e-9)
    ('1 time in 290', '57 times in 100', 'less than once in a million times')
    """
    if p >= ONCE_IN:
        return f"{100 * p:.0f} times in 100"
    if p < RAREST:
        return "less than once in a million times"
    often = round(1 / p, 2 - len(str(int(1 / p))))
    return f"1 time in {often:,.0f}"


def times(ratio: float) -> str:
    """A ratio of rates.

    >>> times(1.5197), times(float("inf")), times(0.08)
    ('1.52', 'any number of', '0.080')
    """
    if ratio == float("inf"):
        return "any number of"
    return f"{ratio:.3f}" if ratio < 0.1 else f"{ratio:.2f}"  # noqa: PLR2004 - two figures that tell


def named(names: Iterable[str]) -> str:
    """Names in quotes, the last joined by "and"."""
    quoted = [f"'{name}'" for name in names]
    if len(quoted) < 2:  # noqa: PLR2004 - nothing to join
        return "".join(quoted)
    return f"{', '.join(quoted[:-1])} and {quoted[-1]}"
