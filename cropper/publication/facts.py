"""What is known: the snapshot that a question about runs is answered from.

The record hands it out, narrowed to what was :class:`Asked`; the rules of
:mod:`cropper.publication.clashes` read nothing else. Everything in it counts *now*: corrected and
superseded rows are left behind in the record's history.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from cropper.publication.licences import Licence
from cropper.publication.outlets import Outlet
from cropper.publication.releases import Release
from cropper.publication.runs import Piece, Run, SetRules
from cropper.publication.spans import Span

NOTHING: Final[Mapping[str, str]] = MappingProxyType({})


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
