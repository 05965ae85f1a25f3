"""What counts can tell, against published examples and a general statistics library (statsmodels).

"memory, reproduced": quoted from memory of the work named, and reproduced by computation.
"""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import chi2
from scipy.stats import f as f_law
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import (
    binom_test,
    multinomial_proportions_confint,
    proportion_confint,
)
from statsmodels.stats.rates import confint_poisson_2indep

from cropper.publication import looks, pairs, rates, samples, shares

NEWCOMBE = {
    (81, 263): (0.2553, 0.3662),
    (15, 148): (0.0624, 0.1605),
    (0, 20): (0.0, 0.1611),
    (1, 29): (0.0061, 0.1718),
}
"""Newcombe, Stat. Med. 17:857-872, 1998, the score method's examples (memory, reproduced)."""

OTHER_SCORES = {(23, 60): (0.2709, 0.5098), (60, 100): (0.502, 0.6906), (8, 10): (0.4902, 0.9433)}
"""23 of 60: a calculator's page; the others computed independently."""

EXACT = {
    (9, 10): 0.0215,
    (8, 10): 0.1094,
    (15, 20): 0.0414,
    (14, 20): 0.1153,
    (33, 50): 0.0328,
    (60, 100): 0.0569,
    (61, 100): 0.0352,
    (550, 1000): 0.00173,
}
"""Two-sided exact binomial p against one half, computed independently."""

FEWEST = {6: 6, 10: 9, 20: 15, 30: 21, 50: 33, 100: 61, 200: 115, 400: 221, 1000: 532}
"""The fewest votes that pass at 5 %, computed independently."""

NORMAL = {
    0.51: (19620, 26265),
    0.52: (4904, 6563),
    0.55: (783, 1047),
    0.60: (194, 259),
    0.65: (85, 113),
    0.70: (47, 62),
    0.75: (29, 38),
    0.80: (20, 25),
}
"""n = ((1.96 * .5 + z * sqrt(p(1-p))) / (p - .5))^2 at 80 % and 90 % power."""

ALWAYS = {0.55: (820, 1080), 0.60: (210, 274), 0.70: (54, 70), 0.80: (23, 30)}
"""The exact number of votes that always suffices, computed independently."""

ARMITAGE = {1: 0.050, 2: 0.083, 3: 0.107, 5: 0.142, 10: 0.193}
"""Armitage, McPherson & Rowe, JRSS A 132:235-244, 1969, testing at 5 % at each of k looks (memory,
reproduced by a simulation of 400,000 runs)."""

AGRESTI_WINS = (
    (0, 9, 14, 9, 4),
    (6, 0, 5, 5, 7),
    (3, 0, 0, 2, 2),
    (2, 1, 4, 0, 4),
    (3, 2, 2, 3, 0),
)
"""Agresti, An Introduction to Categorical Data Analysis, 3rd ed., 8.6, table 8.8: five players."""
AGRESTI_STRENGTHS = (1.1761, 1.1358, -0.5685, -0.0619, 0.0)
"""Log strengths against the last, from an independent fit of that table."""

PLAYERS = ("p1", "p2", "p3", "p4", "p5")
WINS = {(PLAYERS[i], PLAYERS[j]): AGRESTI_WINS[i][j] for i in range(5) for j in range(5) if i != j}


@pytest.mark.parametrize(("case", "ends"), (NEWCOMBE | OTHER_SCORES).items())
def test_the_interval_of_a_share_is_the_published_one(
    case: tuple[int, int], ends: tuple[float, float]
) -> None:
    told = shares.share(*case)
    assert (told.low, told.high) == pytest.approx(ends, abs=6e-5)


@pytest.mark.parametrize("of", [1, 7, 40, 333])
def test_the_interval_of_a_share_agrees_with_a_statistics_library(of: int) -> None:
    for votes in range(of + 1):
        told = shares.share(votes, of)
        other = proportion_confint(votes, of, alpha=0.05, method="wilson")
        assert (told.low, told.high) == pytest.approx(other, abs=1e-9)


@pytest.mark.parametrize(("case", "p"), EXACT.items())
def test_the_exact_test_of_a_split_gives_the_reference(case: tuple[int, int], p: float) -> None:
    assert shares.chance_of_split(*case) == pytest.approx(p, abs=6e-5)


def test_the_exact_test_gives_the_manuals_example() -> None:
    """682 of 925 against 3/4: p 0.3825, the example of R's binom.test (memory, reproduced)."""
    assert shares.chance_of_split(682, 925, expected=0.75) == pytest.approx(0.3825, abs=6e-5)
    assert shares.chance_of_split(682, 925, expected=0.75) == pytest.approx(
        binom_test(682, 925, 0.75), abs=1e-9
    )


@pytest.mark.parametrize("votes", [(10, 20, 30), (3, 0, 9), (400, 320, 351)])
def test_intervals_of_several_shares_together_are_goodmans(votes: tuple[int, ...]) -> None:
    told = shares.shares({str(at): count for at, count in enumerate(votes)})
    other = multinomial_proportions_confint(votes, alpha=0.05, method="goodman")
    for one, ends in zip(told.values(), other, strict=True):
        assert (one.low, one.high) == pytest.approx(tuple(ends), abs=1e-9)


