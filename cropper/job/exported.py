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
    """What one export is asked for. ``day`` (YYYYMMDD) fills ``{date}`` in names.

    ``by_recipient`` None: as the folder is sorted already. ``with_problems``: crops that break a
    rule and that nobody approved leave, too. ``accept_low_ppi``: so do those with fewer pixels than
    their printer demands.
    """

    folder: Path
    day: str
    everything: bool = False
    by_recipient: bool | None = None
    only: Collection[str] = ()
    approved_only: bool = False
    with_problems: bool = False
    accept_low_ppi: bool = False
    sidecars_beside_masters: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FileTold:
    """A delivered file in brief; all there is to know of it stands in the manifest.

    ``fresh``: written just now; ``moved``: it had another name before.
    """

    file: str
    width: int
    height: int
    bytes: int
    verdict: str
    fresh: bool
    moved: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What came of it, in numbers: the manifest has every file and everything without one.

    ``delivered`` counts what this run was asked for and has its file, ``listed`` all files of the
    manifest, ``moved`` those that have another name now. ``set_aside`` are the new places of files
    that nobody asks for any more, ``doubts`` sentences about masters that could not be looked at
    though their files are there, ``absent`` versions whose masters are not where the plan has them.
    ``held`` counts crops that stay for a problem, ``problems`` files that left with one unseen.
    ``questions`` are what the finder asks about masters whose files left before anybody looked.

    ``first`` and ``first_missing`` are the first :data:`LISTED` of each; ``failures`` are those not
    delivered because something went wrong, ``sidecars`` those that could not be written, and
    ``remarks`` sentences about what was left alone.
    """

    delivered: int
    not_delivered: int
    written: int
    moved: int
    listed: int
    first: tuple[FileTold, ...]
    first_missing: tuple[NotDelivered, ...]
    failures: tuple[NotDelivered, ...]
    set_aside: tuple[Path, ...]
    look_again: tuple[str, ...]
    clash: bool
    sidecars: tuple[Sidecar, ...] = ()
    remarks: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    stopped: bool = False
    absent: tuple[str, ...] = ()
    held: int = 0
    problems: int = 0
    questions: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """What ``export`` exits with."""
        codes = [EXIT_DONE]
        if self.failures:
            codes.append(EXIT_SOME_FAILED if self.delivered else EXIT_CANNOT)
        elif self.remarks or self.sidecars or self.doubts:
            codes.append(EXIT_SOME_FAILED)
        if self.clash:
            codes.append(EXIT_RIVALS_CLASH)
        if self.look_again or self.held or self.questions:
            codes.append(EXIT_NEEDS_YOUR_EYE)
        return weightiest(*codes)
