"""What an outlet may do with a version or a whole set, and until when."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from cropper.errors import MisuseError
from cropper.publication.outlets import Outlet
from cropper.publication.spans import Span


class LicenceKind(StrEnum):
    """What was agreed."""

    FIRST_USE = "first use"
    """Nobody shows it before this outlet did, and for the stretch agreed after that."""
    EXCLUSIVE = "exclusive"
    """For the stretch agreed, nobody else (or nobody of a kind) shows it."""
    EMBARGO = "embargo"
    """Nobody shows it before the stretch ends: ``span.until`` is the first allowed instant."""
    TERM = "term"
    """The outlet may show it during the stretch, and not after it."""


class Against(StrEnum):
    """Whom an exclusive shuts out."""

    EVERYONE = "everyone"
    INDUSTRY = "industry"
    TERRITORY = "territory"
    MEDIUM = "medium"


class AtEnd(StrEnum):
    """What the end of a licence means."""

    NO_NEW_USE = "no new use"
    """What runs already may stay; nothing new may start."""
    MUST_COME_DOWN = "must come down"


class Elsewhere(StrEnum):
    """What an exclusive asks of posts that are still up in streams of others."""

    MAY_STAY = "may stay up"
    """A post that no longer stands out may stay where it is; it is told all the same."""
    TAKEN_DOWN = "taken down"
    """Every post counts for as long as it is up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Licence:
    """One agreement, for one version or (``version`` empty) for all versions of ``set``.

    ``outlet`` is who it was given to; an embargo may name none. ``against`` and ``value`` say whom
    an exclusive shuts out: the industry, territory or medium called ``value``, or everyone.
    ``exceptions`` are outlets that may show it all the same; ``own_portfolio`` lets the
    photographer's own outlets. ``elsewhere`` is what an exclusive asks of older posts in streams.
    A licence that was ``called_off`` binds nobody any more.
    """

    id: str
    kind: LicenceKind
    span: Span
    outlet: str = ""
    set: str | None = None
    version: str = ""
    against: Against = Against.EVERYONE
    value: str = ""
    exceptions: tuple[str, ...] = ()
    own_portfolio: bool = False
    at_end: AtEnd = AtEnd.NO_NEW_USE
    elsewhere: Elsewhere = Elsewhere.MAY_STAY
    called_off: bool = False
    note: str = ""
    zone: str = "UTC"
    recorded_at: datetime | None = None

    def __post_init__(self) -> None:
        if not (self.version or self.set):
            raise MisuseError(
                "a licence is about a version or a set", way_out="Name one of the two"
            )
        if not self.outlet and self.kind is not LicenceKind.EMBARGO:
            raise MisuseError(
                f"a licence of the kind '{self.kind}' is given to an outlet", way_out="Name it"
            )
        if self.kind is LicenceKind.EMBARGO and self.span.until is None:
            raise MisuseError(
                "an embargo ends at an instant", way_out="Say from when it may be shown: --until"
            )
        if (self.against is Against.EVERYONE) == bool(self.value):
            raise MisuseError(
                f"an exclusive against {self.against} needs"
                f" {'no name' if self.value else 'the name of it'}",
                way_out="Write, say: --against industry=knitwear, or --against everyone",
            )

    def covers(self, version: str, sets: Collection[str]) -> bool:
        """Whether it is about this version, itself or through one of its ``sets``."""
        return self.version == version if self.version else self.set in sets

    def shuts_out(self, outlet: Outlet) -> bool:
        """Whether an exclusive (or first use) keeps ``outlet`` from showing it."""
        if outlet.name in {self.outlet, *self.exceptions} or (self.own_portfolio and outlet.own):
            return False
        if self.against is Against.EVERYONE:
            return True
        mine = {
            Against.INDUSTRY: outlet.industry,
            Against.TERRITORY: outlet.territory,
            Against.MEDIUM: outlet.medium,
        }[self.against]
        return not mine or mine.casefold() == self.value.casefold()
