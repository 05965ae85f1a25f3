"""Leafing through the wall: which masters stand on which of its pages, the worst first.

All of it is told by the cards; only the masters of the page that is shown are opened.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from threading import Lock
from typing import Final
from urllib.parse import urlencode

from cropper.batch.status import Matter, Waiting, waiting_of, word_of
from cropper.errors import MisuseError
from cropper.job.cards import Card
from cropper.job.plan import PHOTOGRAPHER, Plan, Word
from cropper.job.summary import cards
from cropper.proposal.proposal import Verdict

ON_A_PAGE: Final = 24
"""Masters on one page of the wall (house: some 300 small pictures)."""
EVERYTHING: Final = "everything"
WAITS: Final = "waits"
SETTLED: Final = "approved"
MATTERS: Final = {
    Matter.NOBODY: "no eyes found",
    Matter.LOOK_AGAIN: "changed after you chose",
    Matter.BREAKS: Verdict.BREAKS.word,
    Matter.ESTIMATED: "eyes estimated",
    Matter.UNCERTAIN: "not sure",
    Matter.NO_CROP: Verdict.NO_CROP.word,
}
"""Why something is to be checked, as the page says it."""
SHOWS: Final[dict[str, str]] = {
    EVERYTHING: "every picture",
    WAITS: "to check",
    **{word_of(one).replace(" ", "-"): f"to check: {MATTERS[one]}" for one in Matter},
    "open": "not decided",
    SETTLED: "all crops approved",
    "some-approved": "a crop approved",
    "kept": "a crop on hold or refused",
    str(Word.HELD): "a crop on hold",
    str(Word.REFUSED): "a crop refused",
    "by-hand": "a crop changed by you",
    "set": "in a set",
}
"""What the wall may be narrowed to: how an address names it, and how the page does."""
_RESTS: Final = (len(Matter) + 1, 0)
"""The rank of what waits for nothing: after all that does, in the job's order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Which part of the wall is looked at. ``page`` counts from 1."""

    show: str = EVERYTHING
    find: str = ""
    page: int = 1

    def __post_init__(self) -> None:
        if self.show not in SHOWS:
            raise MisuseError(
                f"the wall cannot show '{self.show}'", way_out=f"It knows {', '.join(SHOWS)}"
            )

    def address(self, page: int) -> str:
        """Where another page of the same is found; what is as usual is left out."""
        told = {"show": self.show, "find": self.find, "page": str(page)}
        usual = {"show": EVERYTHING, "find": "", "page": "1"}
        query = urlencode({name: one for name, one in told.items() if one != usual[name]})
        return f"/?{query}" if query else "/"


def asked_of(show: str, find: str, page: str) -> Asked:
    """What an address asks; a page that is no number is the first."""
    number = int(page) if page.isascii() and page.isdigit() and len(page) < len("1000000") else 1
    return Asked(show=show or EVERYTHING, find=find.strip(), page=max(1, number))


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One master on the wall: how grave it is, what it may be found under, and by which words."""

    rank: tuple[int, int]
    version: str
    shows: frozenset[str]
    names: str
    crops: int
    approved: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """One page of the wall. ``found`` of ``of`` masters are what was asked for.

    ``approved`` of ``crops`` are of the whole job.
    ``counts`` tells, for everything the wall may be narrowed to, how many of the masters that the
    searched words name it would show.
    """

    asked: Asked
    page: int
    pages: int
    found: int
    of: int
    counts: dict[str, int]
    crops: int
    approved: int
    versions: tuple[str, ...]

    def address(self, page: int) -> str:
        """Where another page of the same is found."""
        return self.asked.address(page)


class Wall:
    """The places of one job's masters, kept while their cards stay what they are."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[tuple[str, str], Place]] = {}
        self._lock = Lock()

    def leaf(self, plan: Plan, asked: Asked) -> Leaf:
        """The page that was asked for; the last one when there are not so many."""
        with self._lock:
            places = self._places(plan)
        named = [one for one in places if _named(one, asked.find)]
        found = sorted((one for one in named if asked.show in one.shows), key=lambda one: one.rank)
        pages = max(1, -(-len(found) // ON_A_PAGE))
        page = min(asked.page, pages)
        shown = found[(page - 1) * ON_A_PAGE : page * ON_A_PAGE]
        return Leaf(
            asked=asked,
            page=page,
            pages=pages,
            found=len(found),
            of=len(places),
            counts=_counts(named),
            crops=sum(one.crops for one in places),
            approved=sum(one.approved for one in places),
            versions=tuple(one.version for one in shown),
        )

    def _places(self, plan: Plan) -> list[Place]:
        homes = plan.rivals.homes
        told = [self._place(card, homes.get(card.version, "")) for card in cards(plan)]
        self._known = {place.version: (key, place) for key, place in told}
        return [place for _, place in told]

    def _place(self, card: Card, in_set: str) -> tuple[tuple[str, str], Place]:
        key = (card.text, in_set)
        before = self._known.get(card.version)
        if before is not None and card.text and before[0] == key:
            return before
        return key, _placed(card, in_set)


def _placed(card: Card, in_set: str) -> Place:
    waits = tuple(waiting_of(card))
    gravest = min((one.rank[:2] for one in waits), default=_RESTS)
    file = card.file.replace("\\", "/").rsplit("/", 1)[-1]
    return Place(
        rank=gravest,
        version=card.version,
        shows=frozenset((*_waits(waits), *_shows(card, in_set))),
        names=f"{card.version}\n{file}\n{in_set}".casefold(),
        crops=sum(one.verdict != Verdict.NO_CROP for one in card.lines),
        approved=sum(one.word == Word.APPROVED for one in card.lines),
    )


def _waits(waits: tuple[Waiting, ...]) -> Iterable[str]:
    if waits:
        yield WAITS
        yield from (word_of(one.matter).replace(" ", "-") for one in waits)


def _shows(card: Card, in_set: str) -> Iterable[str]:
    yield EVERYTHING
    crops = [one for one in card.lines if one.verdict != Verdict.NO_CROP]
    if any(not one.word for one in crops):
        yield "open"
    if crops and all(one.word == Word.APPROVED for one in crops):
        yield SETTLED
    words = {one.word for one in crops}
    yield from words & {str(Word.HELD), str(Word.REFUSED)}
    if words & {str(Word.HELD), str(Word.REFUSED)}:
        yield "kept"
    if Word.APPROVED in words:
        yield "some-approved"
    if any(one.chosen_by == PHOTOGRAPHER for one in crops):
        yield "by-hand"
    if in_set:
        yield "set"


def _named(place: Place, find: str) -> bool:
    """Whether all searched words stand in the master's names, large and small letters alike."""
    return all(word in place.names for word in find.casefold().split())


def _counts(places: Iterable[Place]) -> dict[str, int]:
    told = Counter(show for one in places for show in one.shows)
    return {show: told[show] for show in SHOWS}
