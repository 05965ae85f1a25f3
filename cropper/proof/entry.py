"""What a proof sheet shows, as plain values: masters, their crops, and the matrix of a set.

Nothing here reads a job folder or opens a picture: :mod:`cropper.proof.from_plan` fills these
values from a plan, and anybody with a finding and an answer can fill them by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PIL import Image

from cropper.destination.destination import Destination
from cropper.proposal.proposal import Answer, Proposal, Verdict
from cropper.subject.subject import Finding

Picture = Callable[[int], Image.Image]
"""Gives the upright master as 8-bit sRGB whose longer side is at most so many pixels."""

BY_PROGRAM = "cropper"
"""``chosen_by`` of a crop nobody touched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofEntry:
    """One destination of one master: the answer, and the crop that stands chosen.

    ``chosen`` is one of the answer's proposals or a hand-made crop measured by the same rules;
    None means the best proposal. ``chosen_by`` names who decided.
    """

    destination: Destination
    answer: Answer
    chosen: Proposal | None = None
    chosen_by: str = BY_PROGRAM
    note: str = ""

    @property
    def shown(self) -> Proposal | None:
        """The crop shown large: the chosen one, else the best proposal, else none."""
        return self.chosen or self.answer.best

    @property
    def others(self) -> tuple[Proposal, ...]:
        """The proposals that are not the crop shown large."""
        shown = self.shown
        if shown is None:
            return ()
        return tuple(other for other in self.answer.proposals if other.crop != shown.crop)

    @property
    def by_hand(self) -> bool:
        """Whether a person decided, rather than the program."""
        return self.chosen is not None and self.chosen_by != BY_PROGRAM

    @property
    def verdict(self) -> Verdict:
        """The verdict of the crop shown, or no crop."""
        return self.shown.verdict if self.shown else Verdict.NO_CROP


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofMaster:
    """One master with everything proposed from it. ``file`` is a name to show, not a path."""

    version: str
    file: str
    finding: Finding
    picture: Picture
    entries: tuple[ProofEntry, ...]
    set_name: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MatrixCell:
    """How one version would do at one destination. ``lost`` is the share of the master cut away."""

    version: str
    destination: str
    verdict: Verdict
    lost: float | None
    spare_px: int | None
    sentence: str
    place: str = ""
    """``assigned``, ``runner-up`` or empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetMatrix:
    """Versions x destinations of one set, with the assignment and what it would cost to differ."""

    name: str
    versions: tuple[str, ...]
    destinations: tuple[str, ...]
    cells: tuple[MatrixCell, ...]
    sentences: tuple[str, ...] = ()

    def cell(self, version: str, destination: str) -> MatrixCell | None:
        """The cell of a pair, None where nothing was planned."""
        for cell in self.cells:
            if (cell.version, cell.destination) == (version, destination):
                return cell
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """All of a job that a proof sheet shows. ``dated`` is printed as given; empty: no date."""

    title: str
    masters: tuple[ProofMaster, ...]
    matrices: tuple[SetMatrix, ...] = ()
    failures: tuple[tuple[str, str], ...] = ()
    dated: str = ""
