"""What runs, what must come down, what is free, what never ran, and what is a fixed point."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

from cropper.publication.facts import Facts
from cropper.publication.licences import AtEnd, LicenceKind
from cropper.publication.outlets import Outlets
from cropper.publication.runs import Piece, Run, RunState
from cropper.publication.spans import Span
from cropper.publication.whereabouts import (
    free_to_use,
    gaps,
    must_come_down,
    never_run,
    running,
    standing,
    unused_destinations,
)
from tests.unit.publication.test_clashes import OUTLETS, day, facts, licence, run


def piece(version: str, destination: str = "square-post") -> Piece:
    return Piece(
        sha256=f"{version}-{destination}",
        file=f"{version}.jpg",
        version=version,
        destination=destination,
        master_sha256=version,
        set="shawl",
    )


HOOD = run("hood", "mill-shop", day(3, 1), day(4, 1), destination="page-header")


def test_a_run_is_up_from_its_first_instant_until_its_last() -> None:
    known = facts(HOOD)
    assert running(known, day(3, 1)) == (HOOD,)
    assert running(known, day(4, 1)) == ()


def test_what_outlasts_its_licence_must_come_down_unless_it_was_renewed() -> None:
    ending = licence(LicenceKind.TERM, day(1, 1), day(3, 15), at_end=AtEnd.MUST_COME_DOWN)
    ends = replace(ending, outlet="mill-shop")
    week = Span(day(3, 9), day(3, 16))
    (down,) = must_come_down(facts(HOOD, licences=(ends,)), week)
    assert (down.run, down.at) == (HOOD, day(3, 15))
    renewed = replace(ends, id="new", span=Span(day(3, 15), day(6, 1)))
    assert must_come_down(facts(HOOD, licences=(ends, renewed)), week) == ()
    assert must_come_down(facts(HOOD, licences=(ends,)), Span(day(3, 16), day(3, 23))) == ()


def test_what_is_free_says_for_each_outlet_what_stands_in_the_way() -> None:
    known = facts(HOOD, pieces=(piece("roll"), piece("hood")))
    told = {(one.version, one.outlet): one.free for one in free_to_use(known, day(3, 10))}
    assert told["roll", "mill-shop"] is False
    assert told["roll", "spring-issue"] is True
    assert told["hood", "mill-shop"] is True
    (only,) = [one for one in free_to_use(known, day(3, 10), "my-walls") if one.version == "roll"]
    assert only.free


def test_versions_and_destinations_that_never_ran_are_listed() -> None:
    pieces = (piece("roll"), piece("hood", "page-header"), piece("hood"))
    withdrawn = run("roll", "my-walls", day(3, 1), None, state=RunState.WITHDRAWN)
    known = facts(HOOD, withdrawn, pieces=pieces)
    assert never_run(known) == ("roll",)
    assert unused_destinations(known) == (("hood", "square-post"), ("roll", "square-post"))


def test_gaps_are_the_days_on_which_an_outlet_shows_nothing() -> None:
    over = Span(day(2, 1), day(5, 1))
    found = gaps(facts(HOOD), over)
    assert found["mill-shop"] == (Span(day(2, 1), day(3, 1)), Span(day(4, 1), day(5, 1)))
    assert found["my-walls"] == (over,)


def test_what_runs_or_is_promised_is_a_fixed_point_of_the_next_plan() -> None:
    deal = licence(LicenceKind.EXCLUSIVE, day(3, 1), day(6, 1), set=None, version="roll")
    known = facts(HOOD, licences=(deal,), pieces=(piece("roll"), piece("hood")))
    mine = Outlets(outlets=MappingProxyType(OUTLETS))
    told = standing(known, ("roll", "hood"), ("page-header", "square-post"), mine, day(3, 10))
    assert dict(told.outlets.fixed) == {"page-header": "hood"}
    assert dict(told.outlets.exclusives) == {"roll": "spring-issue"}
    assert told.sentences == (
        "'hood' runs at 'mill-shop', so page-header stays with it.",
        "'spring-issue' has 'roll' alone for now.",
    )
    later = standing(known, ("roll", "hood"), ("page-header",), mine, day(6, 1))
    assert later.outlets == mine
    assert later.sentences == ()


def test_what_the_photographer_fixed_counts_before_the_record() -> None:
    mine = Outlets(
        outlets=MappingProxyType(OUTLETS), fixed=MappingProxyType({"page-header": "roll"})
    )
    told = standing(facts(HOOD), ("roll", "hood"), ("page-header",), mine, day(3, 10))
    assert dict(told.outlets.fixed) == {"page-header": "roll"}


def test_an_empty_record_answers_everything_with_nothing() -> None:
    known = Facts()
    assert running(known, day(3, 1)) == ()
    assert never_run(known) == ()
    assert free_to_use(known, day(3, 1)) == ()
    assert isinstance(HOOD, Run)
