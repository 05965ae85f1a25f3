"""What a search may be told to keep to, and what it finds."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from cropper.geometry import PixelBox
from cropper.proposal.proposal import Cost


class Crown(StrEnum):
    """What a search may do with the crown."""

    ANY = "any"
    CLEAR = "clear"
    CUT = "cut"


class Page(StrEnum):
    """Which half of a spread the eyes must stand on."""

    ANY = "any"
    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A restriction that makes one kind of proposal differ from another."""

    crown: Crown = Crown.ANY
    page: Page = Page.ANY


ANYTHING: Final = Wish()


@dataclass(frozen=True, slots=True)
class Found:
    """The best box of a search with its cost tuple, and what breaks ties."""

    box: PixelBox
    cost: Cost
    ties: tuple[float, ...] = ()

    def beats(self, other: Found | None) -> bool:
        """Whether it is the better one; of equals the earlier stays."""
        return other is None or (self.cost, self.ties) < (other.cost, other.ties)
