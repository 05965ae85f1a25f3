"""One plain sentence for each destination: why this version stands here, or why none does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cropper.proposal.proposal import TIE
from cropper.publication.companies import Company, Option, Terms, Weight, steps


def listed(names: Sequence[str]) -> str:
    """Names as a person lists them.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """A destination in its company, the option that serves the company, and all options taken."""

    destination: str
    company: Company
    option: Option
    taken: Sequence[Option]


def reason(seat: Seat, terms: Terms) -> str:
    """Why a destination gets what it gets, or why it stays empty."""
    name, option = seat.destination, seat.option
    if name in terms.fixed:
        return _of_fixed(name, terms)
    able = sorted(
        (version for version in terms.versions if terms.has_crop(version, name)),
        key=lambda version: (_steps(version, name, terms), version),
    )
    if not able:
        return "No version has a crop here."
    if option.version is None or name not in option.shown:
        return f"Left empty: {_obstacle(able[0], seat, terms)}."
    if option.version == able[0] or _tie(able[0], option.version, name, terms):
        return _of_best(option.version, name, able, terms)
    why = _obstacle(able[0], seat, terms)
    return f"'{option.version}', though '{able[0]}' alone would fit better here: {why}."


def _of_fixed(name: str, terms: Terms) -> str:
    version = terms.fixed[name]
    said = f"'{version}' stays here because you fixed it."
    if terms.has_crop(version, name):
        return said
    return f"{said} It has no crop here: place one by hand, or lift the fixed point."


def _of_best(chosen: str, name: str, able: Sequence[str], terms: Terms) -> str:
    if len(able) == 1:
        return f"'{chosen}' is the only version with a crop here."
    other = next(version for version in able if version != chosen)
    if _tie(chosen, other, name, terms):
        return f"'{chosen}' and '{other}' do about as well here; '{chosen}' is taken."
    mine, theirs = terms.costs[chosen, name], terms.costs[other, name]
    return (
        f"'{chosen}' fits better here than '{other}' "
        f"({mine:.2f} against {theirs:.2f}; less is better)."
    )


def _steps(version: str, name: str, terms: Terms) -> int:
    cost = terms.costs.get((version, name))
    return 0 if cost is None else steps(cost)


def _tie(first: str, second: str, name: str, terms: Terms) -> bool:
    """Whether an eye sees no difference between two versions at a destination."""
    mine, theirs = terms.costs.get((first, name)), terms.costs.get((second, name))
    return mine is None or theirs is None or abs(mine - theirs) < TIE


def _obstacle(version: str, seat: Seat, terms: Terms) -> str:
    """What keeps ``version``, the best for a destination by itself, from standing there."""
    name, option = seat.destination, seat.option
    if not terms.may_run(version, name):
        return f"'{version}' is promised to the outlet '{terms.promised[version]}' alone"
    keepers = {one.kept_by for one in seat.taken if one.version == version}
    here = terms.outlets.exclusive_outlet(name)
    keeper = next((outlet for outlet in keepers if outlet and outlet != here), None)
    if keeper:
        return f"'{version}' goes to the outlet '{keeper}', which keeps it to itself"
    if here and None in keepers:
        return f"'{version}' is used elsewhere, and the outlet '{here}' wants it for itself"
    others = [other for other in seat.company.destinations if other != name]
    if option.version is not None and others:
        return (
            f"the same people see {listed(others)}, where '{option.version}' stands, "
            "and rivals never meet"
        )
    return "every version was to be used at least once"


def extra_sentence(extra: Weight) -> str:
    """What the runner-up costs more, in words; ``extra`` starts with destinations left empty.

    >>> extra_sentence((0, 0))
    'Another choice does about as well; the first by name is taken.'
    """
    if not any(extra):
        return "Another choice does about as well; the first by name is taken."
    if extra[0]:
        places = "destination" if extra[0] == 1 else "destinations"
        return f"The next best choice leaves {extra[0]} more {places} without a crop."
    return "The next best choice fits less well: see the crops side by side."
