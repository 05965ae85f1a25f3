"""Versions that ran by themselves: counts per person reached, or per day, and their ratios.

A log-linear model with an effect for each outlet and each version [agresti2019]. Counts of this
kind scatter more than chance alone would have it: where a version ran more than once at an outlet,
or at several, that scatter is measured and the intervals widen with it (quasi-likelihood
[mccullagh1989]); with one run each it cannot be known, and the intervals are the narrowest
possible. Neither sees what else changed between the runs: season, hour, news, a rival's picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import exp, inf, log
from typing import TYPE_CHECKING, Any, Final

from cropper.publication.looks import two_sided
from cropper.publication.pairs import unranked
from cropper.publication.shares import CONFIDENCE, held_together

if TYPE_CHECKING:
    from cropper.publication.fitting import Fit


@dataclass(frozen=True, slots=True, kw_only=True)
class Showing:
    """One run of a version at an outlet: ``count`` of something, out of an ``exposure`` above 0.

    The exposure is people reached or days shown; all showings compared speak the same of the two.
    """

    outlet: str
    version: str
    count: int
    exposure: float

    def __post_init__(self) -> None:
        if self.count < 0 or not self.exposure > 0:
            message = f"{self.count} out of {self.exposure} is no rate"
            raise ValueError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """How many times as many counts ``first`` drew as ``second``, from an equal exposure.

    ``chance`` is p against a ratio of 1, raised for the number of pairs compared; ``alone`` the
    same if runs scattered no more than chance gives.
    """

    first: str
    second: str
    value: float
    low: float
    high: float
    chance: float
    alone: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratios:
    """Every pair of versions, the higher rate first, and how far the runs scatter.

    ``scatter``: variance in times of what chance gives, never below 1; None when each version ran
    but once and nobody can know. ``spare`` is the number of runs beyond those that the model uses
    up. ``chance_outlets_agree``: p that outlets which all prefer alike differ this much, chance
    being the only scatter; 1 for a single outlet.
    """

    ratios: tuple[Ratio, ...]
    scatter: float | None
    spare: int
    chance_outlets_agree: float


MOST_EXPONENT: Final = 709.0
"""exp of it is near the largest double [IEEE 754]."""
FEWEST: Final = 5
"""House value: a version with fewer counts altogether is compared by the exact test alone."""


def ratios(showings: Sequence[Showing], *, confidence: float = CONFIDENCE) -> Ratios:
    """Rate ratios within outlets, all outlets together.

    Raises ``ValueError`` where :func:`without_end` holds, or where versions are not linked through
    outlets they share.
    """
    from cropper.publication.fitting import fitted_counts  # noqa: PLC0415 - only verdicts pay

    versions = sorted({one.version for one in showings})
    outlets = sorted({one.outlet for one in showings})
    if without_end(showings):
        message = "some ratio of these versions has no end"
        raise ValueError(message)
    design = [_row(one, outlets, versions) for one in showings]
    _refuse_unlinked(design)
    fit = fitted_counts([one.count for one in showings], [one.exposure for one in showings], design)
    spare = len(showings) - len(design[0])
    apart = sum(
        (one.count - mean) ** 2 / mean for one, mean in zip(showings, fit.expected, strict=True)
    )
    scatter = max(1.0, float(apart) / spare) if spare else None
    return Ratios(
        ratios=_all_pairs(versions, len(outlets), fit, _Width(scatter, spare, confidence)),
        scatter=scatter,
        spare=spare,
        chance_outlets_agree=_agreement(showings, outlets, versions),
    )


def without_end(showings: Sequence[Showing]) -> bool:
    """Whether some version drew nothing wherever certain others ran: then no ratio is finite.

    Within an outlet, counts choose between versions as preferences choose between a pair, so the
    condition is the one of :func:`cropper.publication.pairs.unranked` [ford1957].
    """
    drew: dict[tuple[str, str], int] = {}
    for one in showings:
        for other in showings:
            if one.outlet == other.outlet and one.version != other.version:
                pair = (one.version, other.version)
                drew[pair] = drew.get(pair, 0) + one.count
    return bool(unranked(sorted({one.version for one in showings}), drew))


def exact_ratio(first: Showing, second: Showing, *, confidence: float = CONFIDENCE) -> Ratio:
    """Two runs at one outlet, by the exact conditional test; chance is the only scatter.

    Given all counts, the first's share is binomial [przyborowski1940]; the interval is that of
    Clopper and Pearson. A version without counts gives a ratio of 0, or one without end.
    """
    from scipy.stats import binomtest  # noqa: PLC0415 - only verdicts pay for it

    of = first.count + second.count
    even = first.exposure / (first.exposure + second.exposure)
    if of == 0:
        return Ratio(
            first=first.version,
            second=second.version,
            value=1.0,
            low=0.0,
            high=float("inf"),
            chance=1.0,
            alone=1.0,
        )
    told = binomtest(first.count, of, even)
    held = told.proportion_ci(confidence, method="exact")
    ends = [_as_ratio(share, even) for share in (first.count / of, held.low, held.high)]
    return Ratio(
        first=first.version,
        second=second.version,
        value=ends[0],
        low=ends[1],
        high=ends[2],
        chance=float(told.pvalue),
        alone=float(told.pvalue),
    )


def undone_by(ratio: Ratio, *, confidence: float = CONFIDENCE) -> float:
    """How far runs would have to scatter, in times of chance, for this ratio to mean nothing.

    Below 1: it means nothing already. Read off the interval's width on the log scale.
    """
    from scipy.stats import norm  # noqa: PLC0415 - as above

    if ratio.value in {0.0, float("inf")} or ratio.low == 0 or ratio.high == float("inf"):
        return 1.0
    reach = float(norm.isf((1 - confidence) / 2))
    error = (log(ratio.high) - log(ratio.low)) / (2 * reach)
    return (log(ratio.value) / (reach * error)) ** 2


def count_interval(count: int, *, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """The exact interval of a Poisson count, chance being the only scatter [garwood1936].

    >>> [round(end, 3) for end in count_interval(10)]
    [4.795, 18.39]
    """
    from scipy.stats import chi2  # noqa: PLC0415 - only verdicts pay for it

    tail = (1 - confidence) / 2
    low = float(chi2.ppf(tail, 2 * count)) / 2 if count else 0.0
    return low, float(chi2.isf(tail, 2 * count + 2)) / 2


def crude_rates(showings: Sequence[Showing]) -> dict[str, float]:
    """Counts by exposure, outlets thrown together: what misleads when outlets differ."""
    return {
        name: sum(one.count for one in showings if one.version == name)
        / sum(one.exposure for one in showings if one.version == name)
        for name in sorted({one.version for one in showings})
    }


def _as_ratio(share: float, even: float) -> float:
    return float("inf") if share >= 1 else share / (1 - share) * (1 - even) / even


def _row(one: Showing, outlets: Sequence[str], versions: Sequence[str]) -> list[float]:
    """A level for each outlet; the first version is what the others are measured against."""
    at_outlet = [float(one.outlet == name) for name in outlets]
    return at_outlet + [float(one.version == name) for name in versions[1:]]


def _refuse_unlinked(design: Sequence[Sequence[float]]) -> None:
    import numpy as np  # noqa: PLC0415 - only verdicts pay for it

    if np.linalg.matrix_rank(np.asarray(design)) < len(design[0]):
        message = "versions that share no outlet, directly or through others, have no ratio"
        raise ValueError(message)


@dataclass(frozen=True, slots=True)
class _Width:
    """What decides how wide intervals are: scatter, the runs it was measured on, confidence."""

    scatter: float | None
    spare: int
    confidence: float

    @property
    def stretch(self) -> float:
        """Standard errors grow with the root of the scatter."""
        return float((self.scatter or 1.0) ** 0.5)

    def bell(self) -> Any:
        """Student's distribution where the scatter is itself an estimate, else the normal."""
        from scipy.stats import norm, t  # noqa: PLC0415 - only verdicts pay for it

        return t(self.spare) if self.spare else norm()


