"""The report says what the reading says, on a page and on paper, whatever the names are made of."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser

import pypdf
import pytest
from PIL import Image

from cropper.account import intervals, report_sheet
from cropper.account.report import INVENTED, Portrait, Ran, Report, asked, first_out, ran
from cropper.account.report_page import html
from cropper.account.report_sheet import pdf
from cropper.publication.facts import Facts
from cropper.publication.responses import Count, Design, Intent, Measure, Question, Responses
from cropper.publication.runs import Run, RunState
from cropper.publication.spans import Span
from cropper.publication.tags import Sightings

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
DAY = timedelta(days=1)
SHAWL, NECK = "hooded-shawl", "roll-neck"
NASTY = '<script>alert(1)</script> & "quotes" 目 {{ 7 * 7 }}'


def jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 50), (150, 146, 142)).save(out, "JPEG")
    return out.getvalue()


def poll(name: str, shawl: int, neck: int, **more: object) -> tuple[Question, tuple[Count, ...]]:
    question = Question(
        name=name,
        set="knitwear",
        versions=(SHAWL, NECK),
        design=Design.ONE_POLL,
        declared_at=NOON,
        **more,  # type: ignore[arg-type]
    )
    counts = tuple(
        Count(
            question=name,
            version=version,
            outlet=outlet,
            measure=Measure.VOTES,
            number=number,
            at=NOON + DAY,
        )
        for outlet in ("feed", "shop")
        for version, number in ((SHAWL, shawl), (NECK, neck))
    )
    return question, counts


def report(*polls: tuple[Question, tuple[Count, ...]], **more: object) -> Report:
    responses = Responses(
        set="knitwear",
        questions=tuple(question for question, _ in polls),
        counts=tuple(count for _, counts in polls for count in counts),
    )
    spoken = Sightings(
        version=NECK,
        remarks=60,
        mentions={"eyes": 30, "light": 9},
        alone={("eyes", "light"): 28, ("light", "eyes"): 7},
    )
    found = {question.name: (spoken,) for question, _ in polls if question.intents}
    return Report(
        set="knitwear",
        dated="as of 1 May 2026, 12:00 UTC",
        portraits=(
            Portrait(version=SHAWL, mark=0, jpeg=jpeg(), width=40, height=50),
            Portrait(version=NECK, mark=1, jpeg=None, width=360, height=450, why_not="it is gone"),
        ),
        runs=(
            Ran(
                outlet="feed",
                version=SHAWL,
                mark=0,
                destination="square-post",
                since="2026-03-02",
                until="open",
                state="live",
            ),
        ),
        asked=asked(responses, found, first_out=NOON + DAY, now=NOON + 9 * DAY),
        **more,  # type: ignore[arg-type]
    )


MEANT = {"intents": (Intent(version=NECK, tags=("eyes", "light"), noted_at=NOON),)}


def words(page: str) -> str:
    """A page's words with its line breaks and hard spaces made plain."""
    return re.sub(r"\s+", " ", page.replace("\u00a0", " "))


def paper(told: Report) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf(told)))


def test_both_forms_say_the_same_call_with_its_numbers() -> None:
    told = report(poll("which-runs", 24, 26, **MEANT))
    for text in (html(told), paper(told).pages[0].extract_text()):
        said = words(text).replace("&#39;", "'")
        assert "Too close to call: 'roll-neck' has 52 of 100 answers (42 to 62 %)" in said
        assert "820 answers would tell 55 from 45 with 80 % power" in said
        assert "meant eyes first, then light" in said
        assert "What was meant first is spoken of most" in said
        assert "it is gone" in said


def test_a_report_of_two_questions_fits_one_page_of_paper() -> None:
    told = report(poll("which-runs", 24, 26, **MEANT), poll("which-prints", 39, 61))
    assert len(paper(told).pages) == 1


def test_many_questions_take_more_pages_rather_than_smaller_letters() -> None:
    told = report(*(poll(f"question-{number}", 24, 26) for number in range(9)))
    pages = paper(told).pages
    assert len(pages) > 1
    assert "question-8" in pages[-1].extract_text()


def crowded() -> Report:
    """Six versions at forty outlets, sixty runs, and pairs between all of them."""
    versions = tuple(f"version-with-a-long-name-{at}" for at in range(6))
    questions = tuple(
        Question(
            name=design.value.replace(" ", "-"),
            set="knitwear",
            versions=versions,
            design=design,
            declared_at=NOON,
        )
        for design in (Design.ONE_POLL, Design.PAIRS)
    )
    votes = [
        Count(
            question="one-poll",
            version=version,
            outlet=f"outlet-{outlet}",
            measure=Measure.VOTES,
            number=5 + at,
            at=NOON + DAY,
        )
        for outlet in range(40)
        for at, version in enumerate(versions)
    ]
    preferred = [
        Count(
            question="pairs",
            version=one,
            over=other,
            outlet="wall",
            measure=Measure.VOTES,
            number=7 + at,
            at=NOON + DAY,
        )
        for at, one in enumerate(versions)
        for other in versions
        if one != other
    ]
    kept = Responses(set="knitwear", questions=questions, counts=(*votes, *preferred))
    told = report()
    return replace(
        told,
        portraits=tuple(
            Portrait(version=one, mark=at, jpeg=jpeg(), width=60, height=40)
            for at, one in enumerate(versions)
        ),
        runs=tuple(
            replace(told.runs[0], version=versions[at % 6], mark=at % 6) for at in range(60)
        ),
        asked=asked(kept, {}, first_out=None, now=NOON + 9 * DAY),
    )


