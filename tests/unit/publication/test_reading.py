"""What counts tell, design by design: the call, its reasons, and what it may not be taken for."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cropper.publication.pair_reading import AGAINST_AVERAGE
from cropper.publication.reading import Call, Reading, looks_taken, read
from cropper.publication.responses import Count, Design, Intent, Measure, Question, Responses
from cropper.publication.seen import Sight, counted_by_hand, seen
from cropper.publication.tags import Sightings

DAY = timedelta(days=1)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
SHAWL, NECK, VEST = "hooded-shawl", "roll-neck", "cable-vest"


def asked(design: Design, *versions: str, **more: Any) -> Question:
    return Question(
        name="q",
        set="knitwear",
        versions=versions or (SHAWL, NECK),
        design=design,
        declared_at=NOON,
        **more,
    )


def votes(version: str, number: int, outlet: str = "feed", day: float = 1, **more: Any) -> Count:
    more.setdefault("measure", Measure.VOTES)
    return Count(
        question="q", version=version, outlet=outlet, number=number, at=NOON + day * DAY, **more
    )


def likes(version: str, number: int, outlet: str = "feed", day: float = 1, **more: Any) -> Count:
    return votes(version, number, outlet, day, measure=Measure.LIKES, **more)


def told(question: Question, *counts: Count) -> Reading:
    kept = Responses(set="knitwear", questions=(question,), counts=counts)
    return read(kept, "q", now=NOON + 99 * DAY)


POLL = asked(Design.ONE_POLL)
FIELD = asked(Design.ONE_POLL, SHAWL, NECK, VEST)
RUNS = asked(Design.SEPARATE_RUNS)


def test_a_poll_too_close_to_call_says_how_many_answers_would_tell() -> None:
    reading = told(POLL, votes(SHAWL, 48), votes(NECK, 52))
    assert reading.call is Call.TOO_CLOSE
    assert "52 of 100 answers (42 to 62 %)" in reading.sentence
    assert "820 answers would tell 55 from 45 with 80 % power" in reading.sentence


@pytest.mark.parametrize(("leading", "call"), [(60, Call.TOO_CLOSE), (61, Call.AHEAD)])
def test_the_exact_test_decides_to_the_vote(leading: int, call: Call) -> None:
    reading = told(POLL, votes(SHAWL, 100 - leading), votes(NECK, leading))
    assert reading.call is call
    assert reading.ahead == (NECK if call is Call.AHEAD else None)


def test_where_interval_and_test_differ_by_a_hair_it_says_which_decides() -> None:
    (said,) = told(POLL, votes(SHAWL, 40), votes(NECK, 60)).warnings
    assert "the test decides" in said


def test_many_level_answers_are_called_even() -> None:
    assert told(POLL, votes(SHAWL, 490), votes(NECK, 510)).call is Call.ABOUT_EVEN


def test_a_certain_lead_that_is_small_is_called_small() -> None:
    reading = told(POLL, votes(SHAWL, 4900), votes(NECK, 5100))
    assert reading.call is Call.AHEAD
    assert "leads by little" in reading.sentence


def test_nobody_answered_yet() -> None:
    assert told(POLL).call is Call.NOT_YET
    assert told(POLL, votes(SHAWL, 0), votes(NECK, 0)).call is Call.NOT_YET


def test_likes_are_no_choice() -> None:
    reading = told(POLL, likes(SHAWL, 90), likes(NECK, 10))
    assert reading.call is Call.NOT_COMPARABLE
    assert "one person can like both" in reading.sentence


def looked_at_five_times(**more: Any) -> Reading:
    counts = (
        votes(version, each * (day + 1), day=day + 1)
        for day in range(5)
        for version, each in ((SHAWL, 8), (NECK, 13))
    )
    return told(asked(Design.ONE_POLL, **more), *counts)


def test_a_lead_found_by_looking_again_and_again_is_not_called() -> None:
    """65 of 105 would pass at one look (p 0.019); after five it does not."""
    assert told(POLL, votes(SHAWL, 40), votes(NECK, 65)).call is Call.AHEAD
    reading = looked_at_five_times()
    assert reading.call is Call.TOO_CLOSE
    assert reading.looks == 5
    assert any("fooled 14 times in 100" in said for said in reading.warnings)


def test_looks_cost_nothing_once_the_end_fixed_in_advance_is_reached() -> None:
    assert looked_at_five_times(stop_at_answers=105).call is Call.AHEAD
    assert looked_at_five_times(stop_at=NOON + 5 * DAY).call is Call.AHEAD


@pytest.mark.parametrize(
    ("end", "sentence"),
    [
        ({"stop_at_answers": 820}, "105 of the 820 answers"),
        ({"stop_at": NOON + 9 * DAY}, "before the end you fixed, 2026-03-11 12:00 UTC"),
    ],
)
def test_before_the_end_that_was_fixed_nothing_is_called(
    end: dict[str, Any], sentence: str
) -> None:
    reading = looked_at_five_times(**end)
    assert reading.call is Call.NOT_YET
    assert sentence in reading.sentence


def test_an_end_declared_after_the_first_count_is_no_end_fixed_in_advance() -> None:
    reading = told(
        asked(Design.ONE_POLL, stop_at_answers=50), votes(SHAWL, 1, day=-1), votes(NECK, 60, day=2)
    )
    assert any("declared after the first count" in said for said in reading.warnings)


def test_outlets_that_pull_different_ways_are_not_thrown_together() -> None:
    reading = told(
        POLL, votes(SHAWL, 10), votes(NECK, 40), votes(SHAWL, 40, "shop"), votes(NECK, 12, "shop")
    )
    assert reading.call is Call.OUTLETS_DIFFER
    assert {figure.outlet for figure in reading.figures} == {"", "feed", "shop"}


def test_an_outlet_where_a_version_was_not_counted_is_left_out_and_said() -> None:
    reading = told(POLL, votes(SHAWL, 10), votes(NECK, 9), votes(NECK, 90, "wall"))
    assert reading.answers == 19
    assert "'wall' is left out" in reading.warnings[0]


def test_of_three_the_first_must_beat_each_other() -> None:
    close = told(FIELD, votes(SHAWL, 48), votes(NECK, 52), votes(VEST, 20))
    assert close.call is Call.TOO_CLOSE
    assert "'cable-vest' is behind" in close.sentence
    assert "which is first remains open" in close.may[0]
    clear = told(FIELD, votes(SHAWL, 28), votes(NECK, 82), votes(VEST, 20))
    assert (clear.call, clear.ahead) == (Call.AHEAD, NECK)


@pytest.mark.parametrize(
    ("counts", "reason"),
    [
        ((likes(SHAWL, 9), likes(NECK, 5)), "nobody noted how many people"),
        ((likes(SHAWL, 9, reach=90),), "nothing is counted for 'roll-neck'"),
        (
            (likes(SHAWL, 9, reach=90), votes(NECK, 5, reach=80)),
            "no one measure",
        ),
        ((likes(SHAWL, 9, reach=90), likes(NECK, 5, "shop", reach=80)), "share no outlet"),
        (
            (likes(SHAWL, 9, since=NOON), likes(NECK, 5, since=NOON + DAY / 2)),
            "attention fades",
        ),
        ((likes(SHAWL, 9, reach=90), likes(NECK, 5, since=NOON)), "others only how long"),
    ],
)
def test_separate_runs_on_no_common_footing_are_not_compared(
    counts: tuple[Count, ...], reason: str
) -> None:
    reading = told(RUNS, *counts)
    assert reading.call is Call.NOT_COMPARABLE
    assert reason in reading.sentence


def test_one_run_each_tells_nothing_for_nobody_measured_how_runs_scatter() -> None:
    reading = told(RUNS, likes(SHAWL, 48, reach=900), likes(NECK, 82, reach=950))
    assert reading.call is Call.TOO_CLOSE
    assert "1.62 times the likes" in reading.sentence
    assert "nobody knows how far runs scatter" in reading.sentence
    assert any("weather" in said for said in reading.may_not)


def test_runs_are_compared_at_the_age_that_both_have_reached() -> None:
    reading = told(
        RUNS,
        likes(SHAWL, 20, day=1, since=NOON),
        likes(SHAWL, 90, day=9, since=NOON),
        likes(NECK, 22, day=3, since=NOON + 2 * DAY),
    )
    assert reading.call is Call.TOO_CLOSE
    assert [figure.count for figure in reading.figures] == [20, 22]


def repeated(shawl: tuple[int, ...], neck: tuple[int, ...]) -> Reading:
    def run(version: str, number: int, at: int) -> Count:
        return likes(version, number, reach=1000, since=NOON + at * DAY, day=at + 20)

    return told(
        RUNS,
        *(run(SHAWL, number, at) for at, number in enumerate(shawl)),
        *(run(NECK, number, at) for at, number in enumerate(neck)),
    )


def test_repeated_runs_that_scatter_little_can_lead() -> None:
    reading = repeated((50, 46, 55, 49), (80, 85, 77, 90))
    assert (reading.call, reading.ahead) == (Call.AHEAD, NECK)


def test_the_same_totals_from_runs_that_scatter_widely_cannot() -> None:
    reading = repeated((10, 96, 15, 79), (20, 165, 27, 120))
    assert reading.call is Call.TOO_CLOSE
    assert "scatter" in reading.sentence


def test_outlets_of_unlike_size_do_not_turn_the_verdict() -> None:
    """The counts of Charig et al., BMJ 292:879-882, 1986, the classic reversal (from memory)."""
    reading = told(
        RUNS,
        likes(SHAWL, 81, reach=87),
        likes(SHAWL, 192, "shop", reach=263),
        likes(NECK, 234, reach=270),
        likes(NECK, 55, "shop", reach=80),
    )
    assert any("Simpson's paradox" in said for said in reading.warnings)
    assert reading.comparisons[0].first == SHAWL


def test_runs_of_which_one_drew_nothing_beside_the_other_have_no_ratio() -> None:
    reading = told(
        RUNS,
        likes(SHAWL, 0, reach=90),
        likes(SHAWL, 9, "shop", reach=90),
        likes(NECK, 8, reach=80),
    )
    assert reading.call is Call.TOO_CLOSE
    assert "no likes at all" in reading.sentence


def test_a_pair_of_two_is_read_like_a_poll() -> None:
    pair = asked(Design.PAIRS)
    reading = told(pair, votes(SHAWL, 39, over=NECK), votes(NECK, 61, over=SHAWL))
    assert (reading.call, reading.ahead) == (Call.AHEAD, NECK)


def test_pairs_of_three_get_strengths_with_intervals() -> None:
    won = {(SHAWL, NECK): 10, (NECK, SHAWL): 40, (VEST, NECK): 12, (NECK, VEST): 35}
    won |= {(SHAWL, VEST): 21, (VEST, SHAWL): 20}
    reading = told(
        asked(Design.PAIRS, SHAWL, NECK, VEST),
        *(votes(one, number, over=other) for (one, other), number in won.items()),
    )
    assert (reading.call, reading.ahead) == (Call.AHEAD, NECK)
    assert {figure.unit for figure in reading.figures} == {AGAINST_AVERAGE}
    assert all(one.low < one.value < one.high for one in reading.comparisons)


def test_a_version_never_preferred_has_no_strength_yet() -> None:
    reading = told(
        asked(Design.PAIRS, SHAWL, NECK, VEST),
        votes(SHAWL, 8, over=NECK),
        votes(NECK, 3, over=SHAWL),
        votes(NECK, 4, over=VEST),
    )
    assert reading.call is Call.NOT_YET
    assert "'cable-vest' was never preferred" in reading.sentence


def test_versions_that_never_met_do_not_compare() -> None:
    reading = told(
        asked(Design.PAIRS, SHAWL, NECK, VEST),
        votes(SHAWL, 8, over=NECK),
        votes(NECK, 3, over=SHAWL),
    )
    assert "never met the others" in reading.sentence


def test_preferences_that_run_in_circles_are_told() -> None:
    ring = {(SHAWL, NECK): 30, (NECK, VEST): 30, (VEST, SHAWL): 30}
    ring |= {(NECK, SHAWL): 5, (VEST, NECK): 5, (SHAWL, VEST): 5}
    reading = told(
        asked(Design.PAIRS, SHAWL, NECK, VEST),
        *(votes(one, number, over=other) for (one, other), number in ring.items()),
    )
    assert any("run in circles" in said for said in reading.warnings)


def test_a_count_to_come_is_not_read() -> None:
    kept = Responses(
        set="knitwear", questions=(POLL,), counts=(votes(SHAWL, 9, day=5), votes(NECK, 1, day=5))
    )
    assert read(kept, "q", now=NOON + DAY).call is Call.NOT_YET


def test_totals_are_looks_only_when_they_grow() -> None:
    counts = (
        votes(SHAWL, 5, day=1),
        votes(NECK, 5, day=1),
        votes(NECK, 5, day=2),
        votes(NECK, 9, day=3),
    )
    assert [total for _, total in looks_taken(counts, Measure.VOTES)] == [10, 14]


def test_outlets_counted_one_after_the_other_are_one_look() -> None:
    counts = (votes(SHAWL, 5, "feed", 1), votes(NECK, 7, "shop", 1.02), votes(NECK, 9, "shop", 2))
    assert [total for _, total in looks_taken(counts, Measure.VOTES)] == [12, 14]


def test_looking_on_after_the_end_that_was_fixed_is_no_longer_harmless() -> None:
    reading = looked_at_five_times(stop_at_answers=21)
    assert reading.call is Call.TOO_CLOSE
    assert any("from the end you fixed on" in said for said in reading.warnings)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 400), st.integers(0, 400))
def test_swapping_the_versions_swaps_the_verdict_and_nothing_else(one: int, other: int) -> None:
    straight = told(POLL, votes(SHAWL, one), votes(NECK, other))
    turned = told(POLL, votes(SHAWL, other), votes(NECK, one))
    assert straight.call is turned.call
    assert {figure.value for figure in straight.figures} == {
        figure.value for figure in turned.figures
    }
    if straight.ahead:
        assert {straight.ahead, turned.ahead} == {SHAWL, NECK}


MEANT = asked(
    Design.ONE_POLL, intents=(Intent(version=NECK, tags=("eyes", "light"), noted_at=NOON),)
)


def remarks(eyes: int, light: int, both: int, of: int) -> Sightings:
    return Sightings(
        version=NECK,
        remarks=of,
        mentions={"eyes": eyes + both, "light": light + both},
        alone={("eyes", "light"): eyes, ("light", "eyes"): light},
    )


@pytest.mark.parametrize(
    ("eyes", "light", "sight"),
    [(30, 8, Sight.AS_MEANT), (8, 30, Sight.OTHERWISE), (15, 12, Sight.OPEN)],
)
def test_remarks_say_whether_people_saw_what_was_meant(eyes: int, light: int, sight: Sight) -> None:
    (one,) = seen(MEANT, (remarks(eyes, light, 10, 90),))
    assert one.sight is sight
    assert "meant eyes first, then light" in one.sentence


def test_an_intent_noted_after_the_picture_went_out_proves_nothing() -> None:
    (one,) = seen(MEANT, (remarks(30, 8, 10, 90),), first_out=NOON - DAY)
    assert one.sight is Sight.NOTHING_MEANT
    assert "proves nothing" in one.sentence


def test_mentions_counted_by_hand_stand_in_for_remarks() -> None:
    counts = (
        votes(NECK, 90, measure=Measure.COMMENTS),
        votes(NECK, 60, measure=Measure.MENTIONS, tag="eyes"),
        votes(NECK, 9, measure=Measure.MENTIONS, tag="light"),
    )
    (one,) = seen(MEANT, counted_by_hand(counts))
    assert one.remarks == 90
    assert one.sight is Sight.AS_MEANT
