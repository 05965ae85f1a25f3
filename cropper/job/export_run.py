"""What an export keeps in mind while it goes on: its items by number, and what became of each.

Every item is read from the plan again when it is needed, one master at a time; of all that is
done to it only a state stays in memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import IntEnum
from pathlib import Path, PurePath
from typing import Final

from cropper.deliverable.manifest import NotDelivered
from cropper.job.exported import Wish
from cropper.job.file_names import FileNames, wanted_name
from cropper.job.ledger import Entry, OpenLedger
from cropper.job.making import FileOrder, basis_of
from cropper.job.plan import Plan
from cropper.job.wanted import Item, owing
from cropper.job.wording import JobWords, Worded, words_for

KEPT: Final = "kept"
"""Kind of words on the scratch paper: names of files that stay where they are."""


class State(IntEnum):
    """What became of an item. ``STANDS``: not looked at, but the right file is there."""

    NOT_COME_TO = 0
    FAILED = 1
    STANDS = 2
    AS_BEFORE = 3
    MOVED = 4
    WRITTEN = 5


@dataclass(slots=True)
class ExportRun:
    """What changes while an export goes on."""

    job: Path
    plan: Plan
    wish: Wish
    ledger: OpenLedger
    words: JobWords
    names: FileNames
    by_recipient: bool
    states: bytearray = field(default_factory=bytearray)
    in_hand: dict[int, tuple[Item, FileOrder]] = field(default_factory=dict)
    failures: dict[int, NotDelivered] = field(default_factory=dict)
    doubts: dict[str, int] = field(default_factory=dict)
    held: int = 0

    def owing(self) -> Iterator[Item | NotDelivered]:
        """What the plan owes, with what is not asked for this time; a master at a time."""
        wish = self.wish
        return owing(
            self.plan,
            everything=wish.everything,
            approved_only=wish.approved_only,
            with_problems=wish.with_problems,
            accept_low_ppi=wish.accept_low_ppi,
        )

    def asks(self, destination: str | None) -> bool:
        """Whether this run was asked for that destination."""
        return destination is None or not self.wish.only or destination in self.wish.only

    def undecided(self, one: Item | NotDelivered) -> bool:
        """Whether it has no file only because its set could not be assigned this time."""
        if isinstance(one, Item) or one.set is None or self.wish.everything:
            return False
        rivals = self.plan.rivals.get(one.set)
        return rivals is not None and not rivals.assigned

    def leaves_alone(self, one: Item | NotDelivered) -> bool:
        """Whether this run has no word on it: not asked for, or not decided."""
        named = one.destination.name if isinstance(one, Item) else one.destination
        return not self.asks(named) or self.undecided(one)

    def numbered(self) -> Iterator[tuple[int | None, Item | NotDelivered]]:
        """All that the plan owes; the items that were asked for have a number."""
        number = 0
        for one in self.owing():
            if isinstance(one, Item) and self.asks(one.destination.name):
                yield number, one
                number += 1
            else:
                yield None, one

    def items(self) -> Iterator[tuple[int, Item]]:
        """Every item that was asked for, with its number."""
        for number, one in self.numbered():
            if number is not None and isinstance(one, Item):
                yield number, one

    @property
    def came_to_all(self) -> bool:
        """Whether every item was taken up: nobody stopped the run."""
        return State.NOT_COME_TO not in self.states

    def worded(self, item: Item) -> Worded:
        """The words of a deliverable."""
        destination = item.destination
        return words_for(
            self.words,
            version=item.master.version,
            destination=destination.name,
            recipient=destination.recipient,
        )

    def basis(self, item: Item) -> str:
        """Digest of all that a deliverable rests on."""
        words = self.worded(item).words
        return basis_of(item.master.sha256, item.proposal.crop, item.destination, words)

    def order(self, number: int, item: Item) -> FileOrder:
        """What is to be made, under a name of its own."""
        version, destination, basis = item.master.version, item.destination, self.basis(item)
        wanted = wanted_name(item, day=self.wish.day, by_recipient=self.by_recipient)
        mine = self.ledger.name_of(version, destination.name)
        known = self.ledger.entry(mine) if mine else None
        if mine and known and known.basis == basis and _same_folder(mine, wanted):
            name = self.names.keep(mine)  # nothing of it changed but the day
        else:
            name = self.names.give(wanted, version=version, destination=destination.name)
        self.ledger.scratch.say(KEPT, name)
        return FileOrder(
            number=number,
            name=name,
            plain=self.names.plain(wanted, name),
            version=version,
            basis=basis,
            crop=item.proposal.crop,
            destination=destination,
            words=self.worded(item).words,
            before=self.ledger.entry(name),
            former=_former(mine, known, name),
        )


def _same_folder(mine: str, wanted: str) -> bool:
    return PurePath(mine).parent == PurePath(wanted).parent


def _former(mine: str | None, known: Entry | None, name: str) -> tuple[str, Entry] | None:
    return (mine, known) if mine and known and mine != name else None
