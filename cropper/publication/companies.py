"""Destinations that are seen together, and what each such company may show.

A *company* is a set of destinations whose outlets share an audience group, directly or through
others: rivals must not stand side by side, so a company shows one version at a time. An *option*
is one way to serve a company: a version and the destinations it takes, or nothing at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from cropper.errors import RivalsError
from cropper.proposal.proposal import TIE, Cost
from cropper.publication.outlets import Outlets

Costs = Mapping[tuple[str, str], Cost | None]
"""Cost of the best proposal by (version, destination); None (or missing): no crop."""

Weight = tuple[int, int]
"""What an assignment is compared by: destinations left without a crop, then steps of cost."""


def steps(cost: Cost) -> int:
    """A cost in steps that an eye sees: versions nearer than one do equally well.

    >>> steps(0.009), steps(0.1)
    (0, 5)
    """
    return round(cost / TIE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Company:
    """Destinations seen together, sorted by name; ``audience`` is everybody who sees them."""

    destinations: tuple[str, ...]
    audience: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A version for a company (None: nothing), where it is shown, and what that costs.

    ``cost`` starts with the number of wanted destinations left without a crop.
    ``kept_by``: the exclusive outlet that then keeps the version to itself.
    """

    version: str | None
    shown: frozenset[str]
    cost: Weight
    kept_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What an assignment must respect: outlets, fixed points (by destination), promises."""

    costs: Costs
    outlets: Outlets
    versions: tuple[str, ...]
    wanted: frozenset[str]
    fixed: Mapping[str, str]
    promised: Mapping[str, str]

    def may_run(self, version: str, destination: str) -> bool:
        """Whether no promise to one outlet keeps ``version`` out of ``destination``."""
        outlet = self.promised.get(version)
        return outlet is None or self.outlets.only_in(destination, outlet)

    def has_crop(self, version: str, destination: str) -> bool:
        """Whether the planner found a crop."""
        return self.costs.get((version, destination)) is not None


def companies(destinations: Iterable[str], outlets: Outlets) -> tuple[Company, ...]:
    """Tie destinations that share an audience group, transitively; sorted by first name."""
    found: list[tuple[set[str], set[str]]] = []
    for name in sorted(set(destinations)):
        seers = {f"outlet {outlet.name}" for outlet in outlets.of(name)}
        seers |= {f"group {group}" for group in outlets.audience(name)}
        together = [pair for pair in found if pair[1] & seers]
        found = [pair for pair in found if not pair[1] & seers]
        names = {name}.union(*(pair[0] for pair in together))
        found.append((names, seers.union(*(pair[1] for pair in together))))
    made = [
        Company(
            destinations=tuple(sorted(names)),
            audience=frozenset[str]().union(*(outlets.audience(name) for name in names)),
        )
        for names, _ in found
    ]
    return tuple(sorted(made, key=lambda company: company.destinations))


def options(company: Company, terms: Terms) -> tuple[Option, ...]:
    """Every way to serve a company that keeps its fixed points; versions by name, nothing last."""
    fixed = {name: terms.fixed[name] for name in company.destinations if name in terms.fixed}
    made: list[Option] = []
    for version in terms.versions:
        for kept_by, scope in _scopes(company, terms.outlets):
            if all(name in scope and fixed[name] == version for name in fixed):
                option = _option(version, scope, kept_by, company, terms)
                if option.shown or fixed:
                    made.append(option)
    if not fixed:
        empty = sum(name in terms.wanted for name in company.destinations)
        made.append(Option(version=None, shown=frozenset(), cost=(empty, 0)))
    return tuple(made)


def _scopes(company: Company, outlets: Outlets) -> list[tuple[str | None, tuple[str, ...]]]:
    """Where one version may stand: all open outlets, or one exclusive outlet and nothing else."""
    scopes: dict[str | None, list[str]] = {}
    for name in company.destinations:
        scopes.setdefault(outlets.exclusive_outlet(name), []).append(name)
    return [(key, tuple(scopes[key])) for key in sorted(scopes, key=lambda key: key or "")]


def _option(
    version: str, scope: Sequence[str], kept_by: str | None, company: Company, terms: Terms
) -> Option:
    shown = frozenset(
        name
        for name in scope
        if name in terms.wanted and terms.has_crop(version, name) and terms.may_run(version, name)
    )
    empty = sum(name in terms.wanted for name in company.destinations) - len(shown)
    costs = [cost for name in shown if (cost := terms.costs[version, name]) is not None]
    summed = sum(steps(cost) for cost in costs)
    return Option(version=version, shown=shown, cost=(empty, summed), kept_by=kept_by)


def refuse_contradictions(groups: Iterable[Company], terms: Terms) -> None:
    """Raise a RivalsError naming every pair of fixed points that cannot both be kept."""
    said = _rivals_side_by_side(groups, terms)
    said += _kept_elsewhere(terms)
    if said:
        raise RivalsError("\n".join(said))


def _rivals_side_by_side(groups: Iterable[Company], terms: Terms) -> list[str]:
    said = []
    for company in groups:
        points = [name for name in company.destinations if name in terms.fixed]
        for first, second in combinations(points, 2):
            mine, other = terms.fixed[first], terms.fixed[second]
            if mine != other:
                said.append(
                    f"'{mine}' is fixed for {first} and its rival '{other}' for {second}, but "
                    f"{_who(company, terms.outlets, first, second)} would see both. Fix one "
                    "version for both, lift one fixed point, or name separate audiences in "
                    "outlets.toml"
                )
    return said


def _who(company: Company, outlets: Outlets, first: str, second: str) -> str:
    """Who sees two destinations: a shared group, a shared outlet, or groups that overlap."""
    shared = outlets.audience(first) & outlets.audience(second)
    names = " and ".join(f"'{group}'" for group in sorted(shared or company.audience))
    return f"the audience {names}" if len(shared) == 1 else f"the audiences {names}"


def _kept_elsewhere(terms: Terms) -> list[str]:
    said = [
        f"'{version}' is fixed for {name}, yet it is promised to the outlet "
        f"'{terms.promised[version]}' alone. Lift the fixed point or the promise"
        for name, version in sorted(terms.fixed.items())
        if not terms.may_run(version, name)
    ]
    for name, version in sorted(terms.fixed.items()):
        keeper = terms.outlets.exclusive_outlet(name)
        for other, same in sorted(terms.fixed.items()):
            if keeper and same == version and not terms.outlets.only_in(other, keeper):
                said.append(
                    f"'{version}' is fixed for {name}, where the outlet '{keeper}' keeps it to "
                    f"itself, and for {other} too. Lift one fixed point, or drop 'exclusive' "
                    f"from the outlet '{keeper}'"
                )
    return said
