"""The masters of a plan in their order: read from the disk only when somebody looks at one.

A plan of ten thousand masters is opened by its cards alone. To everybody else this is a plain
sequence of masters that never changes; changing one makes a new sequence that shares the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import count
from typing import TYPE_CHECKING, overload

if TYPE_CHECKING:
    from cropper.job.cards import Card
    from cropper.job.plan import PlannedMaster


class Entry:
    """One place in the sequence: a master in memory, or a card and the way to its file."""

    __slots__ = ("_master", "_open", "card", "place", "version")

    def __init__(
        self,
        version: str,
        place: int,
        *,
        master: PlannedMaster | None = None,
        card: Card | None = None,
        opener: Callable[[Card], PlannedMaster] | None = None,
    ) -> None:
        if master is None and (card is None or opener is None):
            raise ValueError("an entry needs its master, or a card and a way to open it")
        self.version, self.place, self.card = version, place, card
        self._master, self._open = master, opener

    @property
    def master(self) -> PlannedMaster:
        """The master; raises :class:`JobError` when its file cannot be read."""
        if self._master is not None:
            return self._master
        if self.card is None or self._open is None:
            raise ValueError("an entry without a master has no card either")
        return self._open(self.card)

    def pin(self) -> None:
        """Keep the master in memory: its file is about to say something else."""
        self._master = self.master

    def same(self, other: Entry) -> bool:
        """Whether both are the same master, told by their files' digests where possible."""
        if self is other:
            return True
        mine, theirs = self.card, other.card
        if mine is not None and theirs is not None and mine.text and theirs.text:
            return mine.text == theirs.text
        return self.master == other.master


class Masters(Sequence["PlannedMaster"]):
    """Masters in the order of their places; versions are unique."""

    __slots__ = ("_entries",)

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        ordered = sorted(entries, key=lambda one: one.place)
        self._entries = {one.version: one for one in ordered}

    @classmethod
    def of(cls, masters: Iterable[PlannedMaster]) -> Masters:
        """The same masters as such a sequence."""
        if isinstance(masters, Masters):
            return masters
        return cls(
            Entry(one.version, place, master=one)
            for place, one in zip(count(), masters, strict=False)
        )

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The places, unopened."""
        return tuple(self._entries.values())

    @property
    def versions(self) -> tuple[str, ...]:
        """The names, in order, without opening anything."""
        return tuple(self._entries)

    def entry(self, version: str) -> Entry | None:
        """The place of one version."""
        return self._entries.get(version)

    def get(self, version: str) -> PlannedMaster | None:
        """The master of that name, opened."""
        entry = self._entries.get(version)
        return None if entry is None else entry.master

    def put(self, master: PlannedMaster) -> Masters:
        """The sequence with this master in its former self's place, or last."""
        before = self._entries.get(master.version)
        if before is not None:
            before.pin()
            return self.with_entry(Entry(master.version, before.place, master=master))
        last = max((one.place for one in self._entries.values()), default=-1)
        return self.with_entry(Entry(master.version, last + 1, master=master))

    def with_entry(self, entry: Entry) -> Masters:
        """The sequence with this entry in place of the one of its name."""
        return Masters({**self._entries, entry.version: entry}.values())

    def __len__(self) -> int:
        return len(self._entries)

    def __iter__(self) -> Iterator[PlannedMaster]:
        for entry in self._entries.values():
            yield entry.master

    @overload
    def __getitem__(self, at: int) -> PlannedMaster: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[PlannedMaster, ...]: ...
    def __getitem__(self, at: int | slice) -> PlannedMaster | tuple[PlannedMaster, ...]:
        if isinstance(at, slice):
            return tuple(one.master for one in self.entries[at])
        return self.entries[at].master

    def __eq__(self, other: object) -> bool:
        if isinstance(other, Masters):
            return self.versions == other.versions and all(
                mine.same(theirs) for mine, theirs in zip(self.entries, other.entries, strict=True)
            )
        if isinstance(other, tuple | list):
            return len(self) == len(other) and all(
                mine == theirs for mine, theirs in zip(self, other, strict=True)
            )
        return NotImplemented

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Masters({', '.join(self.versions)})"
