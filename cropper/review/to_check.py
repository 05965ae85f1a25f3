"""What needs the photographer next: every crop without a word, in one of three orders.

All of it is told by the cards; no master is opened.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from cropper.errors import MisuseError
from cropper.job.cards import Card, Line
from cropper.job.plan import ChoiceState, Plan, Word
from cropper.job.summary import cards
from cropper.proposal.proposal import Verdict

ORDERS: Final = {
    "serious": "most serious first",
    "master": "picture by picture",
    "destination": "destination by destination",
}
STATES: Final = {
    "check": "to check",
    "poor": "to check, not good",
    "no-crop": "no crop",
    "approved": "approved",
    "held": "on hold",
    "refused": "refused",
    "all": "every crop",
}
"""What may be walked through: how an address names it, and how the page does."""
_SERIOUS: Final = {
    Verdict.BREAKS: 1,
    Verdict.UNCERTAIN: 3,
    Verdict.BENDS: 4,
    Verdict.HOLDS: 5,
    Verdict.NO_CROP: 6,
}
"""A choice whose ground changed comes before all (0), eyes that are estimated after breaks (2)."""
Key = tuple[int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """What is walked through, and in which order."""

    order: str = "serious"
    state: str = "check"
    destination: str = ""
    find: str = ""

    def __post_init__(self) -> None:
        if self.order not in ORDERS or self.state not in STATES:
            raise MisuseError(
                f"there is no order '{self.order}' of '{self.state}'",
                way_out=f"Orders: {', '.join(ORDERS)}. States: {', '.join(STATES)}",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """One crop on the way: where it stands in the order, and what it is."""

    key: Key
    version: str
    destination: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Where the walk stands. ``place`` counts from 1 and is 0 when the crop is not on the way."""

    found: Crop | None
    here: Crop | None
    place: int
    of: int
    approved: int
    crops: int
    no_crop: int


def step(
    plan: Plan, walk: Walk, *, version: str, destination: str, key: Key | None, back: bool = False
) -> Step:
    """The crop after (or before) this one; ``key`` is where the walk stood when it came here.

    After the last comes the first again; None when there is no other.
    """
    told = list(_told(plan, walk))
    way = sorted((one for one, line in told if _on_the_way(line, walk)), key=_key_of)
    here = next(
        (one for one, _ in told if (one.version, one.destination) == (version, destination)), None
    )
    at = key or (here.key if here is not None else (-1, -1, -1))
    found = _next(way, at, here, back=back)
    place = next((n for n, one in enumerate(way, 1) if here and one.key == here.key), 0)
    lines = [line for _, line in told]
    return Step(
        found=found,
        here=here,
        place=place,
        of=len(way),
        approved=sum(line.word == Word.APPROVED for line in lines),
        crops=sum(line.verdict != Verdict.NO_CROP for line in lines),
        no_crop=sum(line.verdict == Verdict.NO_CROP for line in lines),
    )


def _key_of(crop: Crop) -> Key:
    return crop.key


def _next(way: list[Crop], at: Key, here: Crop | None, *, back: bool) -> Crop | None:
    """The next on the way that is not the one looked at; round the end to the beginning."""
    keys = [one.key for one in way]
    begin = bisect_left(keys, at) - 1 if back else bisect_right(keys, at)
    turn = -1 if back else 1
    for count in range(len(way)):
        one = way[(begin + turn * count) % len(way)]
        if here is None or (one.version, one.destination) != (here.version, here.destination):
            return one
    return None


def _told(plan: Plan, walk: Walk) -> Iterator[tuple[Crop, Line]]:
    """Every line that the filters by name let through and that is this version's to deliver."""
    homes = plan.rivals.homes
    given: dict[str, Mapping[str, str | None]] = {}
    place_of = {one.name: place for place, one in enumerate(plan.destinations)}
    words = walk.find.casefold().split()
    for card in cards(plan):
        home = homes.get(card.version, "")
        names = f"{card.version}\n{card.file}\n{home}".casefold()
        if not all(word in names for word in words):
            continue
        for number, line in enumerate(card.lines):
            if walk.destination and line.destination != walk.destination:
                continue
            if home and home not in given:
                planned = plan.rivals.get(home)
                given[home] = planned.best if planned is not None else {}
            best = given.get(home, {})
            if home and best.get(line.destination, card.version) != card.version:
                continue
            serious = _serious(card, line)
            where = place_of.get(line.destination, len(place_of))
            key = {
                "serious": (serious, card.place, number),
                "master": (card.place, number, 0),
                "destination": (where, card.place, 0),
            }[walk.order]
            yield Crop(key=key, version=card.version, destination=line.destination), line


def _serious(card: Card, line: Line) -> int:
    if line.state == ChoiceState.LOOK_AGAIN:
        return 0
    serious = _SERIOUS.get(Verdict(line.verdict), max(_SERIOUS.values()))
    estimated = bool(card.question) and line.verdict != Verdict.NO_CROP
    return min(serious, 2) if estimated else serious


def _on_the_way(line: Line, walk: Walk) -> bool:
    none = line.verdict == Verdict.NO_CROP
    match walk.state:
        case "check":
            return not line.word and not none
        case "poor":
            return not line.word and not none and line.verdict != Verdict.HOLDS
        case "no-crop":
            return none
        case "all":
            return True
        case state:
            return line.word == state
