"""What came back is kept as values that refuse what cannot be."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from cropper.errors import MisuseError
from cropper.publication.responses import (
    Count,
    Design,
    Intent,
    Measure,
    Question,
    Remark,
    Responses,
    checked_count,
    standing,
)

DAY = timedelta(days=1)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)

POLL = Question(
    name="which-runs",
    set="knitwear",
    versions=("hooded-shawl", "roll-neck"),
    design=Design.ONE_POLL,
    declared_at=NOON,
)
VOTES = Count(
    question="which-runs",
    version="roll-neck",
    outlet="feed",
    measure=Measure.VOTES,
    number=12,
    at=NOON + DAY,
)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"versions": ("roll-neck",)}, "at least two versions"),
        ({"versions": ("roll-neck", "roll-neck")}, "none named twice"),
        ({"name": " "}, "needs a name"),
        ({"name": "two\nlines"}, "on one line"),
        ({"declared_at": datetime(2026, 3, 2)}, "without a time zone"),  # noqa: DTZ001
        ({"stop_at_answers": 0}, "no end to wait for"),
        ({"intents": (Intent(version="cape", tags=("eyes",), noted_at=NOON),)}, "'cape'"),
    ],
)
def test_a_question_refuses_what_cannot_be_asked(change: dict[str, object], sentence: str) -> None:
    with pytest.raises(MisuseError, match=sentence):
        replace(POLL, **change)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"number": -1}, "-1 votes for 'roll-neck' cannot be"),
        ({"reach": -5}, "cannot be"),
        ({"at": datetime(2026, 3, 2)}, "Add one, such as"),  # noqa: DTZ001
        ({"since": NOON + DAY}, "before it was seen"),
        ({"over": "roll-neck"}, "preferred to itself"),
        ({"tag": "eyes"}, "mentions are counted for a tag"),
        ({"measure": Measure.MENTIONS}, "mentions are counted for a tag"),
        ({"outlet": ""}, "an outlet needs a name"),
    ],
)
def test_a_count_refuses_what_cannot_be_counted(change: dict[str, object], sentence: str) -> None:
    with pytest.raises(MisuseError, match=sentence):
        replace(VOTES, **change)  # type: ignore[arg-type]


def test_an_instant_of_another_zone_must_be_turned_into_utc_first() -> None:
    with pytest.raises(ValueError, match="in UTC"):
        replace(VOTES, at=datetime(2026, 3, 3, tzinfo=timezone(timedelta(hours=9))))


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"version": "cape"}, "not about a version 'cape'"),
        ({"at": NOON + 9 * DAY}, "still to come"),
        ({"over": "hooded-shawl"}, "declared as one poll"),
    ],
)
def test_a_count_that_does_not_fit_its_question_is_refused(
    change: dict[str, object], sentence: str
) -> None:
    with pytest.raises(MisuseError, match=sentence):
        checked_count(POLL, (), replace(VOTES, **change), now=NOON + 2 * DAY)  # type: ignore[arg-type]


def test_a_total_that_went_down_is_kept_and_said() -> None:
    later = replace(VOTES, number=9, at=NOON + 2 * DAY)
    (said,) = checked_count(POLL, (VOTES,), later, now=NOON + 3 * DAY)
    assert "went down from 12 to 9" in said


def test_more_likes_than_people_reached_are_said() -> None:
    odd = replace(VOTES, measure=Measure.LIKES, number=50, reach=40)
    (said,) = checked_count(POLL, (), odd, now=NOON + 3 * DAY)
    assert "one of the two is off" in said


def test_a_count_taken_earlier_fills_in_the_past_and_does_not_count_now() -> None:
    earlier = replace(VOTES, number=3, at=NOON + DAY / 2)
    (said,) = checked_count(POLL, (VOTES,), earlier, now=NOON + 3 * DAY)
    assert "fills in the past" in said
    assert standing((VOTES, earlier)) == (VOTES,)


def test_two_runs_of_one_version_at_an_outlet_are_counted_apart() -> None:
    first = replace(VOTES, since=NOON)
    second = replace(VOTES, since=NOON + DAY / 2)
    assert set(standing((first, second))) == {first, second}


def test_an_intent_of_its_own_goes_before_what_holds_for_all() -> None:
    general = Intent(tags=("light",), noted_at=NOON)
    own = Intent(version="roll-neck", tags=("eyes", "light"), noted_at=NOON)
    asked = replace(POLL, intents=(general, own))
    assert asked.intent("roll-neck") == own
    assert asked.intent("hooded-shawl") == general
    assert POLL.intent("roll-neck") is None


def test_remarks_need_words_and_a_source() -> None:
    with pytest.raises(MisuseError, match="empty remark"):
        Remark(question="q", text="  ", outlet="feed", source="x", row=1)
    with pytest.raises(ValueError, match="source"):
        Remark(question="q", text="eyes", outlet="feed", source="", row=1)


def test_an_unknown_question_names_those_that_were_asked() -> None:
    with pytest.raises(MisuseError, match="Asked so far: which-runs"):
        Responses(set="knitwear", questions=(POLL,)).question("which")
