"""What the planner answers for one master and one destination: proposals, or no crop and why.

Every measured value stands beside its target and limit; verdicts come from a closed list.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from cropper.geometry import Crop, Size


class Verdict(StrEnum):
    """How a rule, or a whole crop, stands."""

    HOLDS = "holds"
    BENDS = "bends"
    BREAKS = "breaks"
    UNCERTAIN = "uncertain"
    NO_CROP = "no crop"


TIERS: Final = (
    "never",
    "framing",
    "crown",
    "eye_line",
    "headroom",
    "joints",
    "across",
    "kept",
)
"""Cost tiers, compared in this order."""

Cost = tuple[int, ...]
"""One whole number per tier of :data:`TIERS`, in thousandths; smaller is better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One rule measured on one crop. ``target`` and ``limit`` are (least, most), None if open."""

    rule: str
    tier: str
    title: str
    value: float | None
    unit: str
    target: tuple[float | None, float | None] | None
    limit: tuple[float | None, float | None] | None
    uncertainty: float
    verdict: Verdict
    excess: float
    weight: float
    source: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A crop with its reasons. ``kind`` says how it differs from the others, in the trade's words.

    ``enlargement`` is delivered pixels over crop pixels (above 1: enlarged);
    ``effective_ppi`` is None for screens.
    """

    destination: str
    crop: Crop
    kind: str
    shot: str
    orientation: str
    measures: tuple[Measure, ...]
    cost: Cost
    verdict: Verdict
    reasons: tuple[str, ...]
    delivered: Size
    enlargement: float
    effective_ppi: float | None
    proposed_by: str = "cropper"


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Two demands that cannot both hold, and by how many master pixels."""

    first: str
    second: str
    short_px: int
    side: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """Something that would make the destination possible.

    ``kind``: border, backdrop, shoot, version, enlarge or eyes.
    """

    kind: str
    sentence: str
    px: int = 0
    side: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoCrop:
    """Nothing fits: which demands are in conflict, by how much, and the ways out."""

    destination: str
    conflicts: tuple[Conflict, ...]
    ways_out: tuple[WayOut, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The planner's answer for one destination: up to three proposals best first, or no crop."""

    destination: str
    proposals: tuple[Proposal, ...] = ()
    no_crop: NoCrop | None = None

    @property
    def best(self) -> Proposal | None:
        """The first proposal, if there is any."""
        return self.proposals[0] if self.proposals else None
