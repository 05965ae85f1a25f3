"""Clashes against an oracle that knows no intervals, only sets of days.

Everything here begins and ends at midnight UTC, so a stretch is a set of day numbers. The oracle
asks, for each rule, whether forbidden days and the run's days come too near; it shares no code
with the rules. A far horizon stands for "for ever".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from cropper.publication.bars import Rule
from cropper.publication.clashes import clashes
from cropper.publication.facts import Facts
from cropper.publication.licences import AtEnd, Elsewhere, Licence, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.releases import Release, ReleaseStatus
from cropper.publication.runs import Piece, Run, RunState, SetRules
from cropper.publication.spans import Span, merged

DAY0 = datetime(2026, 1, 1, tzinfo=UTC)
FAR = 120
LATEST = 40
World = dict[str, Any]
VERSIONS = ("roll", "hood", "scarf")
AUDIENCES = ("followers", "clients")
OUTLETS = {
    "feed": Outlet(
        name="feed", kind=OutletKind.STREAM, audience=frozenset({"followers"}), window_days=3
    ),
    "wall": Outlet(
        name="wall",
        kind=OutletKind.PLACED,
        audience=frozenset(AUDIENCES),
        commercial=True,
    ),
    "own-page": Outlet(
        name="own-page", kind=OutletKind.PLACED, audience=frozenset({"clients"}), own=True
    ),
}
PIECE = Piece(
    sha256="p",
    file="p.jpg",
    version="roll",
    destination="square-post",
    master_sha256="m",
    people=("Ilse Marrow",),
)


@dataclass(frozen=True)
class Days:
    """A stretch as the first day and the first day after it; None: open."""

    first: int
    after: int | None

    @property
    def all(self) -> set[int]:
        return set(range(self.first, FAR if self.after is None else self.after))

    @property
    def span(self) -> Span:
        return Span(at(self.first), None if self.after is None else at(self.after))


def at(day: int) -> datetime:
    return DAY0 + timedelta(days=day)


@st.composite
def days(draw: st.DrawFn, *, least: int = 0) -> Days:
    first = draw(st.integers(least, 25))
    length = draw(st.none() | st.integers(1, 12))
    return Days(first, None if length is None else first + length)


def runs(version: st.SearchStrategy[str]) -> st.SearchStrategy[tuple[str, str, Days, RunState]]:
    return st.tuples(
        version,
        st.sampled_from(sorted(OUTLETS)),
        days(),
        st.sampled_from([RunState.LIVE, RunState.PLANNED, RunState.WITHDRAWN]),
    )


licences = st.builds(
    lambda *told: told,
    st.sampled_from(list(LicenceKind)),
    days(),
    st.sampled_from(sorted(OUTLETS)),
    st.booleans(),
    st.booleans(),
    st.sampled_from(list(AtEnd)),
    st.sampled_from(list(Elsewhere)),
)


def seen(outlet: str, stretch: Days) -> set[int]:
    """Days on which people meet it: in the stream only the first three."""
    if outlet == "feed":
        return {day for day in stretch.all if day < stretch.first + 3}
    return stretch.all


def near(mine: set[int], theirs: set[int], rest: int) -> bool:
    return any(abs(one - other) <= rest for one in mine for other in theirs)


def oracle(world: World, outlet: str, stretch: Days) -> set[Rule]:
    """The rules that a run of 'roll' at ``outlet`` breaks, counted in days."""
    broken = {
        rule
        for licence in world["licences"]
        for rule in by_licence(world, licence, outlet, stretch)
    }
    if any(is_near_rival(one, outlet, stretch, world["rest"]) for one in world["runs"]):
        broken.add(Rule.RIVALS)
    terms = [
        (stretch.all if end is AtEnd.MUST_COME_DOWN else {stretch.first}) <= taken.all
        for kind, taken, holder, _, _, end, _ in world["licences"]
        if kind is LicenceKind.TERM and outlet == holder
    ]
    if terms and not any(terms):
        broken.add(Rule.TERM)
    until = world["released_until"]
    if outlet == "wall" and (stretch.after is None or stretch.after > until):
        broken.add(Rule.RELEASE)
    return broken


def is_near_rival(other: Any, outlet: str, stretch: Days, rest: int) -> bool:
    version, where, theirs, state = other
    if state is RunState.WITHDRAWN or version == "roll":
        return False
    eyes = OUTLETS[outlet].audience & OUTLETS[where].audience
    return bool(eyes) and near(seen(outlet, stretch), seen(where, theirs), rest)


def by_licence(world: World, licence: Any, outlet: str, stretch: Days) -> Iterator[Rule]:
    kind, taken, holder, whole, own, _, elsewhere = licence
    excused = own and outlet == "own-page"
    if kind is LicenceKind.EMBARGO and not excused and stretch.first < taken.after:
        yield Rule.EMBARGO
    excused = excused or outlet == holder
    met = stretch.all if elsewhere is Elsewhere.TAKEN_DOWN else seen(outlet, stretch)
    if kind is LicenceKind.EXCLUSIVE and not excused and met & taken.all:
        yield Rule.EXCLUSIVE
    begun = [
        theirs.first
        for version, where, theirs, state in world["runs"]
        if where == holder and state is not RunState.WITHDRAWN and (whole or version == "roll")
    ]
    until = min(begun, default=FAR) if taken.after is None else taken.after
    if kind is LicenceKind.FIRST_USE and not excused and stretch.first < until:
        yield Rule.FIRST_USE


def facts_of(world: World) -> Facts:
    return Facts(
        outlets=OUTLETS,
        pieces=(PIECE,),
        runs=tuple(
            Run(
                id=f"run{number}",
                piece=version,
                version=version,
                set=world["told"],
                outlet=where,
                span=theirs.span,
                state=state,
            )
            for number, (version, where, theirs, state) in enumerate(world["runs"])
        ),
        licences=tuple(
            Licence(
                id=f"licence{number}",
                kind=kind,
                span=taken.span,
                outlet=holder,
                set="shawl" if whole else None,
                version="" if whole else "roll",
                own_portfolio=own,
                at_end=end,
                elsewhere=elsewhere,
            )
            for number, (kind, taken, holder, whole, own, end, elsewhere) in enumerate(
                world["licences"]
            )
        ),
        releases={
            "Ilse Marrow": Release(
                id="r",
                person="Ilse Marrow",
                status=ReleaseStatus.UNLIMITED,
                until=at(world["released_until"]),
            )
        },
        sets={"shawl": SetRules(name="shawl", versions=VERSIONS, rest_days=world["rest"])},
    )


worlds = st.fixed_dictionaries(
    {
        "runs": st.lists(runs(st.sampled_from(VERSIONS)), max_size=4),
        "told": st.sampled_from([None, "shawl"]),  # whether the runs themselves name their set
        "licences": st.lists(
            licences.filter(lambda one: one[0] is not LicenceKind.EMBARGO or one[1].after),
            max_size=2,
        ),
        "rest": st.integers(0, 4),
        "released_until": st.integers(20, 60),
    }
)


def mine_of(outlet: str, stretch: Days) -> Run:
    return Run(id="mine", piece="p", version="roll", outlet=outlet, span=stretch.span)


@given(worlds, st.sampled_from(sorted(OUTLETS)), days())
def test_a_run_breaks_exactly_the_rules_that_counting_days_says(
    world: World, outlet: str, stretch: Days
) -> None:
    found = clashes(mine_of(outlet, stretch), facts_of(world))
    assert {one.rule for one in found} == oracle(world, outlet, stretch)


@given(worlds, st.sampled_from(sorted(OUTLETS)), days())
def test_the_earliest_date_is_the_first_day_on_which_no_rule_is_broken(
    world: World, outlet: str, stretch: Days
) -> None:
    found = clashes(mine_of(outlet, stretch), facts_of(world))
    if not found:
        return
    length = None if stretch.after is None else stretch.after - stretch.first
    fine = (
        day
        for day in range(stretch.first, 80)
        if not oracle(world, outlet, Days(day, None if length is None else day + length))
    )
    first = next(fine, None)
    assert found[0].earliest_ok == (None if first is None else at(first))


@given(st.lists(days(), max_size=6))
def test_merged_stretches_cover_the_same_days_and_lie_apart(stretches: list[Days]) -> None:
    told = merged(one.span for one in stretches)
    covered = {day for day in range(FAR) if any(one.holds(at(day)) for one in told)}
    assert covered == set().union(*(one.all for one in stretches))
    assert all(one.until is not None and one.until < after.start for one, after in pairwise(told))


@given(days(), days())
def test_overlap_is_the_same_from_both_sides_and_means_a_day_in_common(
    one: Days, other: Days
) -> None:
    assert one.span.overlaps(other.span) == other.span.overlaps(one.span)
    assert one.span.overlaps(other.span) == bool(one.all & other.all)
