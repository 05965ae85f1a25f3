"""One plain sentence for each destination: why this version stands here, or why none does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cropper.proposal.proposal import TIERS, Cost
from cropper.publication.companies import Company, Option, Terms

TIER_WORDS: Final = {
    "never": "the rules that are never traded",
    "framing": "framing",
    "crown": "the crown of the head",
    "eye_line": "the eye line",
    "headroom": "headroom",
    "joints": "where limbs are cut",
    "across": "the place across the frame",
    "kept": "how much it keeps of the largest crop of this shape",
}
"""The planner's tiers in words."""


def tier_word(at: int) -> str:
    """The tier at an index of a cost, in words.

    >>> tier_word(3)
    'the eye line'
    """
    return TIER_WORDS[TIERS[at]] if at < len(TIERS) else f"tier {at + 1}"


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
        key=lambda version: (terms.costs[version, name] or (), version),
    )
    if not able:
        return "No version has a crop here."
    if option.version is None or name not in option.shown:
        return f"Left empty: {_obstacle(able[0], seat, terms)}."
    tier = _deciding(able[0], option.version, name, terms)
    if option.version == able[0] or tier is None:
        return _of_best(option.version, name, able, terms)
    why = _obstacle(able[0], seat, terms)
    return f"'{option.version}', though '{able[0]}' alone would be better in {tier}: {why}."


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
    tier = _deciding(chosen, other, name, terms)
    if tier is None:
        return f"'{chosen}' and '{other}' do equally well here."
    return f"'{chosen}' suits it best: it is better than '{other}' in {tier}."


def _deciding(first: str, second: str, name: str, terms: Terms) -> str | None:
    """The first tier in which two versions differ, in words."""
    pairs = zip(terms.costs[first, name] or (), terms.costs[second, name] or (), strict=True)
    return next((tier_word(at) for at, (a, b) in enumerate(pairs) if a != b), None)


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


def extra_sentence(extra: Cost) -> str:
    """What the runner-up costs more, in words; ``extra`` starts with destinations left empty."""
    if not any(extra):
        return "Another assignment does equally well; the first by name is taken."
    if extra[0]:
        places = "destination" if extra[0] == 1 else "destinations"
        return f"The next best assignment leaves {extra[0]} more {places} without a crop."
    at = next(at for at, tier in enumerate(extra[1:]) if tier)
    return (
        f"The next best assignment is worse in {tier_word(at)} (by {extra[at + 1] / 1000:.3f}); "
        "everything ranked above that is equal."
    )
