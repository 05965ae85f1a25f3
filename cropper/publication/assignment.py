"""Which version goes where: the exact answer, the next best one, and a reason for each place.

Every wanted destination gets one version, or none when nothing may stand there. Destinations seen
by one audience form a company and show one version; an exclusive removes its version elsewhere;
fixed points are kept. The cost of an assignment is (destinations left without a crop, then the
planner's costs added up in steps that an eye sees), compared in that order. Solved exactly by
dynamic programming over companies and sets of used versions; ties go to the version whose name
comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from cropper.errors import MisuseError, RivalsError
from cropper.proposal.proposal import Cost
from cropper.publication.companies import (
    Company,
    Costs,
    Option,
    Terms,
    Weight,
    companies,
    options,
    refuse_contradictions,
)
from cropper.publication.outlets import Outlets
from cropper.publication.reasons import Seat, extra_sentence, reason
from cropper.publication.searching import Search


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """What one destination gets, and why.

    ``version`` None: left without a crop. ``cost`` None beside a version: you fixed it here, but
    the planner has no crop for it.
    """

    destination: str
    version: str | None
    cost: Cost | None
    outlets: tuple[str, ...]
    fixed: bool
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunnerUp:
    """The best assignment in which some destination shows another version.

    ``extra`` is what it costs more, as :attr:`Assignment.cost`.
    """

    versions: Mapping[str, str | None]
    cost: Weight
    extra: Weight
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """One version per destination. ``cost`` = (left without a crop, steps of cost added up)."""

    placements: tuple[Placement, ...]
    cost: Weight
    runner_up: RunnerUp | None

    @property
    def versions(self) -> dict[str, str | None]:
        """Destination to version."""
        return {place.destination: place.version for place in self.placements}

    @property
    def left_empty(self) -> tuple[Placement, ...]:
        """Destinations without a crop."""
        return tuple(place for place in self.placements if place.cost is None)


def assign(
    costs: Costs,
    outlets: Outlets,
    *,
    fixed: Mapping[str, str] | None = None,
    exclusives: Mapping[str, str] | None = None,
    use_every_version: bool = False,
) -> Assignment:
    """Give every destination in ``costs`` a version of one set.

    ``costs`` maps (version, destination) to the cost of the best proposal, None: no crop.
    ``fixed`` (destination to version) and ``exclusives`` (version to its only outlet) are added
    to what ``outlets`` says, and win over it; names in ``outlets`` of versions outside this set
    are passed over (one file serves all sets of a job). A fixed destination that is not in
    ``costs`` already runs and binds its company.

    Raises RivalsError when fixed points contradict each other or not every version can be used,
    MisuseError when ``fixed`` or ``exclusives`` name what does not exist.
    """
    terms = _terms(costs, outlets, fixed or {}, exclusives or {})
    groups = companies(terms.wanted | set(terms.fixed), outlets)
    refuse_contradictions(groups, terms)
    choices = [options(company, terms) for company in groups]
    search = Search(choices, terms, use_every_version=use_every_version)
    best = search.best()
    if best is None:
        raise _not_all_used(terms, groups)
    placed = tuple(
        _placement(name, company, option, terms, best)
        for company, option in zip(groups, best, strict=True)
        for name in company.destinations
        if name in terms.wanted
    )
    return Assignment(
        placements=tuple(sorted(placed, key=lambda place: place.destination)),
        cost=_total(best),
        runner_up=_runner_up(search.best(unlike=best), best, groups, terms),
    )


def _terms(
    costs: Costs, outlets: Outlets, fixed: Mapping[str, str], exclusives: Mapping[str, str]
) -> Terms:
    versions = tuple(sorted({version for version, _ in costs}))
    _refuse_strangers(versions, outlets, fixed, exclusives)
    mine = {name: version for name, version in outlets.fixed.items() if version in versions}
    return Terms(
        costs=costs,
        outlets=outlets,
        versions=versions,
        wanted=frozenset(destination for _, destination in costs),
        fixed={**mine, **fixed},
        promised={**outlets.exclusives, **exclusives},
    )


def _refuse_strangers(
    versions: Sequence[str],
    outlets: Outlets,
    fixed: Mapping[str, str],
    exclusives: Mapping[str, str],
) -> None:
    listed = ", ".join(versions) or "none"
    for version in (*fixed.values(), *exclusives):
        if version not in versions:
            raise MisuseError(f"there is no version '{version}'", way_out=f"Versions: {listed}")
    for outlet in exclusives.values():
        if outlet not in outlets.outlets:
            raise MisuseError(
                f"there is no outlet '{outlet}'",
                way_out=f"Outlets: {', '.join(sorted(outlets.outlets)) or 'none'}",
            )


def _total(taken: Iterable[Option]) -> Weight:
    costs = [option.cost for option in taken]
    return sum(empty for empty, _ in costs), sum(steps for _, steps in costs)


def _served(name: str, option: Option, terms: Terms) -> str | None:
    """The version at a destination: shown there, or fixed there even without a crop."""
    return option.version if name in option.shown else terms.fixed.get(name)


def _placement(
    name: str, company: Company, option: Option, terms: Terms, taken: Sequence[Option]
) -> Placement:
    version = _served(name, option, terms)
    seat = Seat(destination=name, company=company, option=option, taken=taken)
    return Placement(
        destination=name,
        version=version,
        cost=None if version is None else terms.costs.get((version, name)),
        outlets=tuple(outlet.name for outlet in terms.outlets.of(name)),
        fixed=name in terms.fixed,
        sentence=reason(seat, terms),
    )


def _runner_up(
    second: Sequence[Option] | None,
    best: Sequence[Option],
    groups: Sequence[Company],
    terms: Terms,
) -> RunnerUp | None:
    if second is None:
        return None
    versions = {
        name: _served(name, option, terms)
        for company, option in zip(groups, second, strict=True)
        for name in company.destinations
        if name in terms.wanted
    }
    cost, least = _total(second), _total(best)
    extra = cost[0] - least[0], cost[1] - least[1]
    return RunnerUp(
        versions=dict(sorted(versions.items())),
        cost=cost,
        extra=extra,
        sentence=extra_sentence(extra),
    )


def _not_all_used(terms: Terms, groups: Sequence[Company]) -> RivalsError:
    """Why ``use_every_version`` cannot be met."""
    without = [
        version
        for version in terms.versions
        if not any(terms.has_crop(version, name) for name in terms.wanted)
    ]
    if without:
        named = ", ".join(f"'{version}'" for version in without)
        what = f"not every version can be used: {named} has no crop in any destination asked for"
        return RivalsError(what, way_out="Leave it out of the set, or ask for more destinations")
    what = (
        f"not every version can be used: {len(terms.versions)} versions, and the destinations "
        f"make {len(groups)} separate audiences with what is fixed and promised"
    )
    way_out = "Ask for destinations seen by other people, lift a fixed point, or drop the wish"
    return RivalsError(what, way_out=way_out)
