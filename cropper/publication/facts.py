"""What is known: the snapshot that a question about runs is answered from.

The record hands it out, narrowed to what was :class:`Asked`; the rules of
:mod:`cropper.publication.clashes` read nothing else. Everything in it counts *now*: corrected and
superseded rows are left behind in the record's history.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from cropper.publication.licences import Licence
from cropper.publication.outlets import Outlet
from cropper.publication.releases import Release
from cropper.publication.runs import Piece, Run, SetRules
from cropper.publication.spans import Span

NOTHING: Final[Mapping[str, str]] = MappingProxyType({})
UNREAD: Final[Mapping[str, frozenset[str]]] = MappingProxyType({})
"""Nobody has said yet which sets the versions belong to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a snapshot is narrowed to; empty means everything, several narrow together (AND).

    ``versions`` and ``sets`` are joined (OR): a run counts that is of one of the versions or of
    one of the sets. ``audience`` keeps runs whose outlet is seen by one of the groups. ``span``
    keeps runs that overlap it. Outlets, licences, releases and set rules come along as needed.
    """

    outlets: tuple[str, ...] = ()
    versions: tuple[str, ...] = ()
    sets: tuple[str, ...] = ()
    audience: tuple[str, ...] = ()
    pieces: tuple[str, ...] = ()
    span: Span | None = None


EVERYTHING: Final = Asked()


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Outlets and sets by name, releases by person; ``barred`` maps a version to why not."""

    outlets: Mapping[str, Outlet] = field(default_factory=lambda: MappingProxyType({}))
    pieces: tuple[Piece, ...] = ()
    runs: tuple[Run, ...] = ()
    licences: tuple[Licence, ...] = ()
    releases: Mapping[str, Release] = field(default_factory=lambda: MappingProxyType({}))
    sets: Mapping[str, SetRules] = field(default_factory=lambda: MappingProxyType({}))
    barred: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    """Versions withdrawn, or refused in review, with the sentence that says so."""
    homes: Mapping[str, frozenset[str]] = field(default_factory=lambda: UNREAD)
    """By version, the sets it belongs to; worked out from ``sets`` and ``pieces`` unless given."""

    def __post_init__(self) -> None:
        if self.homes is UNREAD:
            object.__setattr__(self, "homes", homes_of(self.sets.values(), self.pieces))

    def sets_of(self, run: Run) -> frozenset[str]:
        """Every set that the version of ``run`` belongs to, and the one that the run names.

        The sets come from the version, so that a run recorded before its set was declared, or by a
        table that does not name it, is bound like any other.
        """
        known = self.homes.get(run.version, frozenset())
        return known | {run.set} if run.set else known

    def covers(self, licence: Licence, run: Run) -> bool:
        """Whether ``licence`` is about the version of ``run``, itself or through a set."""
        return licence.covers(run.version, self.sets_of(run))

    def outlet(self, name: str) -> Outlet | None:
        """The outlet called ``name``."""
        return self.outlets.get(name)

    def piece(self, sha256: str) -> Piece | None:
        """The piece with this content."""
        return next((one for one in self.pieces if one.sha256 == sha256), None)

    def people_in(self, run: Run) -> tuple[str, ...]:
        """Who is in the picture that a run shows: its piece's people, else its version's."""
        piece = self.piece(run.piece)
        if piece is not None:
            return piece.people
        same = (one.people for one in self.pieces if one.version == run.version)
        return next(same, ())


def homes_of(sets: Iterable[SetRules], pieces: Iterable[Piece]) -> Mapping[str, frozenset[str]]:
    """By version, the sets that list it and the sets of its finished files.

    >>> rules = [SetRules(name="shawl", versions=("hood", "roll"))]
    >>> sorted(homes_of(rules, ())["roll"])
    ['shawl']
    """
    found: dict[str, set[str]] = {}
    for rules in sets:
        for version in rules.versions:
            found.setdefault(version, set()).add(rules.name)
    for piece in pieces:
        if piece.set:
            found.setdefault(piece.version, set()).add(piece.set)
    return MappingProxyType({version: frozenset(names) for version, names in found.items()})