def test_a_crowded_set_is_cut_in_words_and_nothing_falls_off_the_paper() -> None:
    told = crowded()
    text = " ".join(words(page.extract_text()) for page in paper(told).pages)
    assert "more outlets are not drawn" in text
    assert "36 earlier runs stand on the page" in text
    assert "Rights, releases and exclusives are yours to confirm" in text
    assert html(told).count('<tr><th scope="row">feed') == 60
    for block in report_sheet._story(told, report_sheet.WIDE):
        assert report_sheet._high(block, report_sheet.WIDE) <= report_sheet.HIGH


def test_what_may_not_be_concluded_is_said_once() -> None:
    told = report(poll("which-runs", 24, 26), poll("which-prints", 39, 61))
    assert told.asked[0].may_not
    assert told.asked[1].may_not == ()
    assert html(told).count("is the better picture") == 1


def test_invented_data_is_marked_in_both_forms() -> None:
    told = report(poll("which-runs", 24, 26))
    assert INVENTED not in html(told)
    marked = replace(told, invented=True)
    assert INVENTED in html(marked)
    assert INVENTED in words(paper(marked).pages[0].extract_text())


def test_names_of_any_signs_are_shown_and_never_run() -> None:
    question, counts = poll("which-runs", 24, 26, wording=NASTY)
    told = replace(report((question, counts)), set=NASTY)
    page = html(told)
    assert "<script" not in page
    assert "alert(1)" in page
    assert "49" not in re.findall(r"<h1>(.*?)</h1>", page)[0]
    assert "alert(1)" in words(paper(told).pages[0].extract_text())


class Pictures(HTMLParser):
    """Every address on the page, and every picture's other text."""

    def __init__(self) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.alts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self.addresses += [str(told[name]) for name in ("src", "href") if name in told]
        if tag == "img":
            self.alts.append(str(told.get("alt")))


def test_the_page_fetches_nothing_and_names_its_pictures() -> None:
    read = Pictures()
    read.feed(html(report(poll("which-runs", 24, 26))))
    assert read.alts == [SHAWL]
    assert all(one.startswith("data:image/jpeg") for one in read.addresses)


def test_the_same_report_gives_the_same_bytes() -> None:
    told = report(poll("which-runs", 24, 26, **MEANT))
    assert pdf(told) == pdf(told)
    assert html(told) == html(told)


def test_a_set_that_was_asked_nothing_says_so() -> None:
    told = replace(report(), runs=())
    for text in (html(told), paper(told).pages[0].extract_text()):
        assert "nothing is concluded" in words(text)
        assert "Nothing of this set is recorded as running" in words(text)


def test_intervals_lie_on_their_axis_and_groups_are_titled() -> None:
    told = report(poll("which-runs", 24, 26)).asked[0].chart
    assert told is not None
    assert told.even == 0.5
    assert [group.title for group in told.groups] == ["all outlets", "feed", "shop"]
    assert len(told.lines) == 9
    for _, row in told.lines:
        if row is not None:
            assert row.low is not None
            assert row.high is not None
            assert 0 <= row.low < row.value < row.high <= 1


@pytest.mark.parametrize(("value", "end"), [(0.047, 0.05), (0.05, 0.05), (3.2, 5), (900, 1000)])
def test_an_axis_of_rates_ends_on_a_number_that_can_be_said(value: float, end: float) -> None:
    assert intervals._round_up(value) == pytest.approx(end)


def test_runs_are_listed_from_what_is_known() -> None:
    run = Run(
        id="r1",
        piece="a" * 64,
        version=NECK,
        set="knitwear",
        outlet="gazette",
        span=Span(NOON, NOON + 30 * DAY),
        issue="7",
        page="3",
        destination="cover-a4",
    )
    off = replace(run, id="r0", span=Span(NOON - 9 * DAY, None), state=RunState.WITHDRAWN)
    other = replace(run, id="r2", set="hats")
    facts = Facts(runs=(run, off, other))
    told = ran(facts, (SHAWL, NECK), "knitwear")
    assert [one.state for one in told] == ["withdrawn", "live"]
    assert (told[1].where, told[1].since, told[1].until) == (
        "issue 7, page 3",
        "2026-03-02",
        "2026-04-01",
    )
    assert first_out(facts, "knitwear") == NOON
