"""The matrix of a set: how each version would serve each destination, and what to shoot next.

One cell for each version and destination, made from the planner's answers: the cost and verdict
of the best proposal, the share of the master lost, pixels to spare, and one sentence. Where no
version serves a destination, the amounts of its conflicts say which new picture would.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from cropper.geometry import Size
from cropper.proposal.proposal import Answer, Cost, NoCrop, Proposal, Verdict
from cropper.publication.reasons import listed

SIDES: Final = {
    "top": "above",
    "bottom": "below",
    "left": "to the left",
    "right": "to the right",
    "sides": "at the sides, half on each",
    "height": "in height, half above and half below",
    "around": "both in width and in height, half on each side",
}
"""A conflict's side in words, in the order of telling."""
UP_AND_DOWN: Final = frozenset({"top", "bottom", "height"})
PIXELS: Final = "width"
"""The side of a conflict about pixels: no more room is wanted, but a larger file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """How one version would serve one destination.

    ``cost`` leaves out the share kept: that alone never decides which version goes where.
    ``lost`` is the share of the master's pixels outside the best crop, 0..1. ``spare_px``: how
    many columns the crop has beyond what is delivered; negative: that many are made up by
    enlarging. Both None without a crop.
    """

    version: str
    destination: str
    cost: Cost | None
    verdict: Verdict
    lost: float | None
    spare_px: int | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """How much more a picture must show on a side: ``share`` of the master's width or height."""

    side: str
    share: float

    @property
    def percent(self) -> int:
        """Rounded up, so that following the advice is enough."""
        return math.ceil(self.share * 100 - 1e-9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one version lacks: room on some sides, and pixels across the crop."""

    room: tuple[Room, ...] = ()
    more_px: int = 0

    def __bool__(self) -> bool:
        return bool(self.room or self.more_px)

    def joined(self, other: Need) -> Need:
        """What serves both: the greater amount on each side."""
        most = {one.side: one.share for one in self.room}
        for one in other.room:
            most[one.side] = max(one.share, most.get(one.side, 0.0))
        return Need(
            room=tuple(Room(side=side, share=most[side]) for side in SIDES if side in most),
            more_px=max(self.more_px, other.more_px),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPicture:
    """Which picture to make so that ``destinations`` can be served: one like ``version``, but."""

    version: str
    destinations: tuple[str, ...]
    need: Need
    sentence: str


def matrix(answers: Mapping[str, Iterable[Answer]], sizes: Mapping[str, Size]) -> tuple[Cell, ...]:
    """A cell per version and destination, in the order given.

    ``answers`` holds the planner's answers by version; ``sizes`` the upright masters' sizes.
    """
    return tuple(
        cell(version, answer, sizes[version])
        for version, given in answers.items()
        for answer in given
    )


def cell(version: str, answer: Answer, master: Size) -> Cell:
    """One cell of the matrix."""
    best = answer.best
    if best is None:
        sentence = answer.no_crop.sentence if answer.no_crop else "No crop was found."
        return Cell(
            version=version,
            destination=answer.destination,
            cost=None,
            verdict=Verdict.NO_CROP,
            lost=None,
            spare_px=None,
            sentence=sentence,
        )
    box = best.crop.box
    lost = 1 - box.width * box.height / (master.width * master.height)
    spare = box.width - best.delivered.width
    return Cell(
        version=version,
        destination=answer.destination,
        cost=best.cost - sum(one.cost for one in best.measures if one.rule == "kept"),
        verdict=best.verdict,
        lost=lost,
        spare_px=spare,
        sentence=_sentence(best, lost, spare),
    )


def costs(cells: Iterable[Cell]) -> dict[tuple[str, str], Cost | None]:
    """What :func:`cropper.publication.assignment.assign` asks for."""
    return {(one.version, one.destination): one.cost for one in cells}


def _sentence(best: Proposal, lost: float, spare: int) -> str:
    pixels = (
        f"{spare} px more than needed" if spare >= 0 else f"enlarged {best.enlargement:.2f} times"
    )
    share = f"cuts off {100 * lost:.0f} % of the picture"
    said = f"{best.shot}, {best.verdict.word}; {share}, {pixels}."
    return said[:1].upper() + said[1:]


def what_to_shoot(
    answers: Mapping[str, Iterable[Answer]], sizes: Mapping[str, Size]
) -> tuple[NewPicture, ...]:
    """New pictures that would serve the destinations which no version serves.

    Each such destination is served by the version that lacks least; the needs of one version are
    joined into one picture. Empty when every destination has a crop somewhere, or when the
    conflicts name no amounts (then the answers' own sentences must do).
    """
    given = {version: {one.destination: one for one in rows} for version, rows in answers.items()}
    nearest: dict[str, dict[str, Need]] = {}
    for destination in sorted({name for rows in given.values() for name in rows}):
        rows = {version: row[destination] for version, row in given.items() if destination in row}
        if any(answer.proposals for answer in rows.values()):
            continue
        needs = {
            version: need
            for version, answer in rows.items()
            if answer.no_crop is not None and (need := _need(answer.no_crop, sizes[version]))
        }
        if needs:
            version = min(needs, key=lambda name: (_weight(needs[name]), name))
            nearest.setdefault(version, {})[destination] = needs[version]
    return tuple(_picture(version, nearest[version]) for version in sorted(nearest))


def _weight(need: Need) -> tuple[int, float]:
    """Least pixels first: room can be had by stepping back, a larger file may not."""
    return need.more_px, sum(one.share for one in need.room)


def _need(no_crop: NoCrop, master: Size) -> Need:
    """What a picture lacks, the greatest amount for each side."""
    need = Need()
    for one in no_crop.conflicts:
        if one.side == PIXELS:
            need = need.joined(Need(more_px=one.short_px))
        elif one.side in SIDES and one.short_px > 0:
            along = master.height if one.side in UP_AND_DOWN else master.width
            need = need.joined(Need(room=(Room(side=one.side, share=one.short_px / along),)))
    return need


def _picture(version: str, needs: Mapping[str, Need]) -> NewPicture:
    need = Need()
    for one in needs.values():
        need = need.joined(one)
    wishes = []
    if need.room:
        amounts = [f"{one.percent} % more {SIDES[one.side]}" for one in need.room]
        amounts[0] = amounts[0].replace("more ", "more room ", 1)
        wishes.append(f"looser: {listed(amounts)}")
    if need.more_px:
        wishes.append(f"with a larger file: {need.more_px} px more across the crop")
    wish = ", and ".join(wishes)
    return NewPicture(
        version=version,
        destinations=tuple(needs),
        need=need,
        sentence=f"For {listed(list(needs))}, shoot one like '{version}' but {wish}.",
    )
