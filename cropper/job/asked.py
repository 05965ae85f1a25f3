"""What one run of planning is asked to do."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cropper.destination.destination import Destination
from cropper.geometry import PixelBox
from cropper.job.plan import HandMarks


@dataclass(frozen=True, slots=True, kw_only=True)
class HandCrop:
    """``--crop``: a box for a destination. ``version`` empty: the one master there is."""

    version: str = ""
    destination: str
    box: PixelBox


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """``--choose``: a proposal for a destination, counted from 1."""

    version: str = ""
    destination: str
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What one run of ``plan`` is asked to do.

    No ``files``: all masters of the job. ``destinations`` are added to what the masters have;
    ``offered`` are today's definitions of all there are. The job keeps its own definition of a
    destination unless its name is in ``renewed`` (None: whatever is named or offered is taken;
    ``all`` means every name) or in ``given``, the names that stand in the photographer's own
    folder of this run.
    """

    files: tuple[Path, ...] = ()
    destinations: tuple[Destination, ...] = ()
    offered: tuple[Destination, ...] = ()
    renewed: frozenset[str] | None = None
    given: frozenset[str] = frozenset()
    marks: HandMarks | None = None
    crops: tuple[HandCrop, ...] = ()
    picks: tuple[Pick, ...] = ()

    @property
    def only_wishes(self) -> tuple[str, ...]:
        """Versions that a run is about which only places crops and picks by name; else none."""
        named = (*(one.version for one in self.crops), *(one.version for one in self.picks))
        alone = named and all(named) and not self.files and not self.destinations
        return tuple(dict.fromkeys(named)) if alone and self.marks is None else ()