def test_the_exact_test_of_three_adds_up_the_unlikelier_outcomes() -> None:
    """(3, 0, 0) and its like are the 3 unlikeliest of 27 equal sequences: 1/9."""
    assert shares.chance_of_unevenness((3, 0, 0)) == pytest.approx(3 / 27)
    assert shares.chance_of_unevenness((2, 1, 0)) == pytest.approx(21 / 27)
    assert shares.chance_of_unevenness((1, 1, 1)) == pytest.approx(1.0)


def test_many_comparisons_are_raised_as_a_statistics_library_raises_them() -> None:
    chances = {("a", "b"): 0.01, ("a", "c"): 0.04, ("b", "c"): 0.03}
    told = shares.held_together(chances)
    other = multipletests(list(chances.values()), method="holm")[1]
    assert list(map(told.__getitem__, chances)) == pytest.approx(list(other))


@pytest.mark.parametrize(("answers", "fewest"), FEWEST.items())
def test_the_fewest_votes_that_pass_are_the_reference(answers: int, fewest: int) -> None:
    assert samples.fewest_votes(answers) == fewest


@pytest.mark.parametrize(("true_share", "numbers"), NORMAL.items())
def test_the_normal_formula_gives_the_reference(
    true_share: float, numbers: tuple[int, int]
) -> None:
    told = (samples.normal_answers(true_share, 0.8), samples.normal_answers(true_share, 0.9))
    assert told == numbers


@pytest.mark.parametrize(("true_share", "numbers"), ALWAYS.items())
def test_the_number_of_answers_that_always_suffices_is_the_reference(
    true_share: float, numbers: tuple[int, int]
) -> None:
    told = (samples.answers_needed(true_share, 0.8), samples.answers_needed(true_share, 0.9))
    assert told == numbers


@pytest.mark.parametrize("true_share", [0.54, 0.58, 0.66, 0.9])
@pytest.mark.parametrize("power", [0.8, 0.95])
def test_beyond_the_number_that_suffices_no_number_falls_short(
    true_share: float, power: float
) -> None:
    needed = samples.answers_needed(true_share, power)
    reached = samples.power_of(np.arange(needed, 4 * needed + 200), true_share)
    assert reached.min() >= power
    assert samples.power_of(np.array([needed - 1]), true_share)[0] < power


@pytest.mark.parametrize(
    ("margin", "answers"), {0.1: 97, 0.05: 385, 0.03: 1068, 0.02: 2401}.items()
)
def test_answers_for_a_margin_follow_the_textbook(margin: float, answers: int) -> None:
    """z^2 / (4 e^2), rounded up."""
    assert samples.answers_for_margin(margin) == answers


@pytest.mark.parametrize(("count", "alarm"), ARMITAGE.items())
def test_looking_again_raises_the_false_alarms_as_published(count: int, alarm: float) -> None:
    told = looks.chance_of_alarm([200 * (one + 1) for one in range(count)])
    assert told == pytest.approx(alarm, abs=6e-4)


def test_uneven_looks_agree_with_a_simulation() -> None:
    totals = [40, 60, 200, 230, 900]
    drawn = np.random.default_rng(4).standard_normal((100_000, len(totals)))
    steps = np.sqrt(np.diff([0, *totals]))
    z = np.abs(np.cumsum(drawn * steps, axis=1)) / np.sqrt(totals)
    simulated = float((z.max(axis=1) > looks.ALARM).mean())
    assert looks.chance_of_alarm(totals) == pytest.approx(simulated, abs=0.004)


def test_strengths_from_pairs_are_those_of_the_textbooks_players() -> None:
    told = {one.version: one.value for one in pairs.ranking(PLAYERS, WINS).strengths}
    against_last = [told[name] - told["p5"] for name in PLAYERS]
    assert against_last == pytest.approx(AGRESTI_STRENGTHS, abs=6e-5)


def test_the_first_player_beats_the_second_51_times_in_100() -> None:
    """Agresti, 8.6: fitted 0.51, where the raw share is 9 of 15."""
    first = pairs.ranking(PLAYERS, WINS).preferences[0]
    assert (first.first, first.second) == ("p1", "p2")
    assert first.value == pytest.approx(0.5101, abs=6e-5)


def test_strengths_and_their_intervals_agree_with_a_statistics_library() -> None:
    rows, won = [], []
    for i, j in combinations(range(5), 2):
        rows.append([(at == i) - (at == j) for at in range(4)])
        won.append((AGRESTI_WINS[i][j], AGRESTI_WINS[j][i]))
    other = sm.GLM(np.array(won), np.array(rows), family=sm.families.Binomial()).fit()
    gap = {(one.first, one.second): one for one in pairs.ranking(PLAYERS, WINS).preferences}
    for at, name in enumerate(PLAYERS[:2]):
        low, high = 1 / (1 + np.exp(-other.conf_int()[at]))
        told = gap[name, "p5"]
        assert (told.low, told.high) == pytest.approx((low, high), abs=1e-6)


