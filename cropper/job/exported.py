"""What one export was asked for, and what came of it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cropper.deliverable.manifest import NotDelivered
from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_RIVALS_CLASH,
    EXIT_SOME_FAILED,
    weightiest,
)
from cropper.job.sidecars import Sidecar

LISTED: Final = 1000
"""Of more files, or of more without one, the rest stands in the manifest alone (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What one export is asked for. ``day`` (YYYYMMDD) fills ``{date}`` in names."""

    folder: Path
    day: str
    everything: bool = False
    by_recipient: bool = False
    only: Collection[str] = ()
    approved_only: bool = False
    sidecars_beside_masters: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FileTold:
    """A delivered file in brief; all there is to know of it stands in the manifest.

    ``fresh``: written just now.
    """

    file: str
    width: int
    height: int
    bytes: int
    verdict: str
    fresh: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What came of it, in numbers: the manifest has every file and everything without one.

    ``first`` and ``first_missing`` are the first :data:`LISTED` of each; ``failures`` are those not
    delivered because something went wrong, ``sidecars`` those that could not be written, and
    ``remarks`` sentences about what was left alone.
    """

    delivered: int
    not_delivered: int
    written: int
    first: tuple[FileTold, ...]
    first_missing: tuple[NotDelivered, ...]
    failures: tuple[NotDelivered, ...]
    left_over: tuple[str, ...]
    look_again: tuple[str, ...]
    clash: bool
    sidecars: tuple[Sidecar, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """What ``export`` exits with."""
        codes = [EXIT_DONE]
        if self.failures:
            codes.append(EXIT_SOME_FAILED if self.delivered else EXIT_CANNOT)
        elif self.remarks or self.sidecars:
            codes.append(EXIT_SOME_FAILED)
        if self.clash:
            codes.append(EXIT_RIVALS_CLASH)
        if self.look_again:
            codes.append(EXIT_NEEDS_YOUR_EYE)
        return weightiest(*codes)
