"""The timeline shows what the record says, and nothing on it lies on top of anything."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser
from itertools import pairwise
from types import MappingProxyType

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from lxml import etree

from cropper.account.intervals import shape_of
from cropper.account.timeline import EVERYWHERE, MOST_LANES, Timeline, timeline
from cropper.account.timeline_axis import ticks
from cropper.account.timeline_bars import BAR, BAR_EDGE
from cropper.account.timeline_fitting import width
from cropper.account.timeline_key import legend, signs
from cropper.account.timeline_laying import lay
from cropper.account.timeline_marks import Box, Drawing, Hatch, Line, Stamp, Words
from cropper.account.timeline_page import html
from cropper.account.timeline_saying import INVENTED
from cropper.account.timeline_sheet import pdf
from cropper.errors import MisuseError
from cropper.publication.bars import Rule
from cropper.publication.dates import midnight
from cropper.publication.facts import Facts
from cropper.publication.licences import AtEnd, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.runs import Run, RunState
from cropper.publication.spans import Span
from tests.unit.publication.test_clashes import OSLO, day, facts, licence, run

SPRING = Span(day(2, 16), day(7, 6))
NOW = day(4, 24)
NASTY = '<script>alert(1)</script> & "quotes" 目 {{ 7 * 7 }}'
A4_POINTS = {595, 842}
"""210 x 297 mm at 72 points to the inch [ISO 216]."""


def drawn(*runs: Run, **more: object) -> Timeline:
    return timeline(facts(*runs, **more), SPRING, now=NOW, zone=OSLO)


def boxes_of_words(drawing: Drawing) -> list[tuple[float, float, float, float]]:
    """What every line of words covers: its width, and its height from crown to foot."""
    found = []
    for mark in drawing.marks:
        if isinstance(mark, Words):
            wide = width(mark.text, mark.size, bold=mark.bold)
            left = mark.x - {"start": 0.0, "middle": wide / 2, "end": wide}[mark.align]
            half = 0.37 * mark.size
            found.append((left, mark.y - half, left + wide, mark.y + half))
        if isinstance(mark, Stamp):
            r = mark.r
            found.append((mark.x - r, mark.y - r, mark.x + r, mark.y + r))
    return found


def bars(drawing: Drawing) -> list[tuple[float, float, float, float]]:
    """The bars of runs: boxes with an edge of their version's tone, as tall as bars are."""
    return [
        (mark.x0, mark.y0, mark.x1, mark.y1)
        for mark in drawing.marks
        if isinstance(mark, Box) and mark.edge == BAR_EDGE and abs(mark.y1 - mark.y0 - BAR) < 0.01
    ]


def overlaps(boxes: list[tuple[float, float, float, float]]) -> list[object]:
    ordered = sorted(boxes)
    return [
        (one, other)
        for at, one in enumerate(ordered)
        for other in ordered[at + 1 :]
        if other[0] < one[2] - 0.01 and other[1] < one[3] and one[1] < other[3]
    ]


names = some.text(
    alphabet=some.characters(codec="utf-8", categories=("L", "N", "P", "Zs")),
    min_size=1,
    max_size=70,
)


@some.composite
def charts(draw: some.DrawFn) -> Timeline:
    """Pages of 1 to 60 outlets over a week to three years, with anything on them."""
    outlets = draw(some.lists(names, min_size=1, max_size=draw(some.sampled_from([2, 8, 60]))))
    versions = draw(some.lists(names, min_size=1, max_size=9, unique=True))
    days = draw(some.integers(7, 3 * 366))
    start = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(hours=draw(some.integers(0, 9000)))
    span = Span(start, start + timedelta(days=days))

    def stretch() -> Span:
        begin = start + timedelta(hours=draw(some.integers(-2000, 24 * days + 500)))
        hours = draw(some.none() | some.integers(1, 24 * days))
        return Span(begin, None if hours is None else begin + timedelta(hours=hours))

    runs = [
        Run(
            id=str(number),
            piece="",
            version=draw(some.sampled_from(versions)),
            set="shawl",
            outlet=draw(some.sampled_from(outlets)),
            span=stretch(),
            state=draw(some.sampled_from(RunState)),
        )
        for number in range(draw(some.integers(0, 25)))
    ]
    agreed = [
        replace(
            licence(LicenceKind.EXCLUSIVE, start, None),
            id=f"licence {number}",
            kind=draw(some.sampled_from([LicenceKind.EXCLUSIVE, LicenceKind.TERM])),
            outlet=draw(some.sampled_from(outlets)),
            version=draw(some.sampled_from(versions)),
            span=stretch(),
        )
        for number in range(draw(some.integers(0, 4)))
    ]
    kinds = some.sampled_from(OutletKind)
    known = {
        name: Outlet(name=name, kind=draw(kinds), audience=frozenset({name})) for name in outlets
    }
    told = Facts(outlets=MappingProxyType(known), runs=tuple(runs), licences=tuple(agreed))
    return timeline(told, span, now=start + timedelta(days=days / 3), zone=OSLO)


