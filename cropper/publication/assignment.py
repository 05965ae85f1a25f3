"""Which version goes where: the exact answer, the next best one, and a reason for each place.

Every wanted destination gets one version, or none when nothing may stand there. Destinations seen
by one audience form a company and show one version; an exclusive removes its version elsewhere;
fixed points are kept. The cost of an assignment is (destinations left without a crop, then the
planner's tiers added up), compared in that order. Solved exactly by dynamic programming over
companies and sets of used versions; ties go to the version whose name comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from cropper.errors import MisuseError, RivalsError
from cropper.proposal.proposal import TIERS, Cost
from cropper.publication.companies import (
    Company,
    Costs,
    Option,
    Terms,
    companies,
    options,
    refuse_contradictions,
)
from cropper.publication.outlets import Outlets
from cropper.publication.reasons import Seat, extra_sentence, reason

MOST_VERSIONS: Final = 12
"""House limit where sets of used versions must be told apart: 2^12 sets stay below a second."""


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

    ``extra`` is what it costs more, in the order of :attr:`Assignment.cost`.
    """

    versions: Mapping[str, str | None]
    cost: Cost
    extra: Cost
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """One version per destination. ``cost`` = (left without a crop, tiers added up)."""

    placements: tuple[Placement, ...]
    cost: Cost
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
    search = _Search(choices, terms, use_every_version=use_every_version)
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
        cost=_total(best, terms),
        runner_up=_runner_up(search.best(unlike=best), best, groups, terms),
    )


def _terms(
    costs: Costs, outlets: Outlets, fixed: Mapping[str, str], exclusives: Mapping[str, str]
) -> Terms:
    lengths = {len(cost) for cost in costs.values() if cost is not None}
    if len(lengths) > 1:
        message = f"costs differ in length: {sorted(lengths)}"
        raise ValueError(message)
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
        tiers=lengths.pop() if lengths else len(TIERS),
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


@dataclass(frozen=True, slots=True, order=True)
class _Path:
    """The cheapest way into a state: its cost, then the indices of the options taken."""

    cost: Cost
    taken: tuple[int, ...]


_State = tuple[int, int, bool]
"""Versions used (bits), versions kept by an exclusive outlet (bits), unlike the best one."""


class _Search:
    """Dynamic programming: company by company, the cheapest path into every state."""

    def __init__(
        self, choices: Sequence[Sequence[Option]], terms: Terms, *, use_every_version: bool
    ) -> None:
        self.choices = choices
        self.terms = terms
        self.every = use_every_version
        self.keeping = any(option.kept_by for group in choices for option in group)
        self.bits = {version: 1 << at for at, version in enumerate(terms.versions)}
        if (self.every or self.keeping) and len(self.bits) > MOST_VERSIONS:
            raise MisuseError(
                f"{len(self.bits)} versions are too many to be told apart in one set",
                way_out=f"Make sets of at most {MOST_VERSIONS} versions",
            )

    def best(self, *, unlike: Sequence[Option] | None = None) -> tuple[Option, ...] | None:
        """The cheapest choice of options; with ``unlike``, showing another version somewhere."""
        start: _State = (0, 0, unlike is None)
        paths = {start: _Path((0,) * (self.terms.tiers + 1), ())}
        for at, group in enumerate(self.choices):
            taken = unlike[at] if unlike is not None else None
            paths = self._after(paths, group, taken)
        whole = (1 << len(self.bits)) - 1
        ends = [
            path
            for (used, _, differs), path in paths.items()
            if differs and (not self.every or used == whole)
        ]
        if not ends:
            return None
        return tuple(
            group[index] for group, index in zip(self.choices, min(ends).taken, strict=True)
        )

    def _after(
        self,
        paths: Mapping[_State, _Path],
        group: Sequence[Option],
        best: Option | None,
    ) -> dict[_State, _Path]:
        after: dict[_State, _Path] = {}
        for state, path in paths.items():
            for index, option in enumerate(group):
                reached = self._step(state, option, differs=_shows_another(option, best))
                if reached is None:
                    continue
                added = tuple(a + b for a, b in zip(path.cost, option.cost, strict=True))
                candidate = _Path(added, (*path.taken, index))
                if reached not in after or candidate < after[reached]:
                    after[reached] = candidate
        return after

    def _step(self, state: _State, option: Option, *, differs: bool) -> _State | None:
        """The state after taking an option; None when an exclusive forbids it."""
        used, kept, unlike = state
        bit = self.bits[option.version] if option.version is not None else 0
        if bit & (used if option.kept_by else kept):
            return None
        if self.every or self.keeping:
            used |= bit
        if option.kept_by:
            kept |= bit
        return (used, kept, unlike or differs)


def _shows_another(option: Option, best: Option | None) -> bool:
    """Whether some destination shows a version here that it does not show in ``best``."""
    if best is None or option.version is None:
        return False
    return bool(option.shown if option.version != best.version else option.shown - best.shown)


def _total(taken: Iterable[Option], terms: Terms) -> Cost:
    zero = (0,) * (terms.tiers + 1)
    return tuple(sum(tier) for tier in zip(zero, *(option.cost for option in taken), strict=True))


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
    cost = _total(second, terms)
    extra = tuple(mine - other for mine, other in zip(cost, _total(best, terms), strict=True))
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