SHOWINGS = tuple(
    rates.Showing(outlet=outlet, version=version, count=count, exposure=exposure)
    for outlet, version, count, exposure in (
        ("feed", "hooded-shawl", 61, 1900),
        ("feed", "roll-neck", 92, 2100),
        ("feed", "hooded-shawl", 75, 1500),
        ("feed", "roll-neck", 70, 1750),
        ("shop", "hooded-shawl", 12, 410),
        ("shop", "roll-neck", 31, 520),
        ("shop", "cable-vest", 22, 480),
        ("wall", "cable-vest", 9, 130),
        ("wall", "roll-neck", 14, 150),
    )
)
"""Invented counts."""


def test_ratios_of_rates_agree_with_a_statistics_library_scatter_included() -> None:
    outlets, versions = ("feed", "shop", "wall"), ("hooded-shawl", "roll-neck")
    x = np.array(
        [
            [float(one.outlet == name) for name in outlets]
            + [float(one.version == name) for name in versions]
            for one in SHOWINGS
        ]
    )
    family = sm.families.Poisson()
    offset = np.log([one.exposure for one in SHOWINGS])
    counts = np.array([one.count for one in SHOWINGS])
    model = sm.GLM(counts, x, family=family, offset=offset)
    other = model.fit(scale="X2", use_t=True)
    told = rates.ratios(SHOWINGS)
    assert told.spare == other.df_resid == 4
    assert told.scatter == pytest.approx(max(1.0, other.scale), abs=1e-6)
    assert other.scale > 1
    gap = {(one.first, one.second): one for one in told.ratios}
    for at, name in enumerate(versions, start=3):
        value, (low, high) = np.exp(other.params[at]), np.exp(other.conf_int()[at])
        if (name, "cable-vest") in gap:
            one = gap[name, "cable-vest"]
        else:
            one = gap["cable-vest", name]
            value, low, high = 1 / value, 1 / high, 1 / low
        assert (one.value, one.low, one.high) == pytest.approx((value, low, high), rel=1e-5)


def test_two_runs_are_compared_exactly_as_a_statistics_library_does() -> None:
    """Conditional on the sum; the library's own interval of that name."""
    first = rates.Showing(outlet="feed", version="a", count=60, exposure=51477.5)
    second = rates.Showing(outlet="feed", version="b", count=30, exposure=54308.7)
    told = rates.exact_ratio(first, second)
    low, high = proportion_confint(60, 90, alpha=0.05, method="beta")
    even = 54308.7 / 51477.5
    assert told.value == pytest.approx(60 / 30 * even)
    assert (told.low, told.high) == pytest.approx(
        (low / (1 - low) * even, high / (1 - high) * even)
    )
    score = confint_poisson_2indep(60, 51477.5, 30, 54308.7, method="score")
    assert (told.low, told.high) == pytest.approx(score, rel=0.05)


def test_outlets_that_disagree_are_found_as_the_saturated_model_finds_them() -> None:
    """The likelihood ratio of outlets of their own is the deviance of the common model."""
    cells = [one for one in SHOWINGS if one.outlet in {"shop", "wall"}]
    cells = [one for one in cells if one.version != "hooded-shawl"]
    x = np.array(
        [[one.outlet == "shop", one.outlet == "wall", one.version == "roll-neck"] for one in cells]
    )
    other = sm.GLM(
        [one.count for one in cells],
        x.astype(float),
        family=sm.families.Poisson(),
        offset=np.log([one.exposure for one in cells]),
    ).fit()
    told = rates.ratios(cells)
    assert told.chance_outlets_agree == pytest.approx(chi2.sf(other.deviance, 1), abs=1e-9)


def test_scatter_of_repeated_runs_is_allowed_for_when_outlets_are_compared() -> None:
    """The F test of the interaction, its scale Pearson's of the saturated model."""
    runs = [one for one in SHOWINGS if one.version in {"roll-neck", "hooded-shawl"}]
    runs = [one for one in runs if one.outlet in {"feed", "shop"}]
    feed = np.array([float(one.outlet == "feed") for one in runs])
    neck = np.array([float(one.version == "roll-neck") for one in runs])
    counts = np.array([one.count for one in runs])
    offset = np.log([one.exposure for one in runs])

    def fit(*columns: np.ndarray) -> Any:
        design = np.column_stack([np.ones(len(runs)), *columns])
        return sm.GLM(counts, design, family=sm.families.Poisson(), offset=offset).fit()

    common, own = fit(feed, neck), fit(feed, neck, feed * neck)
    scale = max(1.0, own.pearson_chi2 / own.df_resid)
    told = rates.ratios(runs).chance_outlets_agree
    assert told == pytest.approx(
        f_law.sf((common.deviance - own.deviance) / scale, 1, own.df_resid), abs=1e-6
    )


def test_false_alarms_only_grow_with_every_look() -> None:
    alarms = [
        looks.chance_of_alarm([50 * (one + 1) for one in range(count)]) for count in range(1, 12)
    ]
    assert all(later > earlier for earlier, later in pairwise(alarms))
