"""What became of crops that were changed by hand, in words and as JSON values.

A change may be over a season's masters, so nothing here holds more of a proposal than is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from cropper.destination.destination import Destination
from cropper.errors import EXIT_CANNOT, EXIT_DONE
from cropper.geometry import Crop
from cropper.job.adjustment import eyes_in, place_of
from cropper.job.approving import standing
from cropper.job.plan import Choice, PlannedMaster, Word
from cropper.proposal.delivering import lying_as
from cropper.proposal.proposal import Proposal, Verdict

WORD_SAID: Final = {
    Word.APPROVED: "approved",
    Word.HELD: "held back",
    Word.REFUSED: "refused",
}
NAMED: Final = 12
"""So many names stand in one sentence (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CropThen:
    """A crop as it stood: where, its verdict, and the sentences that say why."""

    crop: Crop
    verdict: Verdict
    reasons: tuple[str, ...]

    @classmethod
    def of(cls, proposal: Proposal | None) -> CropThen | None:
        """What is told of a proposal; None: there was no crop."""
        if proposal is None:
            return None
        return cls(crop=proposal.crop, verdict=proposal.verdict, reasons=proposal.reasons)

    def mapping(self) -> dict[str, Any]:
        """As JSON values."""
        box = self.crop.box
        return {
            "crop": [box.x0, box.y0, box.x1, box.y1],
            "straighten_deg": self.crop.straighten_deg,
            "verdict": str(self.verdict),
            "reasons": list(self.reasons),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedCrop:
    """One crop before and after (None: no crop), and in words what is different."""

    version: str
    destination: str
    before: CropThen | None
    after: CropThen | None
    frozen: bool
    said: str

    @property
    def verdicts(self) -> str:
        """The verdict as people read it, and what it was where that is another."""
        was, now = (
            one.verdict.word if one else Verdict.NO_CROP.word for one in (self.before, self.after)
        )
        return now if was == now else f"{was}, now {now}"

    def mapping(self) -> dict[str, Any]:
        """As JSON values. Boxes are x0, y0, x1, y1 in pixels of the upright master."""
        return {
            "version": self.version,
            "destination": self.destination,
            "before": None if self.before is None else self.before.mapping(),
            "after": None if self.after is None else self.after.mapping(),
            "frozen": self.frozen,
            "changed": self.said,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class SkippedCrop:
    """One crop that stays as it is, and why. ``already``: it stands as was asked."""

    version: str
    destination: str
    why: str
    already: bool = False

    def mapping(self) -> dict[str, Any]:
        """As JSON values."""
        return {"version": self.version, "destination": self.destination, "why": self.why}


@dataclass(frozen=True, slots=True, kw_only=True)
class HandChanges:
    """What came of it. ``sentences`` tell what follows elsewhere, such as in a set."""

    label: str
    changed: tuple[ChangedCrop, ...] = ()
    skipped: tuple[SkippedCrop, ...] = ()
    sentences: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """0, or 1 where nothing at all could be done."""
        stuck = [one for one in self.skipped if not one.already]
        return EXIT_CANNOT if stuck and not self.changed else EXIT_DONE

    @property
    def stays(self) -> tuple[str, ...]:
        """What was not changed and why, a sentence for each destination and reason."""
        told: dict[tuple[str, str], list[str]] = {}
        for one in self.skipped:
            told.setdefault((one.destination, one.why), []).append(one.version)
        return tuple(
            f"{destination} stays as it is for {some(versions)}: {why[:1].lower()}{why[1:]}"
            for (destination, why), versions in told.items()
        )

    def mapping(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "format": 1,
            "label": self.label,
            "changed": [one.mapping() for one in self.changed],
            "skipped": [one.mapping() for one in self.skipped],
            "notes": list(self.sentences),
        }


def difference(
    before: PlannedMaster, after: PlannedMaster, destination: Destination, remark: str
) -> str:
    """What is different, in words with percent and pixels."""
    name = destination.name
    old, new = before.chosen(name), after.chosen(name)
    parts = [] if old is None or new is None else list(_differences(before, old, new, destination))
    if old is None and new is not None:
        box = new.crop.box
        parts.append(f"a crop of {box.width} x {box.height} px where there was none")
    if new is None:
        parts.append("no crop any longer: the program has none")
    parts += _by_whom(before.choices.get(name), after.choices.get(name))
    word = standing(before, name)
    if word.approval is not None and word.stands and not standing(after, name).stands:
        parts.append(f"you had {WORD_SAID[word.approval.word]} the crop before, not this one")
    said = "; ".join(parts) or "the same crop"
    return f"{said[:1].upper()}{said[1:]}.{remark and ' '}{remark}"


def _differences(
    master: PlannedMaster, old: Proposal, new: Proposal, destination: Destination
) -> Iterator[str]:
    was, now = old.crop, new.crop
    ratio = max(now.box.width, now.box.height) / max(was.box.width, was.box.height)
    if was.box.size != now.box.size:
        how = "tighter" if ratio < 1 else "looser"
        yield (
            f"{abs(1 - ratio):.1%} {how} ({was.box.width} x {was.box.height} to"
            f" {now.box.width} x {now.box.height} px)".replace("%", " %")
        )
    eyes = eyes_in(master.finding, was)
    at = eyes or was.box.centre
    before = place_of(at, was, lying_as(destination, was.box.size))
    after = place_of(at, now, lying_as(destination, now.box.size))
    for a, b, side, less, more in (
        (before.down, after.down, "top", "higher", "lower"),
        (before.across, after.across, "left", "further left", "further right"),
    ):
        px = abs(b - a) * (now.box.height if side == "top" else now.box.width)
        if px < 1:
            continue
        way = less if b < a else more
        if eyes is None:
            yield f"the picture {100 * abs(b - a):.1f} % {way} ({px:.0f} px)"
        else:
            yield f"eyes {100 * a:.1f} to {100 * b:.1f} % from the {side} ({px:.0f} px {way})"
    if was.straighten_deg != now.straighten_deg:
        yield f"turned from {was.straighten_deg:g} to {now.straighten_deg:g} degrees"


def _by_whom(before: Choice | None, after: Choice | None) -> Iterator[str]:
    was, now = before is not None and before.frozen, after is not None and after.frozen
    if was != now:
        yield "frozen: it stays, whatever is planned again" if now else "not frozen any longer"
    if before is not None and before.by_hand and after is not None and not after.by_hand:
        yield "the program's own proposal again"


def some(names: Sequence[str]) -> str:
    """The names, the first of them if they are many."""
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "") or "none"
