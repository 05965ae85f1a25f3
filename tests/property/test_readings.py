"""Whatever was counted, a reading is given: a call in words, figures inside their intervals."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from cropper.account.intervals import chart
from cropper.account.report import Asked
from cropper.account.telling import as_json_text
from cropper.publication.looks import chance_of_alarm, two_sided
from cropper.publication.reading import Call, Reading, read
from cropper.publication.responses import Count, Design, Measure, Question, Responses
from cropper.publication.shares import chance_of_split, share

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
VERSIONS = ("cable-vest", "hooded-shawl", "roll-neck", "tweed-cape")
OUTLETS = ("feed", "shop", "wall")

hours = st.integers(1, 400)
numbers = st.one_of(st.integers(0, 6), st.integers(0, 4000))
reaches = st.one_of(st.none(), st.integers(0, 5), st.integers(1, 90_000))


@st.composite
def asked(draw: st.DrawFn) -> Responses:
    """A question of any design with counts that may be missing, level, thin or odd."""
    design = draw(st.sampled_from(Design))
    versions = VERSIONS[: draw(st.integers(2, 4))]
    question = Question(
        name="q",
        set="knitwear",
        versions=versions,
        design=design,
        declared_at=NOON + timedelta(hours=draw(st.integers(-2, 5))),
        stop_at_answers=draw(st.one_of(st.none(), st.integers(1, 500))),
        stop_at=draw(st.one_of(st.none(), hours.map(lambda h: NOON + timedelta(hours=h)))),
    )
    return Responses(
        set="knitwear",
        questions=(question,),
        counts=tuple(draw(st.lists(count(question), max_size=14))),
    )


@st.composite
def count(draw: st.DrawFn, question: Question) -> Count:
    pairs = question.design is Design.PAIRS
    first, second = draw(st.permutations(question.versions))[:2]
    at = draw(hours)
    measures = [Measure.VOTES] if pairs else [Measure.VOTES, Measure.LIKES, Measure.COMMENTS]
    return Count(
        question="q",
        version=first,
        over=second if pairs else None,
        outlet=draw(st.sampled_from(OUTLETS)),
        measure=draw(st.sampled_from(measures)),
        number=draw(numbers),
        at=NOON + timedelta(hours=at),
        reach=draw(reaches),
        since=draw(st.one_of(st.none(), st.just(NOON + timedelta(hours=at - 1)), st.just(NOON))),
    )


@st.composite
def whole(draw: st.DrawFn) -> Responses:
    """A question of which every version was counted at every outlet, once or twice."""
    design = draw(st.sampled_from(Design))
    versions = VERSIONS[: draw(st.integers(2, 4))]
    question = Question(
        name="q", set="knitwear", versions=versions, design=design, declared_at=NOON
    )
    others = versions if design is Design.PAIRS else (None,)
    measure = Measure.LIKES if design is Design.SEPARATE_RUNS else Measure.VOTES
    counts = tuple(
        Count(
            question="q",
            version=version,
            over=other,
            outlet=outlet,
            measure=measure,
            number=draw(numbers),
            at=NOON + timedelta(hours=9),
            reach=draw(st.integers(1, 9000)),
            since=NOON + timedelta(hours=run),
        )
        for outlet in OUTLETS[: draw(st.integers(1, 3))]
        for version in versions
        for other in others
        for run in range(draw(st.integers(1, 2)))
        if other != version
    )
    return Responses(set="knitwear", questions=(question,), counts=counts)


@settings(max_examples=30, deadline=None)
@given(st.one_of(asked(), whole()))
def test_every_question_gets_a_reading_that_holds_together(responses: Responses) -> None:
    reading = read(responses, "q", now=NOON + timedelta(days=99))
    assert reading.sentence.endswith(".")
    assert "nan" not in reading.sentence
    assert (reading.ahead is not None) == (reading.call is Call.AHEAD)
    assert reading.may or reading.call in {Call.NOT_YET, Call.NOT_COMPARABLE}
    _figures_hold(reading)
    drawn = chart(reading)
    as_json_text([Asked(reading=reading, design="", chart=drawn, seen=(), may_not=())])


def _figures_hold(reading: Reading) -> None:
    for one in reading.figures:
        if one.low is not None and one.high is not None:
            assert one.low <= one.value <= one.high
    for pair in reading.comparisons:
        assert 0 <= pair.chance <= 1
        assert pair.low <= pair.value * (1 + 1e-9)
        assert pair.value <= pair.high * (1 + 1e-9)


@given(st.integers(0, 3000), st.integers(0, 3000))
def test_an_interval_holds_its_share_and_narrows_with_answers(votes: int, more: int) -> None:
    told = share(votes, votes + more)
    assert told.low <= told.value <= told.high
    ten = share(10 * votes, 10 * (votes + more))
    assert ten.high - ten.low <= told.high - told.low


@given(st.integers(0, 400), st.integers(0, 400))
def test_a_split_and_its_mirror_are_as_likely(one: int, other: int) -> None:
    straight, turned = chance_of_split(one, one + other), chance_of_split(other, one + other)
    assert abs(straight - turned) < 1e-9


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(1, 5000), min_size=1, max_size=8), st.floats(0.5, 4))
def test_more_looks_never_lower_the_alarm(totals: list[int], height: float) -> None:
    alarm = chance_of_alarm(totals, height=height)
    assert two_sided(height) - 1e-6 <= alarm <= 1
    assert alarm <= chance_of_alarm([*totals, 2 * max(totals)], height=height) + 1e-6
