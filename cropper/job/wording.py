"""The words for one file: chosen from the job's, for a version, a destination and a recipient.

job_words = read_words(Path("JOB"))
worded = words_for(job_words, version="shawl", destination="story", recipient="client")
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from cropper.deliverable.carrying import carried_on
from cropper.deliverable.cutting import cut_to_characters, left_out, plain
from cropper.deliverable.iim import iim_cuts
from cropper.deliverable.worded import Worded
from cropper.deliverable.words import BETWEEN_CREATORS, CARRIED, LINES, Contributor, Words
from cropper.job.credit_lines import credit_line, roles_in
from cropper.job.job_words import (
    MODEL,
    NO_JOB_WORDS,
    PHOTOGRAPHER,
    Credit,
    JobWords,
    Manner,
    PersonRelease,
    Told,
)
from cropper.job.wording_reading import WORDS_FILE, read_words
from cropper.master.own_words import OwnWords
from cropper.publication.releases import ReleaseStatus

__all__ = [
    "NO_JOB_WORDS",
    "WORDS_FILE",
    "JobWords",
    "Worded",
    "read_words",
    "with_master",
    "words_for",
]

TOLD: Final = ("headline", "caption", "alt_text", "extended_description")


def words_for(job_words: JobWords, *, version: str, destination: str, recipient: str) -> Worded:
    """What the file of ``version`` for ``destination`` says, handed to ``recipient`` ("": nobody).

    The file carries every text whole; ``credit_line`` and ``caption`` are cut to what the
    destination has room for. Nothing is read from anywhere; no words give no words.
    """
    manner, notes = job_words.manner(destination), list[str]()
    words = _in_the_file(job_words, version, recipient, manner, notes)
    line = _cut("credit line", words.credit, manner.credit_length, notes)
    caption = _cut("caption", words.caption, manner.caption_length, notes)
    notes += [*_gaps(job_words.credited(version), manner), *iim_cuts(words)]
    return Worded(
        words=words,
        credit_line=line,
        caption=caption,
        alt_text=words.alt_text,
        language=manner.language or job_words.language,
        notes=tuple(notes),
    )


def _in_the_file(
    job_words: JobWords, version: str, recipient: str, manner: Manner, notes: list[str]
) -> Words:
    """Every word that the file carries, uncut."""
    credited = job_words.credited(version)
    people = job_words.name_people
    terms = job_words.licence(recipient)
    told = {name: _told(job_words, name, version, manner.language, notes) for name in TOLD}
    return Words(
        creator=BETWEEN_CREATORS.join(_named(credited, PHOTOGRAPHER)),
        credit=plain(credit_line(credited, manner), lines=False),
        copyright=job_words.copyright,
        date_created=_day(job_words, version),
        contributors=tuple(_contributors(credited, people=people)),
        people=_named(credited, MODEL) if people else (),
        release_status=_status(job_words.released(version)),
        keywords=_keywords(job_words, version) if manner.keywords else (),
        contact=job_words.contact,
        source_type=job_words.source_type,
        data_mining=job_words.data_mining,
        not_from_master=_not_from_master(job_words, version, recipient, manner),
        usage_terms=terms.terms,
        licensor=terms.licensor,
        licensor_url=terms.licensor_url,
        web_statement=terms.web_statement,
        instructions=terms.instructions,
        licence_until=terms.until.isoformat() if terms.until else "",
        headline=told["headline"],
        caption=told["caption"],
        alt_text=told["alt_text"],
        extended_description=told["extended_description"],
    )


def _keywords(words: JobWords, version: str) -> tuple[str, ...]:
    """The version's own, else the job's."""
    by_version = {one.version: one.keywords for one in words.told if one.keywords}
    return by_version.get(version) or by_version.get("", ())


def with_master(worded: Worded, own: OwnWords) -> Worded:
    """The same with the master's own words in its gaps, and what the two disagree about said."""
    words, said = carried_on(worded.words, own)
    return replace(
        worded,
        words=words,
        credit_line=worded.credit_line or words.credit,
        caption=worded.caption or words.caption,
        alt_text=worded.alt_text or words.alt_text,
        notes=(*worded.notes, *said),
    )