def _all_pairs(versions: Sequence[str], skip: int, fit: Fit, width: _Width) -> tuple[Ratio, ...]:
    bell = width.bell()
    reach = float(bell.isf((1 - width.confidence) / 2))
    told: dict[tuple[str, str], tuple[float, float, float]] = {}
    for one, other in combinations(versions, 2):
        weights = [0.0] * skip + [float(v == one) - float(v == other) for v in versions[1:]]
        gap, error = fit.contrast(weights)
        error *= width.stretch
        pair = (one, other) if gap >= 0 else (other, one)
        told[pair] = (abs(gap), error, float(2 * bell.sf(abs(gap) / error)))
    chances = held_together({pair: p for pair, (_, _, p) in told.items()})
    alone = held_together(
        {pair: two_sided(gap / error * width.stretch) for pair, (gap, error, _) in told.items()}
    )
    return tuple(
        Ratio(
            first=pair[0],
            second=pair[1],
            value=_exp(gap),
            low=_exp(gap - reach * error),
            high=_exp(gap + reach * error),
            chance=chances[pair],
            alone=alone[pair],
        )
        for pair, (gap, error, _) in told.items()
    )


def _exp(value: float) -> float:
    """The exponential; without end where a double's range ends."""
    return exp(value) if value < MOST_EXPONENT else inf


def _agreement(
    showings: Sequence[Showing], outlets: Sequence[str], versions: Sequence[str]
) -> float:
    """How likely outlets are to differ so much by chance: deviance of one preference for all.

    Where runs were repeated, the scatter within outlets is allowed for (F test).
    """
    from cropper.publication.fitting import fitted_counts  # noqa: PLC0415 - as above

    cells = _cells(showings)
    rows = [_row(one, outlets, versions) for one in cells]
    spare = len(cells) - len(rows[0])
    if len(outlets) == 1 or spare < 1:
        return 1.0
    from scipy.stats import chi2, f  # noqa: PLC0415 - as above

    fit = fitted_counts([one.count for one in cells], [one.exposure for one in cells], rows)
    apart = 2 * sum(
        (one.count * log(one.count / mean) if one.count else 0.0) - (one.count - mean)
        for one, mean in zip(cells, fit.expected, strict=True)
    )
    apart, repeats = max(0.0, apart), len(showings) - len(cells)
    if not repeats:
        return float(chi2.sf(apart, spare))
    return float(f.sf(apart / spare / _scatter_within(showings, cells), spare, repeats))


def _scatter_within(showings: Sequence[Showing], cells: Sequence[Showing]) -> float:
    """Scatter of repeated runs around the rate of their version at their outlet; at least 1."""
    rate = {(one.outlet, one.version): one.count / one.exposure for one in cells}
    means = [one.exposure * rate[one.outlet, one.version] for one in showings]
    apart = sum(
        (one.count - mean) ** 2 / mean for one, mean in zip(showings, means, strict=True) if mean
    )
    return max(1.0, apart / (len(showings) - len(cells)))


def _cells(showings: Sequence[Showing]) -> tuple[Showing, ...]:
    """Runs of one version at one outlet, added up."""
    added: dict[tuple[str, str], Showing] = {}
    for one in showings:
        have = added.get((one.outlet, one.version))
        added[one.outlet, one.version] = Showing(
            outlet=one.outlet,
            version=one.version,
            count=one.count + (have.count if have else 0),
            exposure=one.exposure + (have.exposure if have else 0),
        )
    return tuple(added.values())
