"""A job's words side by side: one row for each version at each destination."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any, Final

from cropper.errors import MasterError
from cropper.job.plan import Plan
from cropper.job.store import JobFolder
from cropper.job.wording import Worded, read_words, with_master, words_for
from cropper.job.wording_reading import WORDS_FILE
from cropper.job.wording_remarks import Known, remarks
from cropper.job.wording_starter import put_starter
from cropper.master.opening import read_words_of
from cropper.master.own_words import NO_OWN_WORDS, OwnWords


@dataclass(frozen=True, slots=True, kw_only=True)
class WordedRow:
    """What one version says at one destination."""

    destination: str
    version: str
    recipient: str
    worded: Worded

    def mapping(self) -> dict[str, Any]:
        """As plain JSON values."""
        return {
            "destination": self.destination,
            "version": self.version,
            "recipient": self.recipient,
            "language": self.worded.language,
            "credit_line": self.worded.credit_line,
            "caption": self.worded.caption,
            "alt_text": self.worded.alt_text,
            "terms": self.worded.words.usage_terms,
            "licence_until": self.worded.words.licence_until or None,
            "release_status": self.worded.words.release_status or None,
            "notes": list(self.worded.notes),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class JobWordsListing:
    """All rows, what is worth a look, and whether the file was only just made."""

    file: Path
    made: bool
    rows: tuple[WordedRow, ...]
    remarks: tuple[str, ...]

    def mapping(self) -> dict[str, Any]:
        """As plain JSON values."""
        return {
            "file": str(self.file),
            "made": self.made,
            "rows": [one.mapping() for one in self.rows],
            "remarks": list(self.remarks),
        }


def words_of_job(job: Path, *, today: date) -> JobWordsListing:
    """Make the job's ``words.toml`` if there is none, else read it and lay it out.

    Raises :class:`JobError` without a plan, :class:`PresetError` with every fault of the file.
    """
    plan = JobFolder(job).must_read()
    versions = tuple(one.version for one in plan.shelf.entries)
    made = put_starter(job, versions, plan.destinations, lambda: own_words_of(job, plan))
    if made:
        return JobWordsListing(file=job / WORDS_FILE, made=True, rows=(), remarks=())
    words = read_words(job)
    own = own_words_of(job, plan)
    known = Known(
        own=own,
        versions=versions,
        destinations=tuple(one.name for one in plan.destinations),
        recipients=tuple(dict.fromkeys(one.recipient for one in plan.destinations)),
    )
    rows = tuple(
        WordedRow(
            destination=one.name,
            version=version,
            recipient=one.recipient,
            worded=with_master(
                words_for(words, version=version, destination=one.name, recipient=one.recipient),
                own.get(version, NO_OWN_WORDS),
            ),
        )
        for one in plan.destinations
        for version in _asked(plan, one.name, versions)
    )
    found = remarks(words, known, today=today)
    return JobWordsListing(file=job / WORDS_FILE, made=False, rows=rows, remarks=found)


def own_words_of(job: Path, plan: Plan) -> dict[str, OwnWords]:
    """What the masters say of themselves, by version; those out of reach are left out.

    Of more than :data:`MOST_READ` masters the first are read.
    """
    found: dict[str, OwnWords] = {}
    for one in islice(plan.masters, MOST_READ):
        with suppress(MasterError):
            found[one.version] = read_words_of(one.located(job))
    return found


MOST_READ: Final = 500
"""House: their headers take some seconds on a slow disk."""


def _asked(plan: Plan, destination: str, versions: tuple[str, ...]) -> tuple[str, ...]:
    """The versions that were planned for it; all of them where the cards do not say."""
    lines = {
        one.version: {line.destination for line in one.card.lines} if one.card else {destination}
        for one in plan.shelf.entries
    }
    return tuple(version for version in versions if destination in lines[version])
