"""Declaring, counting and reading, against a keeper that holds everything in memory."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from cropper.account.remarks import Source
from cropper.account.reporting import report
from cropper.account.tallying import count, declare, take, told
from cropper.account.telling import as_json_text, lines, table
from cropper.errors import MisuseError
from cropper.publication.facts import Asked, Facts
from cropper.publication.reading import Call
from cropper.publication.responses import (
    Count,
    Design,
    Measure,
    Question,
    Remark,
    Responses,
)
from cropper.publication.runs import Run
from cropper.publication.seen import Sight
from cropper.publication.spans import Span
from cropper.publication.tags import TagList

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
DAY = timedelta(days=1)
SHAWL, NECK = "hooded-shawl", "roll-neck"
TAGS = TagList(
    words={"eyes": ("eye*",), "light": ("light*",)}, intents={NECK: ("eyes",), "cape": ("light",)}
)


@dataclass
class InMemory:
    """Keeps what a record keeps, for as long as a test."""

    known: Facts = field(default_factory=Facts)
    questions: list[Question] = field(default_factory=list)
    counts: list[Count] = field(default_factory=list)
    said: list[Remark] = field(default_factory=list)

    def responses(self, set_name: str) -> Responses:
        asked = tuple(one for one in self.questions if one.set == set_name)
        names = {one.name for one in asked}
        mine = tuple(one for one in self.counts if one.question in names)
        return Responses(set=set_name, questions=asked, counts=mine)

    def add_question(self, question: Question) -> None:
        self.questions.append(question)

    def add_counts(self, counts: Sequence[Count]) -> None:
        self.counts += counts

    def add_remarks(self, remarks: Iterable[Remark]) -> int:
        there = {(one.source, one.row) for one in self.said}
        new = [one for one in remarks if (one.source, one.row) not in there]
        self.said += new
        return len(new)

    def remarks(self, set_name: str, question: str) -> Iterator[Remark]:
        del set_name
        return (one for one in self.said if one.question == question)

    def facts(self, asked: Asked) -> Facts:
        del asked
        return self.known


def question(design: Design = Design.ONE_POLL) -> Question:
    return Question(
        name="which-runs", set="knitwear", versions=(SHAWL, NECK), design=design, declared_at=NOON
    )


def total(version: str, number: int, day: float = 1, measure: Measure = Measure.VOTES) -> Count:
    return Count(
        question="which-runs",
        version=version,
        outlet="feed",
        measure=measure,
        number=number,
        at=NOON + day * DAY,
    )


def test_a_question_takes_the_intents_of_its_own_versions_with_it() -> None:
    whole = declare(InMemory(), question(), TAGS)
    assert [(one.version, one.tags, one.noted_at) for one in whole.intents] == [
        (NECK, ("eyes",), NOON)
    ]


def test_a_question_is_not_asked_twice() -> None:
    keeper = InMemory()
    declare(keeper, question())
    with pytest.raises(MisuseError, match="already asked"):
        declare(keeper, question(Design.PAIRS))


def test_counts_are_kept_all_or_none() -> None:
    keeper = InMemory()
    declare(keeper, question())
    with pytest.raises(MisuseError, match="'cape'"):
        count(keeper, "knitwear", [total(NECK, 5), total("cape", 3)], now=NOON + 2 * DAY)
    assert keeper.counts == []
    assert count(keeper, "knitwear", [total(NECK, 5)], now=NOON + 2 * DAY) == ()


def test_since_when_it_was_seen_is_taken_from_the_recorded_run_and_kept_for_later_counts() -> None:
    run = Run(
        id="r", piece="a" * 64, version=NECK, outlet="feed", span=Span(NOON - DAY), set="knitwear"
    )
    keeper = InMemory(known=Facts(runs=(run,)))
    declare(keeper, question(Design.SEPARATE_RUNS))
    count(keeper, "knitwear", [total(NECK, 5, 1, Measure.LIKES)], now=NOON + 9 * DAY)
    keeper.known = Facts()
    count(keeper, "knitwear", [total(NECK, 9, 2, Measure.LIKES)], now=NOON + 9 * DAY)
    assert [one.since for one in keeper.counts] == [NOON - DAY, NOON - DAY]


def with_remarks(tmp_path: Path) -> tuple[InMemory, Source]:
    keeper = InMemory()
    whole = declare(keeper, question(), TAGS)
    count(keeper, "knitwear", [total(SHAWL, 30), total(NECK, 31)], now=NOON + 2 * DAY)
    path = tmp_path / "remarks.csv"
    path.write_text("text\n" + "her eyes\n" * 30 + "so light\n" * 8, encoding="utf-8")
    return keeper, Source(path=path, question=whole, outlet="feed", version=NECK)


def test_the_same_file_is_taken_in_once(tmp_path: Path) -> None:
    keeper, source = with_remarks(tmp_path)
    assert (take(keeper, source).kept, take(keeper, source).known) == (38, 38)
    assert len(keeper.said) == 38


def test_what_is_told_holds_the_call_and_what_people_saw(tmp_path: Path) -> None:
    keeper, source = with_remarks(tmp_path)
    take(keeper, source)
    (one,) = told(keeper, "knitwear", tags=TAGS, now=NOON + 9 * DAY)
    assert one.reading.call is Call.TOO_CLOSE
    assert [seen.sight for seen in one.seen] == [Sight.AS_MEANT]
    headings, rows = table(one)
    assert len(headings) == len(rows[0]) == 3
    assert any("You may not say" in line for line in lines(one))


def test_json_tells_everything_with_unrounded_numbers(tmp_path: Path) -> None:
    keeper, source = with_remarks(tmp_path)
    take(keeper, source)
    read = json.loads(as_json_text(told(keeper, "knitwear", tags=TAGS, now=NOON + 9 * DAY)))
    (one,) = read["questions"]
    assert one["call"] == "too close to call"
    assert one["figures"][1]["value"] == 31 / 61
    assert one["seen"][0]["tags"]["eyes"]["votes"] == 30
    assert one["question"]["declared_at"] == "2026-03-02T12:00:00+00:00"


def test_a_ratio_without_end_is_null_in_json() -> None:
    keeper = InMemory()
    declare(keeper, question(Design.SEPARATE_RUNS))
    likes = [
        Count(
            question="which-runs",
            version=version,
            outlet="feed",
            measure=Measure.LIKES,
            number=number,
            reach=100,
            at=NOON + DAY,
        )
        for version, number in ((SHAWL, 0), (NECK, 12))
    ]
    count(keeper, "knitwear", likes, now=NOON + 2 * DAY)
    text = as_json_text(told(keeper, "knitwear", tags=None, now=NOON + 9 * DAY))
    assert json.loads(text)["questions"][0]["comparisons"][0]["value"] is None


def test_a_report_needs_a_set_that_somebody_recorded() -> None:
    with pytest.raises(MisuseError, match="knows no set 'hats'"):
        report(InMemory(), "hats", job=None, tags=None, now=NOON)


def test_a_report_without_a_job_leaves_its_frames_empty() -> None:
    keeper = InMemory()
    declare(keeper, question())
    made = report(keeper, "knitwear", job=None, tags=None, now=NOON + DAY)
    assert [one.version for one in made.portraits] == [SHAWL, NECK]
    assert all(one.jpeg is None and one.why_not for one in made.portraits)
    assert made.dated == "as of 3 March 2026, 12:00 UTC"
