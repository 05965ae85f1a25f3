"""Crops made elsewhere, measured by the same rules: the whole file is the crop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final, cast

from cropper._layout import finite
from cropper.destination.destination import Destination
from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_RULE_BROKEN,
    EXIT_SOME_FAILED,
    MasterError,
    weightiest,
)
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.choices import shape_fits, shape_words
from cropper.job.one_master import Looker
from cropper.job.plan import HandMarks
from cropper.proposal.delivering import lying_as
from cropper.proposal.measuring import measure
from cropper.proposal.proposal import WORST_FIRST, Measure, Proposal, Verdict
from cropper.subject.principal import question
from cropper.subject.subject import Finding

FORMAT: Final = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One file against every destination. ``problem``: why nothing could be measured.

    ``unreadable`` tells a file that cannot be opened from one whose eyes were not found.
    """

    file: str
    size: Size | None = None
    finding: Finding | None = None
    problem: str | None = None
    unreadable: bool = False
    measured: tuple[Proposal, ...] = ()

    @property
    def broken(self) -> bool:
        """Whether any rule of any destination is broken."""
        return any(one.verdict in {Verdict.BREAKS, Verdict.NO_CROP} for one in self.measured)

    @property
    def needs_an_eye(self) -> bool:
        """Whether the eyes were not found, or only estimated."""
        if self.unreadable:
            return False
        if self.finding is None or not self.finding.principals:
            return True
        return any(one.eyes_in_doubt for one in self.finding.principals)

    def mapping(self) -> dict[str, Any]:
        """The check as plain JSON values."""
        return {
            "file": self.file,
            "width": self.size.width if self.size else None,
            "height": self.size.height if self.size else None,
            "problem": self.problem,
            "destinations": [_mapping(one) for one in self.measured],
        }


def check_file(
    file: Path, destinations: Sequence[Destination], looker: Looker, marks: HandMarks
) -> Checked:
    """Measure one file; what is wrong with it is said in :attr:`Checked.problem`."""
    try:
        seen = looker.look(file, marks)
    except MasterError as error:
        return Checked(file=str(file), problem=str(error), unreadable=True)
    problem = seen.finding.problem
    if not seen.finding.principals:
        problem = problem or question(())
    return Checked(
        file=str(file),
        size=seen.size,
        finding=seen.finding,
        problem=problem,
        measured=tuple(check_crop(seen.finding, one) for one in destinations),
    )


def check_crop(finding: Finding, destination: Destination) -> Proposal:
    """A whole picture measured as a crop for ``destination``, its shape first of all."""
    size = finding.size
    whole = Crop(PixelBox(0, 0, size.width, size.height))
    measured = measure(finding, destination, whole, kind="made elsewhere", proposed_by="elsewhere")
    shape = _shape(size, destination)
    verdict = min((measured.verdict, shape.verdict), key=WORST_FIRST.index)
    reasons = measured.reasons
    if shape.verdict is Verdict.BREAKS:
        reasons = (shape.sentence, *reasons)
    return replace(measured, measures=(shape, *measured.measures), verdict=verdict, reasons=reasons)


def _shape(size: Size, destination: Destination) -> Measure:
    fits = shape_fits(size, destination)
    lying = lying_as(destination, size)
    band = (float(lying.shape.least), float(lying.shape.most))
    asked = shape_words(destination)
    is_so = f"{size.width} x {size.height} px {'is' if fits else 'is not'} {asked}"
    return Measure(
        rule="shape",
        title="Shape",
        value=size.width / size.height,
        unit="width / height",
        target=band,
        limit=band,
        uncertainty=0.0,
        verdict=Verdict.HOLDS if fits else Verdict.BREAKS,
        excess=0.0 if fits else 1.0,
        weight=1000.0,
        source="the destination; one pixel is allowed for rounding",
        sentence=f"{is_so}.",
    )


def _mapping(one: Proposal) -> dict[str, Any]:
    return {
        "destination": one.destination,
        "verdict": str(one.verdict),
        "shot": one.shot,
        "reasons": list(one.reasons),
        "rules": [asdict(rule) | {"verdict": str(rule.verdict)} for rule in one.measures],
    }


def as_mapping(checked: Sequence[Checked]) -> dict[str, Any]:
    """All checks as plain JSON values (schema ``check.schema.json``)."""
    plain = finite({"format": FORMAT, "files": [one.mapping() for one in checked]})
    return cast("dict[str, Any]", plain)


def exit_code(checked: Sequence[Checked]) -> int:
    """What ``check`` exits with."""
    codes = [EXIT_DONE]
    unreadable = sum(one.unreadable for one in checked)
    if unreadable:
        codes.append(EXIT_CANNOT if unreadable == len(checked) else EXIT_SOME_FAILED)
    if any(one.broken for one in checked):
        codes.append(EXIT_RULE_BROKEN)
    if any(one.needs_an_eye for one in checked):
        codes.append(EXIT_NEEDS_YOUR_EYE)
    return weightiest(*codes)