FREE_TEXTS: Final = (
    "credit",
    "headline",
    "caption",
    "alt_text",
    "extended_description",
    "keywords",
)
"""Words of a master in which anybody may be named."""
NAMELESS: Final = ("date_created", "source_type", "data_mining")
"""Words of a master in which nobody is named."""


def _not_from_master(
    words: JobWords, version: str, recipient: str, manner: Manner
) -> tuple[str, ...]:
    """What a file does not take from the master: a withheld name must not come in that way."""
    withheld = {one.role for one in words.credited(version) if one.withheld}
    closed: set[str] = set()
    if not words.keep_master_words:
        closed.update(CARRIED)
    if PHOTOGRAPHER in withheld:
        closed.update(name for name in CARRIED if name not in NAMELESS)
    if withheld:
        closed.update(FREE_TEXTS)
    if not manner.keywords:
        closed.add("keywords")
    if words.licence(recipient).says_terms:
        closed.update(("usage_terms", "web_statement"))
    return tuple(name for name in CARRIED if name in closed)


def _told(words: JobWords, name: str, version: str, language: str, notes: list[str]) -> str:
    """One text: the version's own before the job's, in the language asked for before another."""
    for whose in dict.fromkeys((version, "")):
        for tongue in dict.fromkeys((language, "")):
            text = next((getattr(one, name) for one in _of(words, whose, tongue)), "")
            if not text:
                continue
            if language and language not in {tongue, words.language}:
                notes.append(f"the {name.replace('_', ' ')} is not there in '{language}'")
            if left_out(text):
                notes.append(
                    f"{left_out(text)} control characters were left out of the"
                    f" {name.replace('_', ' ')}"
                )
            return plain(text, lines=name in LINES)
    return ""


def _of(words: JobWords, version: str, language: str) -> Iterator[Told]:
    return (one for one in words.told if (one.version, one.language) == (version, language))


def _day(words: JobWords, version: str) -> str:
    """The day the picture was taken, ISO 8601."""
    days = {one.version: one.taken for one in words.told if one.taken is not None}
    day = days.get(version) or days.get("")
    return day.isoformat() if day else ""


def _named(credited: tuple[Credit, ...], role: str) -> tuple[str, ...]:
    return tuple(one.name for one in credited if one.role == role and not one.withheld)


def _contributors(credited: tuple[Credit, ...], *, people: bool) -> Iterator[Contributor]:
    """Everybody named but photographers, and models only when people are to be named."""
    for one in credited:
        if one.withheld or one.role == PHOTOGRAPHER or (one.role == MODEL and not people):
            continue
        yield Contributor(name=one.name, role=one.role)


def _status(releases: tuple[PersonRelease, ...]) -> str:
    """One status for the picture: the same as everybody's, else limited or incomplete (PLUS)."""
    counted = {one.status for one in releases if one.status is not ReleaseStatus.NOT_APPLICABLE}
    if not counted:
        return str(ReleaseStatus.NOT_APPLICABLE) if releases else ""
    return str(counted.pop() if len(counted) == 1 else ReleaseStatus.LIMITED)


def _cut(what: str, text: str, most: int | None, notes: list[str]) -> str:
    cut = text if most is None else cut_to_characters(text, most)
    if cut != text:
        notes.append(f"the {what} to copy was cut to {most} characters; the file has it whole")
    return cut


def _gaps(credited: tuple[Credit, ...], manner: Manner) -> Iterator[str]:
    """Names that are not told, and places of a pattern that stay empty for it."""
    withheld = tuple(dict.fromkeys(one.role for one in credited if one.withheld))
    if withheld:
        are = "names are" if withheld[1:] else "name is"
        yield f"the {are} withheld for {', '.join(withheld)}"
    there = {one.role for one in credited if not one.withheld}
    fixed = "".join(part.split("]")[-1] for part in manner.pattern.split("["))
    empty = [role for role in roles_in(fixed) if role not in there]
    if empty:
        yield (
            f"the credit line has a gap for {', '.join(empty)}: put [ ] round what is to go with it"
        )
