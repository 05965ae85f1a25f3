"""A job's finished files, outlets, sets and people, taken into the record."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from cropper.errors import RecordError
from cropper.job.outlets import read_outlets
from cropper.job.plan import Plan
from cropper.publication.facts import Asked
from cropper.publication.outlets import Outlets
from cropper.publication.whereabouts import Standing, standing
from cropper.record.address import chosen

if TYPE_CHECKING:
    from cropper.record import Record, Stamp

WORDS: Final = "words.toml"
MODEL: Final = "model"
"""The role of those who are in the picture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """How much of a job was new to the record."""

    files: int
    new: int
    outlets: int
    sets: int
    sentences: tuple[str, ...] = ()


def take_in_job(record: Record, job: Path, stamp: Stamp) -> TakenIn:
    """Know a job's deliverables by content, the outlets it names, its sets, and its people."""
    from cropper.record.naming import pieces_of_job, sets_of  # noqa: PLC0415 - as below

    pieces = pieces_of_job(job, _people(job))
    outlets = read_outlets(job)
    changed = record.keep_outlets(outlets.outlets.values(), stamp)
    new = record.take_in(pieces, stamp)
    known = record.facts(Asked(versions=("",))).sets
    sets = [rules.name for rules in sets_of(pieces, known) if record.keep_set(rules, stamp)]
    return TakenIn(files=len(pieces), new=len(new), outlets=len(changed), sets=len(sets))


def standing_in(
    where: Outlets, plan: Plan, job: Path, *, address: str | None, now: datetime
) -> Standing:
    """``where`` with what the record says is running or promised as fixed points, and why.

    Without a record, or where no set is planned, nothing changes. One that cannot be read stops
    no planning: the sentence says that it was planned without it.
    """
    versions = tuple(dict.fromkeys(name for one in plan.sets for name in one.versions))
    place = chosen(address, job=job)
    if not versions or (place.file is not None and not place.file.is_file()):
        return Standing(outlets=where, sentences=())
    from cropper.record import open_record  # noqa: PLC0415 - brings the database, seldom needed

    try:
        with open_record(address, job=job) as record:
            facts = record.facts(Asked(versions=versions))
    except RecordError as error:
        return Standing(outlets=where, sentences=(f"Planned without the record: {error}",))
    destinations = [one.name for one in plan.destinations]
    return standing(facts, versions, destinations, where, now)


def _people(job: Path) -> dict[str, tuple[str, ...]]:
    """Who is in the pictures, by version (empty: in all), as the job's words credit them."""
    try:
        told = tomllib.loads((job / WORDS).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    credits_ = told.get("credit", [])
    models = [str(one.get("name", "")) for one in credits_ if one.get("role") == MODEL]
    return {"": tuple(name for name in models if name)}