@settings(max_examples=60, deadline=None)
@given(charts(), some.booleans(), some.sampled_from([786.0, 1628.0]))
def test_no_words_and_no_marks_lie_on_top_of_each_other(
    chart: Timeline,
    brief: bool,  # noqa: FBT001 - hypothesis hands it over by name
    wide: float,
) -> None:
    for drawing in (lay(chart, wide, brief=brief), legend(chart, wide), signs(chart, wide)):
        boxes = boxes_of_words(drawing)
        assert overlaps(boxes) == []
        assert overlaps(bars(drawing)) == []
        assert all(x0 >= -0.01 and x1 <= wide + 0.01 for x0, _, x1, _ in boxes)
        assert all(y0 >= -0.01 and y1 <= drawing.high + 0.01 for _, y0, _, y1 in boxes)


def test_versions_differ_in_shape_and_letter_not_only_in_tone() -> None:
    chart = drawn(
        *(run(name, "my-pages", day(3, 1), None) for name in ("a", "b", "c", "d", "e", "f"))
    )
    assert len({shape_of(one.mark) for one in chart.versions}) == 6
    assert "".join(one.code for one in chart.versions) == "ABCDEF"


def test_only_the_time_that_clashes_is_crossed() -> None:
    hood = run("hood", "mill-shop", day(3, 1), day(4, 1))
    roll = run("roll", "mill-shop", day(3, 20), day(5, 1))
    chart = drawn(hood, roll)
    (note,) = [one for one in chart.notes if one.clash.rule is Rule.RIVALS]
    assert note.clash.run == roll.id
    assert note.knots == (Span(day(3, 20), day(4, 1)),)
    lane = next(one for one in chart.lanes if one.outlet == "mill-shop")
    assert [bar.knots for bar in lane.bars] == [(Span(day(3, 20), day(4, 1)),)] * 2
    assert any(
        isinstance(mark, Box) and mark.hatch is Hatch.CROSSED for mark in lay(chart, 786).marks
    )


def test_beyond_a_licence_it_is_the_time_after_its_end_that_is_crossed() -> None:
    hood = run("hood", "my-walls", day(3, 1), day(5, 1))
    ends = replace(
        licence(LicenceKind.TERM, day(1, 1), day(4, 1), at_end=AtEnd.MUST_COME_DOWN),
        outlet="my-walls",
    )
    (note,) = drawn(hood, licences=(ends,)).notes
    assert note.knots == (Span(day(4, 1), day(5, 1)),)


def test_a_clash_that_is_over_before_the_page_begins_is_not_told() -> None:
    hood = run("hood", "my-walls", day(1, 1), day(2, 1))
    roll = run("roll", "my-walls", day(1, 20), day(3, 1))
    assert drawn(hood, roll).notes == ()


def test_an_empty_stretch_is_told_in_weeks_and_a_change_of_pictures_is_none() -> None:
    hood = run("hood", "my-walls", day(2, 16), day(3, 1))
    roll = run("roll", "my-walls", day(3, 1) + timedelta(hours=3), day(6, 15))
    chart = drawn(hood, roll)
    lane = next(one for one in chart.lanes if one.outlet == "my-walls")
    assert lane.gaps == (Span(day(6, 15), day(7, 6)),)
    told = [mark.text for mark in lay(chart, 786).marks if isinstance(mark, Words)]
    assert "nothing, 3 weeks" in told


def test_an_embargo_that_names_nobody_binds_every_outlet() -> None:
    held = replace(licence(LicenceKind.EMBARGO, day(1, 1), day(3, 1)), outlet="")
    chart = drawn(licences=(held,))
    assert chart.lanes[0].outlet == EVERYWHERE
    assert chart.lanes[0].strips[0].said == "embargo: all of shawl"


def test_a_week_in_which_clocks_change_is_an_hour_shorter() -> None:
    """Central European clocks go forward on the last Sunday of March [Directive 2000/84/EC]."""
    week = Span(midnight(date(2026, 3, 27), OSLO), midnight(date(2026, 4, 1), OSLO))
    lengths = [later.at - one.at for one, later in pairwise(ticks(week, OSLO))]
    assert lengths == [timedelta(hours=24)] * 2 + [timedelta(hours=23), timedelta(hours=24)]


