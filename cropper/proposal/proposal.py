"""What the planner answers for one master and one destination: proposals, or no crop and why.

Every measured value stands beside its rule and source; verdicts come from a closed list.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from cropper.destination.destination import Surround
from cropper.geometry import Crop, Size


class Verdict(StrEnum):
    """How a rule, or a whole crop, stands. The values are stable codes; :attr:`word` is shown."""

    HOLDS = "holds"
    BENDS = "bends"
    BREAKS = "breaks"
    UNCERTAIN = "uncertain"
    NO_CROP = "no crop"

    @property
    def word(self) -> str:
        """The word that people read.

        >>> Verdict.BREAKS.word, Verdict.UNCERTAIN.word
        ('problem', 'check')
        """
        return VERDICT_WORDS[self]


VERDICT_WORDS: Final = {
    Verdict.HOLDS: "good",
    Verdict.BENDS: "fine",
    Verdict.UNCERTAIN: "check",
    Verdict.BREAKS: "problem",
    Verdict.NO_CROP: "no crop",
}
"""The one place that says what people read for each code."""

WORST_FIRST: Final = (
    Verdict.NO_CROP,
    Verdict.BREAKS,
    Verdict.UNCERTAIN,
    Verdict.BENDS,
    Verdict.HOLDS,
)

Cost = float
"""The sum of all rules for a crop; smaller is better. See docs/composition.md."""

TIE: Final = 0.02
"""Costs nearer than this look the same to the eye [composition]."""


def worst(*verdicts: Verdict) -> Verdict:
    """The worst of some verdicts; with none, it holds."""
    return min(verdicts, key=WORST_FIRST.index, default=Verdict.HOLDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One rule measured on one crop.

    ``value`` in ``unit``, ``uncertainty`` one standard deviation of it. ``excess`` is how far the
    rule is missed in its own scale, less what the master's edges force; ``cost`` is what the rule
    adds to the sum. ``target`` and ``limit`` are (least, most) for rules that a destination
    states as bands.
    """

    rule: str
    title: str
    value: float | None
    unit: str
    target: tuple[float | None, float | None] | None = None
    limit: tuple[float | None, float | None] | None = None
    uncertainty: float = 0.0
    verdict: Verdict
    excess: float
    weight: float
    cost: float = 0.0
    source: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A crop with its reasons. ``kind`` names it among the others, in the trade's words.

    ``enlargement`` is delivered pixels over crop pixels (above 1: enlarged);
    ``effective_ppi`` is None for screens. ``leaves_out`` counts principal persons that are not in
    it. ``fill`` says what fills the frame past the master, whatever the destination's own finish
    says; ``fill_colour`` is a border's ('#rrggbb', sRGB).
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
    leaves_out: int = 0
    fill: Surround = Surround.NOTHING
    fill_colour: str = ""


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
    """Nothing can be delivered: which demands are in conflict, by how much, and the ways out."""

    destination: str
    conflicts: tuple[Conflict, ...]
    ways_out: tuple[WayOut, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The planner's answer for one destination: proposals best first, or no crop."""

    destination: str
    proposals: tuple[Proposal, ...] = ()
    no_crop: NoCrop | None = None

    @property
    def best(self) -> Proposal | None:
        """The first proposal, if there is any."""
        return self.proposals[0] if self.proposals else None
