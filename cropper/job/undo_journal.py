"""The last changes of a job's crops, as ``JOB/adjusted.json`` keeps them to be taken back.

A step is written before the plan is: after a crash it may speak of a change that never came to be,
and taking that back changes nothing. Of a crop only its place is kept, and its measures are taken
anew: a step may be about a season's masters. The page keeps its own steps, with more of each.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from cropper import disk
from cropper._layout import laid_out
from cropper.errors import JobError
from cropper.geometry import Crop
from cropper.job.adjusting import STRAIGHTEN_MOST_DEG
from cropper.job.plan import Choice, ChoiceState, PlannedMaster
from cropper.job.putting import reason, write_text

FILE: Final = "adjusted.json"
STEPS_KEPT: Final = 50
"""Older steps are forgotten (house)."""
WAY_OUT: Final = "Take that file away: crops stay as they are, older changes cannot be undone"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptChoice:
    """A choice without its measures: they are taken anew from the crop.

    ``index`` is the place among the proposals; None: a crop made by hand.
    """

    crop: Crop
    index: int | None
    chosen_by: str
    at: datetime
    state: ChoiceState
    frozen: bool = False

    def __post_init__(self) -> None:
        if not abs(self.crop.straighten_deg) <= STRAIGHTEN_MOST_DEG:  # a NaN is not, either
            message = f"no crop is turned by {self.crop.straighten_deg} degrees"
            raise ValueError(message)

    def same_crop(self, other: KeptChoice | None) -> bool:
        """Whether both are the same crop, frozen or not alike."""
        return other is not None and (self.crop, self.frozen) == (other.crop, other.frozen)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptChange:
    """One crop before and after; None: there was no crop."""

    version: str
    destination: str
    before: KeptChoice | None
    after: KeptChoice | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One call of the command: what it was told, and all crops that it changed."""

    label: str
    at: datetime
    changes: tuple[KeptChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    format: int = 1
    steps: tuple[Step, ...] = ()


@cache
def _files() -> TypeAdapter[_File]:
    return TypeAdapter(_File)


def kept(master: PlannedMaster, destination: str) -> KeptChoice | None:
    """What of a master's choice must be known to come back to it."""
    choice, chosen = master.choices.get(destination), master.chosen(destination)
    if choice is None or chosen is None:
        return None
    return KeptChoice(
        crop=chosen.crop,
        index=choice.index,
        chosen_by=choice.chosen_by,
        at=choice.at,
        state=choice.state,
        frozen=choice.frozen,
    )


def read_steps(job: Path) -> tuple[Step, ...]:
    """The steps, oldest first. Raises :class:`JobError` for a file that is not one of these."""
    path = job / FILE
    try:
        told = _files().validate_json(disk.short(path).read_bytes())
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise JobError(f"{path} cannot be read ({reason(error)})", way_out=WAY_OUT) from error
    except (ValidationError, ValueError) as error:
        raise JobError(f"{path} is damaged", way_out=WAY_OUT) from error
    if told.format > 1:
        raise JobError(f"{path} was made by a newer program", way_out="Update cropper")
    return told.steps


def write_steps(job: Path, steps: tuple[Step, ...]) -> None:
    """Keep the newest steps. Only while the job is held."""
    told = _File(steps=steps[-STEPS_KEPT:])
    write_text(job / FILE, laid_out(_files().dump_python(told, mode="json")))


def choice_again(before: KeptChoice, master: PlannedMaster, destination: str) -> Choice | None:
    """The choice as one of today's proposals; None where none of them is this crop."""
    answer = master.answer(destination)
    places = enumerate(answer.proposals if answer else ())
    same = next((at for at, one in places if one.crop == before.crop), None)
    if before.index is None or same is None:
        return None
    return Choice(
        index=same,
        chosen_by=before.chosen_by,
        at=before.at,
        state=before.state,
        frozen=before.frozen,
    )