@pytest.mark.parametrize(
    ("days", "told"),
    [
        (7, ["Mon 2 Mar 2026", "Tue 3 Mar"]),
        (60, ["2 Mar 2026", "9 Mar"]),
        (400, ["Apr 2026", "May"]),
        (1096, ["Apr 2026", "Jul"]),
        (4000, ["2027", "2028"]),
    ],
)
def test_the_axis_tells_days_weeks_months_quarters_or_years(days: int, told: list[str]) -> None:
    start = datetime(2026, 3, 2, tzinfo=UTC)
    lines = ticks(Span(start, start + timedelta(days=days)), "UTC")
    assert [
        one.said.removesuffix(" 2027") if days == 1096 else one.said for one in lines if one.said
    ][:2] == told


def test_today_is_a_line_from_the_dates_to_the_last_lane() -> None:
    drawing = lay(drawn(), 786)
    heavy = [m for m in drawing.marks if isinstance(m, Line) and m.ink == "accent"]
    assert max(line.y1 for line in heavy) == pytest.approx(drawing.high - 2)
    gone = timeline(facts(), SPRING, now=day(9, 1), zone=OSLO)
    assert not [m for m in lay(gone, 786).marks if isinstance(m, Line) and m.ink == "accent"]


class Parsed(HTMLParser):
    """Tags and text of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.said = ""
        self.feed(page)

    def handle_starttag(self, tag: str, _attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.said += data


def nasty() -> Timeline:
    outlet = Outlet(name=NASTY, kind=OutletKind.PLACED, audience=frozenset({NASTY}))
    told = Facts(
        outlets=MappingProxyType({NASTY: outlet}),
        runs=(run(NASTY, NASTY, day(3, 1), None), run("b", NASTY, day(3, 9), None)),
    )
    return timeline(told, SPRING, now=NOW, zone=OSLO, invented=True)


def test_whatever_names_are_made_of_stays_words() -> None:
    page = html(nasty())
    parsed = Parsed(page)
    assert "script" not in parsed.tags
    assert NASTY in parsed.said
    assert INVENTED in parsed.said
    for svg in page.split("<svg")[1:]:
        etree.fromstring("<svg" + svg.split("</svg>")[0] + "</svg>")


def test_a_sheet_is_one_page_whatever_is_on_it() -> None:
    small, large = (pypdf.PdfReader(io.BytesIO(pdf(chart))) for chart in (nasty(), crowded()))
    assert len(small.pages) == len(large.pages) == 1
    assert {round(float(side)) for side in small.pages[0].mediabox[2:]} == A4_POINTS
    told = large.pages[0].extract_text()
    assert all(f"outlet-{number:02d}" in told for number in range(MOST_LANES))


def crowded() -> Timeline:
    known = {
        name: Outlet(name=name, kind=OutletKind.PLACED, audience=frozenset({name}))
        for name in (f"outlet-{number:02d}" for number in range(MOST_LANES))
    }
    start = datetime(2024, 1, 1, tzinfo=UTC)
    runs = tuple(
        replace(
            run(f"version-{at % 7}", name, begin, begin + timedelta(days=90)), id=f"{at} {name}"
        )
        for name in known
        for at in range(6)
        for begin in (start + timedelta(days=150 * at),)
    )
    told = Facts(outlets=MappingProxyType(known), runs=runs)
    return timeline(told, Span(start, start + timedelta(days=1096)), now=day(4, 1))


def test_the_same_timeline_gives_the_same_bytes() -> None:
    assert pdf(nasty()) == pdf(nasty())
    assert html(nasty()) == html(nasty())


def test_more_than_a_page_can_tell_is_refused_with_the_way_out() -> None:
    runs = [run("a", f"place {number}", day(3, 1), None) for number in range(MOST_LANES + 1)]
    with pytest.raises(MisuseError, match="--outlet"):
        timeline(Facts(runs=tuple(runs)), SPRING, now=NOW)
    with pytest.raises(MisuseError, match="--until"):
        timeline(Facts(), Span(day(3, 1)), now=NOW)


def test_only_the_outlets_named_are_drawn_but_their_clashes_elsewhere_are_told() -> None:
    hood = run("hood", "mill-shop", day(3, 1), day(4, 1))
    roll = run("roll", "my-pages", day(3, 10), None)
    chart = timeline(facts(hood, roll), SPRING, now=NOW, outlets=("my-pages",), zone=OSLO)
    assert [lane.outlet for lane in chart.lanes] == ["my-pages"]
    assert [note.clash.against for note in chart.notes if note.clash.rule is Rule.RIVALS] == [
        hood.id
    ]
