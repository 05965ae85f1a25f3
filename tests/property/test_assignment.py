"""The assignment is the best of all, shown against trying every one.

"An assignment: every wanted destination gets one version; one version per audience group at a
time, so rivals never stand side by side; an exclusive removes that version elsewhere; fixed points
are kept; on request every version is used at least once." Costs are compared in steps of .02:
"Costs nearer than .02 are a tie."

The trial of all below shares no code with the solver: it fills destinations one by one and judges
pairs of destinations by the outlets and groups they have in common.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations, product
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from cropper.errors import RivalsError
from cropper.proposal.proposal import Cost
from cropper.publication.assignment import Assignment, assign
from cropper.publication.outlets import Outlets

VERSIONS = ("lantern", "roll", "shawl")
PLACES = ("avatar", "cover", "folio", "square")
GROUPS = ("clients", "followers", "readers")
OUTLETS = ("gazette", "pages", "wall")


@dataclass(frozen=True)
class Case:
    costs: dict[tuple[str, str], Cost | None]
    outlets: dict[str, tuple[frozenset[str], bool]]
    runs_in: dict[str, tuple[str, ...]]
    fixed: dict[str, str]
    promised: dict[str, str]
    every: bool

    def as_outlets(self) -> Outlets:
        table = {
            name: {"kind": "placed", "audience": sorted(groups), "exclusive": alone}
            for name, (groups, alone) in self.outlets.items()
        }
        runs = {place: list(names) for place, names in self.runs_in.items() if names}
        return Outlets.from_mapping({"outlets": table, "destinations": runs})

    def solved(self) -> Assignment:
        return assign(
            self.costs,
            self.as_outlets(),
            fixed=self.fixed,
            exclusives=self.promised,
            use_every_version=self.every,
        )


@st.composite
def cases(draw: st.DrawFn) -> Case:
    versions = VERSIONS[: draw(st.integers(1, 3))]
    places = PLACES[: draw(st.integers(1, 4))]
    cost = st.one_of(st.sampled_from((0.0, 0.019, 0.03, 0.31)), st.floats(0, 400))
    crop = st.one_of(st.none(), cost, cost)
    groups = st.frozensets(st.sampled_from(GROUPS), min_size=1, max_size=2)
    outlets = {
        name: (draw(groups), draw(st.sampled_from([False, False, True]))) for name in OUTLETS
    }
    runs: dict[str, tuple[str, ...]] = {}
    for place in places:
        names = tuple(sorted(draw(st.sets(st.sampled_from(OUTLETS), max_size=2))))
        runs[place] = names[:1] if any(outlets[name][1] for name in names) else names
    return Case(
        costs={(version, place): draw(crop) for version in versions for place in places},
        outlets=outlets,
        runs_in=runs,
        fixed=draw(st.dictionaries(st.sampled_from(places), st.sampled_from(versions), max_size=2)),
        promised=draw(
            st.dictionaries(st.sampled_from(versions), st.sampled_from(OUTLETS), max_size=1)
        ),
        every=draw(st.booleans()),
    )


def places_of(case: Case) -> list[str]:
    return sorted({place for _, place in case.costs})


def tied(case: Case) -> list[set[str]]:
    """Destinations joined by an outlet or a group in common, joined on until nothing joins."""

    def seers(place: str) -> set[str]:
        names = case.runs_in.get(place, ())
        return {*names, *(f"g:{group}" for name in names for group in case.outlets[name][0])}

    circles = [{place} for place in places_of(case)]
    while True:
        for one, two in combinations(circles, 2):
            if any(seers(a) & seers(b) for a in one for b in two):
                circles = [circle for circle in circles if circle not in (one, two)] + [one | two]
                break
        else:
            return circles


def holds(case: Case, filled: dict[str, str | None]) -> bool:
    """Whether an assignment keeps every rule (the number of empty places is judged by cost)."""
    standing = {place: version for place, version in filled.items() if version is not None}
    for circle in tied(case):
        if len({standing[place] for place in circle if place in standing}) > 1:
            return False
    for place, version in standing.items():
        if version in case.promised and case.runs_in[place] != (case.promised[version],):
            return False
        keepers = [name for name in case.runs_in[place] if case.outlets[name][1]]
        for other, same in standing.items():
            if same == version and keepers and case.runs_in[other] != (keepers[0],):
                return False
    used = set(standing.values())
    return not case.every or used == {version for version, _ in case.costs}


def worth(case: Case, filled: dict[str, str | None]) -> tuple[int, int]:
    crops = [case.costs[version, place] for place, version in filled.items() if version]
    shown = [cost for cost in crops if cost is not None]
    empty = len(filled) - len(shown)
    return empty, sum(round(50 * cost) for cost in shown)


def all_of(case: Case) -> Iterator[dict[str, str | None]]:
    """Every filling that keeps the fixed points and puts nothing where it has no crop."""
    versions = sorted({version for version, _ in case.costs})
    choices: list[list[str | None]] = []
    for place in places_of(case):
        if place in case.fixed:
            choices.append([case.fixed[place]])
        else:
            able = [version for version in versions if case.costs[version, place] is not None]
            choices.append([*able, None])
    for filling in product(*choices):
        filled = dict(zip(places_of(case), filling, strict=True))
        if holds(case, filled):
            yield filled


@given(cases())
@settings(max_examples=600, deadline=None)
def test_no_assignment_that_keeps_the_rules_is_better(case: Case) -> None:
    tried = list(all_of(case))
    try:
        solved = case.solved()
    except RivalsError:
        assert not tried
        return
    assert solved.versions in tried
    assert solved.cost == worth(case, solved.versions)
    assert solved.cost == min(worth(case, one) for one in tried)


@given(cases())
@settings(max_examples=600, deadline=None)
def test_the_runner_up_is_the_best_that_shows_another_version_somewhere(case: Case) -> None:
    try:
        solved = case.solved()
    except RivalsError:
        return
    others = [
        worth(case, one)
        for one in all_of(case)
        if any(one[place] not in {None, solved.versions[place]} for place in one)
    ]
    if solved.runner_up is None:
        assert not others
        return
    assert solved.runner_up.cost == worth(case, dict(solved.runner_up.versions)) == min(others)
    paid = zip(solved.cost, solved.runner_up.extra, strict=True)
    assert tuple(cost + extra for cost, extra in paid) == solved.runner_up.cost
    assert solved.runner_up.extra >= (0, 0)


def told(case: Case) -> Assignment | str:
    try:
        return case.solved()
    except RivalsError as clash:
        return str(clash)


@given(cases(), st.randoms())
@settings(max_examples=200, deadline=None)
def test_the_order_in_which_things_are_named_changes_nothing(case: Case, dice: Random) -> None:
    rows = list(case.costs.items())
    dice.shuffle(rows)
    assert told(replace(case, costs=dict(rows))) == told(case)


@given(cases())
@settings(max_examples=200, deadline=None)
def test_every_destination_has_one_sentence_that_names_its_version(case: Case) -> None:
    solved = told(case)
    if isinstance(solved, str):
        return
    for place in solved.placements:
        assert place.sentence.endswith(".")
        assert place.version is None or f"'{place.version}'" in place.sentence
