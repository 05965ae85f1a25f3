"""The sets of a plan in their order: read from their lines only when somebody looks at one.

A season may hold thousands of sets. To everybody else this is a plain sequence of sets that never
changes; putting one in makes a new sequence that shares the rest.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, overload

if TYPE_CHECKING:
    from cropper.job.plan import PlannedSet


class SetEntry:
    """One place in the sequence: a set in memory, or its text and the way to read it.

    ``basis`` is a digest of what its assignment rests on; empty where that is not known.
    """

    __slots__ = ("_planned", "_read", "basis", "name", "text", "versions")

    def __init__(
        self,
        name: str,
        versions: tuple[str, ...],
        *,
        basis: str = "",
        text: str = "",
        planned: PlannedSet | None = None,
        reader: Callable[[SetEntry], PlannedSet] | None = None,
    ) -> None:
        if planned is None and reader is None:
            raise ValueError("an entry needs its set, or a way to read it")
        self.name, self.versions, self.basis, self.text = name, versions, basis, text
        self._planned, self._read = planned, reader

    @property
    def planned(self) -> PlannedSet:
        """The set; raises :class:`JobError` when its line holds none."""
        if self._planned is not None:
            return self._planned
        if self._read is None:
            raise ValueError("an entry without a set has no way to read it either")
        return self._read(self)

    def same(self, other: SetEntry) -> bool:
        """Whether both are the same set, told by their texts where possible."""
        if self is other:
            return True
        if self.text and other.text:
            return self.text == other.text
        return self.planned == other.planned


class Sets(Sequence["PlannedSet"]):
    """Sets in their order; names are unique."""

    def __init__(self, entries: Iterable[SetEntry] = ()) -> None:
        self._entries = {one.name: one for one in entries}

    @classmethod
    def of(cls, sets: Iterable[PlannedSet]) -> Sets:
        """The same sets as such a sequence."""
        return sets if isinstance(sets, Sets) else cls(entry_of(one) for one in sets)

    @property
    def entries(self) -> tuple[SetEntry, ...]:
        """The places, unread."""
        return tuple(self._entries.values())

    @property
    def names(self) -> tuple[str, ...]:
        """The names, in order, without reading anything."""
        return tuple(self._entries)

    @cached_property
    def homes(self) -> dict[str, str]:
        """By version, the name of the set that it belongs to."""
        return {version: one.name for one in self._entries.values() for version in one.versions}

    @cached_property
    def digest(self) -> str:
        """Names the state of all sets, by what they hold."""
        told = hashlib.sha256()
        for one in self._entries.values():
            told.update((one.text or repr(one.planned)).encode())
        return told.hexdigest()

    def get(self, name: str | None) -> PlannedSet | None:
        """The set of that name, read."""
        entry = self._entries.get(name or "")
        return None if entry is None else entry.planned

    def holding(self, version: str) -> PlannedSet | None:
        """The set that a version belongs to."""
        return self.get(self.homes.get(version))

    def put(self, planned: PlannedSet) -> Sets:
        """The sequence with this set in its former self's place, or last."""
        return Sets({**self._entries, planned.name: entry_of(planned)}.values())

    def among(self, versions: Iterable[str]) -> Sets:
        """The sets that any of these versions belongs to."""
        names = {self.homes.get(one) for one in versions}
        return Sets(one for one in self._entries.values() if one.name in names)

    def __len__(self) -> int:
        return len(self._entries)

    def __iter__(self) -> Iterator[PlannedSet]:
        for entry in self._entries.values():
            yield entry.planned

    @overload
    def __getitem__(self, at: int) -> PlannedSet: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[PlannedSet, ...]: ...
    def __getitem__(self, at: int | slice) -> PlannedSet | tuple[PlannedSet, ...]:
        if isinstance(at, slice):
            return tuple(one.planned for one in self.entries[at])
        return self.entries[at].planned

    def __eq__(self, other: object) -> bool:
        if isinstance(other, tuple | list):
            other = Sets.of(other)
        if not isinstance(other, Sets):
            return NotImplemented
        return self.names == other.names and all(
            mine.same(theirs) for mine, theirs in zip(self.entries, other.entries, strict=True)
        )

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Sets({', '.join(self.names)})"


def entry_of(planned: PlannedSet) -> SetEntry:
    """A set in memory as an entry."""
    return SetEntry(planned.name, planned.versions, basis=planned.basis, planned=planned)
