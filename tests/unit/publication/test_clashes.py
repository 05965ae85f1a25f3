"""May this run there, then? Boundaries, zones, and every rule's sentence and way out."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from cropper.errors import MisuseError
from cropper.publication.bars import Rule
from cropper.publication.clashes import all_clashes, clashes
from cropper.publication.dates import midnight, read_instant, said
from cropper.publication.facts import Facts
from cropper.publication.licences import Against, AtEnd, Licence, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.releases import Release, ReleaseStatus
from cropper.publication.runs import Piece, Run, RunState, SetRules
from cropper.publication.spans import Span

OSLO = "Europe/Oslo"
FOLLOWERS = frozenset({"followers"})
OUTLETS = {
    "my-pages": Outlet(name="my-pages", kind=OutletKind.STREAM, audience=FOLLOWERS),
    "my-walls": Outlet(
        name="my-walls", kind=OutletKind.PLACED, audience=frozenset({"visitors"}), own=True
    ),
    "mill-shop": Outlet(
        name="mill-shop",
        kind=OutletKind.PLACED,
        audience=FOLLOWERS | {"buyers"},
        industry="knitwear",
        commercial=True,
    ),
    "spring-issue": Outlet(
        name="spring-issue", kind=OutletKind.PLACED, audience=frozenset({"readers"}), medium="print"
    ),
}


def day(month: int, number: int) -> datetime:
    return midnight(date(2026, month, number), OSLO)


def run(version: str, outlet: str, start: datetime, until: datetime | None, **more: Any) -> Run:
    return Run(
        **{
            "id": f"{version}@{outlet}",
            "piece": version,
            "version": version,
            "set": "shawl",
            "outlet": outlet,
            "span": Span(start, until),
            "zone": OSLO,
            **more,
        }
    )


def facts(*runs: Run, **more: Any) -> Facts:
    return Facts(outlets=OUTLETS, runs=runs, **more)


def licence(kind: LicenceKind, start: datetime, until: datetime | None, **more: Any) -> Licence:
    given: dict[str, Any] = {
        "id": "deal",
        "outlet": "spring-issue",
        "set": "shawl",
        "zone": OSLO,
        **more,
    }
    return Licence(kind=kind, span=Span(start, until), **given)


def test_a_version_may_follow_its_rival_on_the_day_it_comes_down() -> None:
    hood = run("hood", "mill-shop", day(3, 1), day(4, 1))
    assert clashes(run("roll", "mill-shop", day(4, 1), day(5, 1)), facts(hood)) == ()
    assert clashes(run("roll", "mill-shop", day(2, 1), day(3, 1)), facts(hood)) == ()


def test_an_instant_too_early_is_a_clash_that_names_the_rival_and_the_day_it_would_be_fine() -> (
    None
):
    hood = run("hood", "mill-shop", day(3, 1), day(4, 1))
    early = run("roll", "mill-shop", day(4, 1) - timedelta(seconds=1), day(5, 1))
    (clash,) = clashes(early, facts(hood))
    assert clash.rule is Rule.RIVALS
    assert clash.against == "hood@mill-shop"
    assert clash.earliest_ok == day(4, 1)
    assert clash.sentence == (
        "Its rival 'hood' is running at 'mill-shop' from 1 March 2026 until 1 April 2026."
    )
    assert clash.way_out == "It would be fine from 1 April 2026."


def test_rivals_before_one_audience_clash_although_the_outlets_differ() -> None:
    hood = run("hood", "my-pages", day(3, 1), None)
    (clash,) = clashes(run("roll", "mill-shop", day(3, 10), day(3, 20)), facts(hood))
    assert "before the same audience (followers)" in clash.sentence
    assert clashes(run("roll", "spring-issue", day(3, 10), day(3, 20)), facts(hood)) == ()


def test_a_stream_shows_a_picture_for_its_window_although_it_never_comes_down() -> None:
    hood = run("hood", "my-pages", day(3, 1), None)
    window_over = hood.span.start + timedelta(days=30)
    assert clashes(run("roll", "my-pages", window_over, None), facts(hood)) == ()
    (clash,) = clashes(run("roll", "my-pages", window_over - timedelta(hours=1), None), facts(hood))
    assert clash.earliest_ok == window_over


def test_a_set_that_rests_keeps_its_rivals_apart_by_whole_days() -> None:
    known = facts(
        run("hood", "mill-shop", day(3, 1), day(4, 1)),
        sets={"shawl": SetRules(name="shawl", versions=("hood", "roll"), rest_days=7)},
    )
    (clash,) = clashes(run("roll", "mill-shop", day(4, 5), day(5, 1)), known)
    assert "the set rests 7 days" in clash.sentence
    assert clash.earliest_ok == day(4, 8)
    assert clashes(run("roll", "mill-shop", day(4, 8), day(5, 1)), known) == ()


def test_the_same_version_is_no_rival_of_itself_and_a_withdrawn_one_of_nobody() -> None:
    again = run("roll", "my-pages", day(3, 1), None)
    gone = run("hood", "mill-shop", day(3, 1), None, state=RunState.WITHDRAWN)
    assert clashes(run("roll", "mill-shop", day(3, 1), None), facts(again, gone)) == ()


def test_an_exclusive_shuts_out_everyone_but_its_exceptions_and_the_own_portfolio() -> None:
    deal = licence(
        LicenceKind.EXCLUSIVE, day(3, 1), day(4, 1), own_portfolio=True, exceptions=("my-pages",)
    )
    known = facts(licences=(deal,))
    (clash,) = clashes(run("roll", "mill-shop", day(3, 31), day(5, 1)), known)
    assert clash.rule is Rule.EXCLUSIVE
    assert clash.sentence == (
        "'spring-issue' has the whole set 'shawl' alone from 1 March 2026 until 1 April 2026."
    )
    assert clash.earliest_ok == day(4, 1)
    for allowed in ("spring-issue", "my-walls", "my-pages"):
        assert clashes(run("roll", allowed, day(3, 10), day(3, 12)), known) == ()


def test_an_exclusive_against_an_industry_leaves_other_industries_free() -> None:
    def against(value: str) -> Facts:
        deal = licence(
            LicenceKind.EXCLUSIVE, day(3, 1), day(4, 1), against=Against.INDUSTRY, value=value
        )
        return facts(licences=(deal,))

    wanted = run("roll", "mill-shop", day(3, 10), day(3, 12))
    assert clashes(wanted, against("Knitwear"))
    assert clashes(wanted, against("tea")) == ()


def test_an_embargo_with_a_zone_ends_at_its_own_instant() -> None:
    until = read_instant("2026-03-01T00:00+09:00", "UTC")
    assert until == datetime(2026, 2, 28, 15, tzinfo=UTC)  # [embargo, RFC 3339]
    deal = licence(LicenceKind.EMBARGO, day(1, 1), until, outlet="")
    known = facts(licences=(deal,))
    assert clashes(run("roll", "my-walls", until, None), known) == ()
    (clash,) = clashes(run("roll", "my-walls", until - timedelta(seconds=1), None), known)
    assert clash.rule is Rule.EMBARGO
    assert clash.earliest_ok == until


def test_first_use_lasts_its_sixty_days_from_the_invoice() -> None:
    deal = licence(LicenceKind.FIRST_USE, day(3, 2), day(3, 2) + timedelta(days=60))
    utc_invoice = datetime(2026, 3, 2, tzinfo=UTC) + timedelta(days=60)
    assert utc_invoice == datetime(2026, 5, 1, tzinfo=UTC)  # [windows: 2026-03-02 -> 2026-05-01]
    (clash,) = clashes(run("roll", "my-pages", day(3, 20), None), facts(licences=(deal,)))
    assert clash.rule is Rule.FIRST_USE
    assert clash.earliest_ok == deal.span.until


def test_first_use_without_an_end_is_over_once_the_outlet_has_begun() -> None:
    deal = licence(LicenceKind.FIRST_USE, day(3, 2), None)
    begun = run("roll", "spring-issue", day(4, 15), day(5, 15))
    wanted = run("roll", "my-pages", day(4, 1), None)
    (never,) = clashes(wanted, facts(licences=(deal,)))
    assert never.earliest_ok is None
    (clash,) = clashes(wanted, facts(begun, licences=(deal,)))
    assert clash.earliest_ok == day(4, 15)


@pytest.mark.parametrize(
    ("at_end", "start", "until", "fine"),
    [
        (AtEnd.NO_NEW_USE, day(5, 31), None, True),
        (AtEnd.NO_NEW_USE, day(6, 1), None, False),
        (AtEnd.MUST_COME_DOWN, day(5, 1), day(6, 1), True),
        (AtEnd.MUST_COME_DOWN, day(5, 1), day(6, 2), False),
        (AtEnd.MUST_COME_DOWN, day(5, 1), None, False),
        (AtEnd.NO_NEW_USE, day(2, 1), day(3, 15), False),
    ],
)
def test_the_end_of_a_licence_means_what_was_agreed(
    at_end: AtEnd, start: datetime, until: datetime | None, *, fine: bool
) -> None:
    deal = licence(LicenceKind.TERM, day(3, 1), day(6, 1), at_end=at_end)
    found = clashes(run("roll", "spring-issue", start, until), facts(licences=(deal,)))
    assert (found == ()) == fine
    assert {one.rule for one in found} <= {Rule.TERM}


def test_a_renewed_licence_may_be_used_again() -> None:
    first = licence(LicenceKind.TERM, day(3, 1), day(4, 1))
    second = licence(LicenceKind.TERM, day(6, 1), day(7, 1), id="renewed")
    (clash,) = clashes(
        run("roll", "spring-issue", day(5, 1), day(5, 20)), facts(licences=(first, second))
    )
    assert clash.earliest_ok == day(6, 1)


PIECE = Piece(
    sha256="roll",
    file="roll.jpg",
    version="roll",
    destination="page-header",
    master_sha256="m",
    people=("Ilse Marrow",),
)


@pytest.mark.parametrize(
    ("status", "outlets", "fine"),
    [
        (None, (), False),
        (ReleaseStatus.NONE, (), False),
        (ReleaseStatus.LIMITED, (), False),
        (ReleaseStatus.LIMITED, ("mill-shop",), True),
        (ReleaseStatus.UNLIMITED, (), True),
        (ReleaseStatus.NOT_APPLICABLE, (), True),
    ],
)
def test_a_commercial_run_needs_a_release_that_reaches_it(
    status: ReleaseStatus | None, outlets: tuple[str, ...], *, fine: bool
) -> None:
    given = (
        {}
        if status is None
        else {"Ilse Marrow": Release(id="r", person="Ilse Marrow", status=status, outlets=outlets)}
    )
    known = facts(pieces=(PIECE,), releases=given)
    found = clashes(run("roll", "mill-shop", day(3, 1), day(4, 1)), known)
    assert (found == ()) == fine
    assert all("Ilse Marrow" in one.sentence and "confirm" in one.sentence for one in found)
    assert clashes(run("roll", "my-pages", day(3, 1), day(4, 1)), known) == ()


def test_a_version_refused_in_review_never_runs() -> None:
    known = facts(barred={"roll": "refused in review"})
    (clash,) = clashes(run("roll", "my-walls", day(3, 1), None), known)
    assert clash.rule is Rule.BARRED
    assert clash.earliest_ok is None


def test_the_earliest_date_is_fine_by_all_rules_together() -> None:
    deal = licence(LicenceKind.EXCLUSIVE, day(3, 1), day(4, 1))
    hood = run("hood", "mill-shop", day(3, 15), day(5, 1))
    wanted = run("roll", "mill-shop", day(3, 20), day(4, 10))
    found = clashes(wanted, facts(hood, licences=(deal,), pieces=()))
    assert {one.rule for one in found} == {Rule.EXCLUSIVE, Rule.RIVALS}
    assert {one.earliest_ok for one in found} == {day(5, 1)}


def test_two_rivals_that_meet_are_told_once_among_everything_recorded() -> None:
    known = facts(
        run("hood", "mill-shop", day(3, 1), day(4, 1)),
        run("roll", "mill-shop", day(3, 20), day(4, 10)),
    )
    assert len(list(all_clashes(known))) == 1


def test_a_day_of_twenty_three_hours_still_ends_at_midnight() -> None:
    # Oslo goes over to summer time on 29 March 2026 [IANA tzdata]
    assert midnight(date(2026, 3, 30), OSLO) - midnight(date(2026, 3, 29), OSLO) == timedelta(
        hours=23
    )
    hood = run("hood", "mill-shop", day(3, 28), day(3, 30))
    assert clashes(run("roll", "mill-shop", day(3, 30), None), facts(hood)) == ()
    assert clashes(run("roll", "mill-shop", day(3, 29) + timedelta(hours=22), None), facts(hood))


def test_dates_are_read_with_their_zone_and_times_without_one_are_refused() -> None:
    assert read_instant("2026-07-01", OSLO) == datetime(2026, 6, 30, 22, tzinfo=UTC)
    assert said(day(7, 1), OSLO) == "1 July 2026"
    with pytest.raises(MisuseError, match="has no zone"):
        read_instant("2026-07-01T09:00", OSLO)
    with pytest.raises(MisuseError, match="is no date"):
        read_instant("next week", OSLO)
    with pytest.raises(MisuseError, match="not a time zone"):
        read_instant("2026-07-01", "Nowhere/Town")
    with pytest.raises(MisuseError, match="no later than it starts"):
        Span(day(3, 1), day(3, 1))


def test_an_outlet_nobody_knows_is_named_with_those_that_are() -> None:
    with pytest.raises(MisuseError, match="mill-shop, my-pages"):
        clashes(run("roll", "mil-shop", day(3, 1), None), facts())
