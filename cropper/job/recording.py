"""A job's finished files, outlets, sets and people, taken into the record."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cropper.job.outlets import read_outlets
from cropper.publication.facts import Asked
from cropper.record import Record, Stamp
from cropper.record.naming import pieces_of_job, sets_of

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
    pieces = pieces_of_job(job, _people(job))
    outlets = read_outlets(job)
    changed = record.keep_outlets(outlets.outlets.values(), stamp)
    new = record.take_in(pieces, stamp)
    known = record.facts(Asked(versions=("",))).sets
    sets = [rules.name for rules in sets_of(pieces, known) if record.keep_set(rules, stamp)]
    return TakenIn(files=len(pieces), new=len(new), outlets=len(changed), sets=len(sets))


def _people(job: Path) -> dict[str, tuple[str, ...]]:
    """Who is in the pictures, by version (empty: in all), as the job's words credit them."""
    try:
        told = tomllib.loads((job / WORDS).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    credits_ = told.get("credit", [])
    models = [str(one.get("name", "")) for one in credits_ if one.get("role") == MODEL]
    return {"": tuple(name for name in models if name)}
