"""A season drawn up: no clash by the record's rules, every version shown, reasons for the rest."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise, product
from typing import Any

import pytest

from cropper.publication.clashes import all_clashes
from cropper.publication.dates import midnight
from cropper.publication.facts import Facts
from cropper.publication.licences import Licence, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.runs import Piece, Run, RunState, SetRules
from cropper.publication.season import Fixed, Habit, Request, Season, Wanted, propose
from cropper.publication.spans import Span

MONDAY = date(2027, 1, 4)
BEFORE = datetime(2027, 1, 1, tzinfo=UTC)
STREAM, PLACED = OutletKind.STREAM, OutletKind.PLACED
FEED = Outlet(name="feed", kind=STREAM, audience=frozenset({"followers"}), window_days=7)
STORY = Outlet(name="story", kind=STREAM, audience=frozenset({"followers"}), window_days=2)
SHOP = Outlet(name="shop", kind=PLACED, audience=frozenset({"buyers"}), zone="Europe/Oslo")
HABITS = {"feed": Habit(days=frozenset({0, 2, 4}), per_week=2), "shop": Habit(stays_days=14)}


def piece(version: str, set_name: str | None) -> Piece:
    return Piece(
        sha256=version,
        file=f"{version}.jpg",
        version=version,
        destination="square-post",
        master_sha256=version,
        set=set_name,
    )


PIECES = tuple(piece(f"{idea}-{n}", idea) for idea, n in product(("shawl", "scarf"), range(3)))


def facts(*runs: Run, outlets: tuple[Outlet, ...] = (FEED, STORY, SHOP), **more: Any) -> Facts:
    sets = {
        idea: SetRules(name=idea, versions=tuple(f"{idea}-{n}" for n in range(3)), rest_days=3)
        for idea in ("shawl", "scarf")
    }
    return Facts(
        outlets={one.name: one for one in outlets}, pieces=PIECES, sets=sets, runs=runs, **more
    )


def request(known: Facts, **more: Any) -> Request:
    wanted = tuple(
        Wanted(piece=one, outlet=name) for one in PIECES for name in sorted(known.outlets)
    )
    given = {"weeks": 6, "habits": HABITS, "wanted": wanted, **more}
    return Request(start=MONDAY, now=BEFORE, **given)


def drawn(known: Facts, **more: Any) -> Season:
    season = propose(request(known, **more), known)
    clashing = list(all_clashes(replace(known, runs=(*known.runs, *season.runs))))
    assert clashing == []
    return season


def test_every_version_runs_on_the_days_that_its_outlet_has_and_rivals_lie_apart() -> None:
    season = drawn(facts())
    assert {one.version for one in season.runs} == {one.version for one in PIECES}
    feed = [one.span.start for one in season.runs if one.outlet == "feed"]
    assert all(one.weekday() in {0, 2, 4} for one in feed)
    weeks = [one.isocalendar().week for one in feed]
    assert max(weeks.count(week) for week in weeks) <= 2
    assert len(set(feed)) == len(feed), "one post a day"
    shop = sorted((one.span for one in season.runs if one.outlet == "shop"), key=lambda s: s.start)
    assert all(one.until <= after.start for one, after in pairwise(shop) if one.until)
    assert {one.zone for one in season.runs if one.outlet == "shop"} == {"Europe/Oslo"}
    assert season.gap <= 0.01


def test_what_finds_no_day_is_told_with_the_reason_and_the_first_day_that_is_free() -> None:
    closed = Licence(
        id="deal",
        kind=LicenceKind.EXCLUSIVE,
        span=Span(midnight(MONDAY, "UTC"), midnight(date(2027, 3, 1), "UTC")),
        outlet="shop",
        set="shawl",
    )
    season = drawn(facts(licences=(closed,)))
    told = {(one.version, one.outlet): one for one in season.not_placed}
    shawl = told["shawl-0", "feed"]
    assert "exclusive (18 of 18 days): 'shop' has the whole set 'shawl' alone" in shawl.why
    assert shawl.first_free == midnight(date(2027, 3, 1), "UTC")
    full = next(one for one in season.not_placed if one.outlet == "shop")
    assert full.first_free is not None
    assert full.first_free >= midnight(date(2027, 2, 15), "Europe/Oslo")
    closed_shop = drawn(facts(), habits={**HABITS, "feed": Habit(days=frozenset())})
    nothing = next(one for one in closed_shop.not_placed if one.outlet == "feed")
    assert (nothing.why, nothing.first_free) == (
        "The outlet may post on no day of the season.",
        None,
    )


def test_what_runs_already_is_respected_and_what_is_decided_stays() -> None:
    up = Run(
        id="up",
        piece="shawl-0",
        version="shawl-0",
        set="shawl",
        outlet="feed",
        span=Span(midnight(MONDAY, "UTC")),
        state=RunState.PLANNED,
    )
    fixed = Fixed(version="scarf-1", outlet="feed", day=date(2027, 1, 20))
    season = drawn(facts(up), fixed=(fixed,))
    starts = {(one.version, one.outlet): one.span.start for one in season.runs}
    assert starts["scarf-1", "feed"] == midnight(date(2027, 1, 20), "UTC")
    assert ("shawl-0", "feed") not in starts, "it is recorded there already"


def test_planned_anew_what_is_near_does_not_move_and_the_rest_only_for_a_reason() -> None:
    known = facts()
    first = drawn(known)
    again = drawn(known, before=first.runs)
    assert again.runs == first.runs
    later = BEFORE + timedelta(days=5)
    ends = {one for one in first.runs if later <= one.span.start < later + timedelta(days=7)}
    assert ends
    closed = facts(barred={"scarf-2": "withdrawn"})
    wanted = request(closed, before=first.runs)
    changed = propose(replace(wanted, now=later), closed)
    near = {one for one in ends if one.version != "scarf-2"}
    assert near <= set(changed.runs)
    assert all(one.version != "scarf-2" for one in changed.runs)


def test_a_version_goes_where_it_suits_best_when_places_are_few() -> None:
    known = facts(outlets=(SHOP,))
    wanted = tuple(
        Wanted(piece=one, outlet="shop", suits=3 if one.version.endswith("1") else 1)
        for one in PIECES
    )
    season = drawn(known, weeks=4, wanted=wanted)
    assert {one.version for one in season.runs} == {"shawl-1", "scarf-1"}


@pytest.mark.parametrize("weeks", [1, 3])
def test_a_small_season_is_as_full_as_trying_every_choice_makes_it(weeks: int) -> None:
    """Brute force over all starts of two rivals in the one feed."""
    known = facts(outlets=(FEED,))
    mine = PIECES[:2]
    wanted = tuple(Wanted(piece=one, outlet="feed") for one in mine)
    season = drawn(known, weeks=weeks, wanted=wanted)
    days = [MONDAY + timedelta(days=n) for n in range(7 * weeks) if n % 7 in {0, 2, 4}]
    most = 0
    for choice in product([None, *days], repeat=2):
        starts = [day for day in choice if day]
        apart = len(starts) < 2 or abs((starts[0] - starts[1]).days) >= 7 + 3
        most = max(most, len(starts) if apart else 0)
    assert len(season.runs) == most
