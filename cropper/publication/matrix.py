"""The matrix of a set: how each version would serve each destination, and what to shoot next.

One cell for each version and destination, made from the planner's answers: the cost and verdict
of the best proposal, the share of the master lost, pixels to spare, and one sentence. Where no
version serves a destination, the amounts of its conflicts say which new picture would.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from cropper.geometry import Size
from cropper.proposal.proposal import Answer, Cost, NoCrop, Proposal, Verdict
from cropper.publication.reasons import listed

SIDES: Final = {
    "above": "above",
    "top": "above",
    "below": "below",
    "bottom": "below",
    "left": "to the left",
    "right": "to the right",
    "across": "on both sides together",
    "width": "on both sides together",
    "down": "above and below together",
    "height": "above and below together",
}
"""A conflict's side in words; shares of the first two and last two are of the master's height."""
UP_AND_DOWN: Final = frozenset({"above", "below", "above and below together"})

VERDICT_WORDS: Final = {
    Verdict.HOLDS: "every rule holds",
    Verdict.BENDS: "a rule bends",
    Verdict.UNCERTAIN: "a rule is uncertain: look at it",
    Verdict.BREAKS: "a rule breaks",
    Verdict.NO_CROP: "no crop",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """How one version would serve one destination.

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
    """How much more a new picture must show: ``share`` of the master's width or height."""

    where: str
    share: float

    @property
    def percent(self) -> int:
        """Rounded up, so that following the advice is enough."""
        return math.ceil(self.share * 100 - 1e-9)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPicture:
    """Which picture to make so that ``destinations`` can be served: one like ``version``, but."""

    version: str
    destinations: tuple[str, ...]
    room: tuple[Room, ...]
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
        cost=best.cost,
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
        f"{spare} px to spare across" if spare >= 0 else f"enlarged {best.enlargement:.2f} times"
    )
    said = f"{best.shot}, {VERDICT_WORDS[best.verdict]}; {lost:.0%} of the master lost, {pixels}."
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
    wanted = sorted({name for rows in given.values() for name in rows})
    nearest: dict[str, list[tuple[str, tuple[Room, ...]]]] = {}
    for destination in wanted:
        rows = {version: row[destination] for version, row in given.items() if destination in row}
        if any(answer.proposals for answer in rows.values()):
            continue
        found = _nearest(rows, sizes)
        if found is not None:
            nearest.setdefault(found[0], []).append((destination, found[1]))
    return tuple(_picture(version, nearest[version]) for version in sorted(nearest))


def _nearest(
    rows: Mapping[str, Answer], sizes: Mapping[str, Size]
) -> tuple[str, tuple[Room, ...]] | None:
    """The version that lacks least room, and what it lacks."""
    lacking = {
        version: room
        for version, answer in rows.items()
        if answer.no_crop is not None and (room := _room(answer.no_crop, sizes[version]))
    }
    if not lacking:
        return None
    version = min(lacking, key=lambda name: (sum(room.share for room in lacking[name]), name))
    return version, lacking[version]


def _room(no_crop: NoCrop, master: Size) -> tuple[Room, ...]:
    """What a picture lacks, the greatest amount for each side."""
    asked = [(one.side, one.short_px) for one in no_crop.conflicts]
    asked += [(one.side, one.px) for one in no_crop.ways_out if one.kind == "shoot"]
    return _joined(
        Room(where=where, share=px / (master.height if where in UP_AND_DOWN else master.width))
        for side, px in asked
        if px > 0 and (where := SIDES.get(side, "")) != ""
    )


def _joined(rooms: Iterable[Room]) -> tuple[Room, ...]:
    most: dict[str, float] = {}
    for room in rooms:
        most[room.where] = max(room.share, most.get(room.where, 0.0))
    order = list(dict.fromkeys(SIDES.values()))
    return tuple(Room(where=where, share=most[where]) for where in sorted(most, key=order.index))


def _picture(version: str, needs: Sequence[tuple[str, tuple[Room, ...]]]) -> NewPicture:
    destinations = tuple(name for name, _ in needs)
    room = _joined(one for _, rooms in needs for one in rooms)
    amounts = [f"{one.percent} % more {one.where}" for one in room]
    amounts[0] = amounts[0].replace("more ", "more room ", 1)
    return NewPicture(
        version=version,
        destinations=destinations,
        room=room,
        sentence=(
            f"For {listed(destinations)}, shoot one like '{version}' but looser: {listed(amounts)}."
        ),
    )
