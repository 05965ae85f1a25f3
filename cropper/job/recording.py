"""A job's finished files, outlets, sets and people, taken into the record."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final
from uuid import uuid4

from cropper.errors import RecordError
from cropper.job.job_words import JobWords
from cropper.job.outlets import read_outlets
from cropper.job.plan import Plan
from cropper.job.wording import read_words
from cropper.publication.dates import midnight, said_span
from cropper.publication.facts import Asked
from cropper.publication.outlets import Outlets
from cropper.publication.releases import STATUS_WORDS, Release
from cropper.publication.settling import Unsettled, unsettled
from cropper.publication.spans import Span
from cropper.publication.whereabouts import Standing, standing
from cropper.record.address import chosen

if TYPE_CHECKING:
    from cropper.record import Record, Stamp

MODEL: Final = "model"
"""The role of those who are in the picture."""
UNNAMED: Final = "a model whose name is withheld"


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """How much of a job was new to the record."""

    files: int
    new: int
    outlets: int
    sets: int
    sentences: tuple[str, ...] = ()
    unsettled: tuple[Unsettled, ...] = ()
    """Recorded runs that clash since the job was taken in."""


def take_in_job(record: Record, job: Path, stamp: Stamp) -> TakenIn:
    """Know a job's deliverables by content, the outlets it names, its sets, and its people."""
    from cropper.record.naming import pieces_of_job, sets_of  # noqa: PLC0415 - as below

    words, outlets = read_words(job), read_outlets(job)
    pieces = pieces_of_job(job, _people(words))
    about = Asked(
        sets=tuple({one.set for one in pieces if one.set}),
        versions=tuple({one.version for one in pieces}),
    )
    before = {one.key for one in record.unsettled(about, stamp.at)}
    changed = record.keep_outlets(outlets.outlets.values(), stamp)
    new = record.take_in(pieces, stamp)
    known = record.facts(Asked(versions=("",)))
    sets = [rules.name for rules in sets_of(pieces, known.sets) if record.keep_set(rules, stamp)]
    sentences = [
        f"{one.person}: {STATUS_WORDS[one.status]}, as words.toml says; yours to confirm."
        for one in _releases(words, known.releases)
        if record.keep_release(one, stamp)
    ]
    return TakenIn(
        files=len(pieces),
        new=len(new),
        outlets=len(changed),
        sets=len(sets),
        sentences=tuple(sentences),
        unsettled=tuple(one for one in record.unsettled(about, stamp.at) if one.key not in before),
    )


def unsettled_of(job: Path, *, address: str | None, now: datetime) -> tuple[Unsettled, ...]:
    """The clashes of recorded runs of a job's versions that call for something now.

    None where there is no record. Raises :class:`RecordError` for one that cannot be read.
    """
    place = chosen(address, job=job)
    if place.file is not None and not place.file.is_file():
        return ()
    from cropper.record import open_record  # noqa: PLC0415 - brings the database, seldom needed

    with open_record(address, job=job) as record:
        rules = record.facts(Asked(versions=("",))).sets.values()
        rest = max((one.rest for one in rules), default=timedelta(0))
        facts = record.facts(Asked(span=Span(now - rest)))
    mine = {one.version for one in facts.pieces if one.job == job.resolve().name}
    return tuple(one for one in unsettled(facts, now) if one.run.version in mine)


def standing_in(
    where: Outlets, plan: Plan, job: Path, *, address: str | None, now: datetime
) -> Standing:
    """``where`` with what the record says is running or promised as fixed points, and why.

    Without a record, or where no set is planned, nothing changes. One that cannot be read stops
    no planning: the sentence says that it was planned without it.
    """
    versions = tuple(plan.rivals.homes)
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


def runs_told_by(record: Record) -> Callable[[str], tuple[str, ...]]:
    """A question to the record: the runs of a finished file, by its content, in sentences."""

    def runs_of(sha256: str) -> tuple[str, ...]:
        facts = record.facts(Asked(pieces=(sha256,)))
        return tuple(
            f"{run.state} at '{run.outlet}' {said_span(run.span, run.zone)}" for run in facts.runs
        )

    return runs_of


def _people(words: JobWords) -> dict[str, tuple[str, ...]]:
    """Who is in the pictures, by version (empty: in all others), as the job's words credit them."""
    named = {version for one in words.credits for version in one.versions}
    return {
        version: tuple(
            UNNAMED if one.withheld else one.name
            for one in words.credited(version)
            if one.role == MODEL
        )
        for version in (*named, "")
    }


def _releases(words: JobWords, known: Mapping[str, Release]) -> Iterator[Release]:
    """The releases that the job's words tell of people nobody recorded a release for."""
    from cropper.record.naming import machine_zone  # noqa: PLC0415 - brings the database

    zone = machine_zone()
    for one in words.releases:
        if one.person not in known:
            yield Release(
                id=uuid4().hex[:8],
                person=one.person,
                status=one.status,
                signed_at=midnight(one.signed, zone) if one.signed else None,
                until=midnight(one.until, zone) if one.until else None,
                scope=one.scope,
            )
