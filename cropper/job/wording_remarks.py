"""What a job's words leave open or may have wrong, in sentences. Remarks stop nothing."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from cropper.deliverable.cutting import characters
from cropper.job.job_words import EVERYBODY, MODEL, PHOTOGRAPHER, ROLE_LABELS, JobWords
from cropper.job.wording import with_master, words_for
from cropper.master.own_words import NO_OWN_WORDS, OwnWords
from cropper.publication.releases import ReleaseStatus

LONG_ALT: Final = 250
"""Characters of an alt text after which who listens to it has to wait (practice, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the job has: versions, destinations, recipients; ``own``: what each master says."""

    versions: tuple[str, ...]
    destinations: tuple[str, ...]
    recipients: tuple[str, ...] = ()
    own: Mapping[str, OwnWords] = field(default_factory=dict)


def remarks(words: JobWords, known: Known, *, today: date) -> tuple[str, ...]:
    """Everything worth a look before files go out. ``today`` is the reader's day."""
    found = (
        *_strangers(words, known),
        *_roles(words),
        *_missing(words, known),
        *_people(words, today),
        *_licences(words, today),
    )
    return tuple(dict.fromkeys(found))


def _strangers(words: JobWords, known: Known) -> Iterator[str]:
    """Names that the job does not have."""
    versions = [one.version for one in words.told if one.version]
    versions += [name for credit in words.credits for name in credit.versions]
    versions += [name for release in words.releases for name in release.versions]
    yield from _not_there("version", versions, known.versions)
    yield from _not_there(
        "destination", [one.destination for one in words.manners], known.destinations
    )
    recipients = [one.recipient for one in words.licences if one.recipient != EVERYBODY]
    yield from _not_there("recipient", recipients, known.recipients)


def _not_there(what: str, names: Sequence[str], known: Sequence[str]) -> Iterator[str]:
    for name in dict.fromkeys(names):
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            there = f"did you mean '{near[0]}'?" if near else _there(known)
            yield f"The job has no {what} '{name}'; {there}"


def _there(known: Sequence[str]) -> str:
    few = 8
    more = f" and {len(known) - few} more" if len(known) > few else ""
    return f"it has {', '.join(known[:few]) or 'none'}{more}."


def _roles(words: JobWords) -> Iterator[str]:
    for one in words.credits:
        near = difflib.get_close_matches(one.role, ROLE_LABELS, n=1, cutoff=0.8)
        if one.role not in ROLE_LABELS and near:
            yield f"'{one.role}' is taken as a role of your own; did you mean '{near[0]}'?"


def _missing(words: JobWords, known: Known) -> Iterator[str]:
    versions = known.versions
    kept = [known.own.get(one, NO_OWN_WORDS) for one in versions] if words.keep_master_words else []
    named = bool(kept) and all(one.creator for one in kept)
    if not any(one.role == PHOTOGRAPHER for one in words.credits) and not named:
        yield "Nobody is credited as photographer."
    if not words.copyright and not (kept and all(one.copyright for one in kept)):
        yield "There is no copyright notice: write year and owner under [copyright]."
    for version in versions:
        worded = words_for(words, version=version, destination="", recipient="")
        told = with_master(worded, known.own.get(version, NO_OWN_WORDS))
        long = len(characters(told.alt_text))
        if not told.alt_text:
            yield f"'{version}' has no alt text: who cannot see it learns nothing of it."
        elif long > LONG_ALT:
            yield f"The alt text of '{version}' has {long} characters; {LONG_ALT} are usual."
        elif worded.alt_text and _of_the_job(words, version) and versions[1:]:
            yield f"'{version}' has the job's alt text; does it describe this picture?"


def _of_the_job(words: JobWords, version: str) -> bool:
    """Whether a version has no alt text of its own."""
    return not any(one.alt_text for one in words.told if one.version == version)


def _people(words: JobWords, today: date) -> Iterator[str]:
    """Models without a release, with none, or with one that has ended."""
    released = {one.person for one in words.releases}
    for credit in words.credits:
        if credit.role == MODEL and not credit.withheld and credit.name not in released:
            yield f"There is no release of {credit.name}."
    for one in words.releases:
        if one.status is ReleaseStatus.NONE:
            named = ", and the texts name them" if _names(words, one.person) else ""
            yield f"{one.person} has given no release{named}."
        if one.until is not None and one.until < today:
            yield f"The release of {one.person} ended on {one.until.isoformat()}."


def _names(words: JobWords, person: str) -> bool:
    """Whether a text that goes into files has the person's name in it."""
    credited = any(one.name == person for one in words.credits)
    texts = (one.headline + one.caption + one.alt_text for one in words.told)
    return credited or any(person in text for text in texts)


def _licences(words: JobWords, today: date) -> Iterator[str]:
    for one in words.licences:
        whom = "everybody" if one.recipient == EVERYBODY else f"'{one.recipient}'"
        if one.until is not None and one.until < today:
            yield f"The licence for {whom} ended on {one.until.isoformat()}."
