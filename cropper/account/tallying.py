"""The deeds of a tally: declare a question, add counts, take in remarks, read what they tell.

The record is given as whatever keeps these values (:class:`Keeper`); nothing here knows how.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Protocol

from cropper.account.remarks import STEP, Progress, Source, Taking, remarks
from cropper.account.report import Asked, asked, first_out
from cropper.errors import MisuseError
from cropper.publication.facts import Asked as FactsAsked
from cropper.publication.facts import Facts
from cropper.publication.responses import (
    Count,
    Intent,
    Question,
    Remark,
    Responses,
    checked_count,
)
from cropper.publication.tags import Sightings, TagList, sightings


class Keeper(Protocol):
    """What a tally needs of a record."""

    def responses(self, set_name: str, /) -> Responses:
        """All questions and counts of a set."""
        ...

    def add_question(self, question: Question, /) -> None:
        """Keep a question."""
        ...

    def add_counts(self, counts: Sequence[Count], /) -> None:
        """Keep counts, all or none."""
        ...

    def add_remarks(self, remarks: Iterable[Remark], /) -> int:
        """Keep remarks, all or none; those already there (source and row) are left out."""
        ...

    def remarks(self, set_name: str, question: str, /) -> Iterator[Remark]:
        """A question's remarks, one at a time."""
        ...

    def facts(self, asked: FactsAsked, /) -> Facts:
        """What is known about runs."""
        ...


def declare(keeper: Keeper, question: Question, tags: TagList | None = None) -> Question:
    """Keep a question, with the intents of the tag list copied in and dated.

    Raises :class:`MisuseError` when its name was used before: what a question asks, and when it
    ends, is not changed once it may have been answered.
    """
    if any(one.name == question.name for one in keeper.responses(question.set).questions):
        raise MisuseError(
            f"'{question.name}' was already asked about the set '{question.set}'",
            way_out="Ask under another name: a question is not changed once it may be answered",
        )
    whole = replace(question, intents=(*question.intents, *_noted(question, tags)))
    keeper.add_question(whole)
    return whole


def _noted(question: Question, tags: TagList | None) -> tuple[Intent, ...]:
    """The list's intents for this question's versions, as far as it tells none itself."""
    told = {one.version for one in question.intents}
    return tuple(
        Intent(version=version, tags=meant, noted_at=question.declared_at)
        for version, meant in (tags.intents if tags else {}).items()
        if version in question.versions and version not in told
    )


def count(
    keeper: Keeper, set_name: str, counts: Sequence[Count], *, now: datetime
) -> tuple[str, ...]:
    """Keep counts, all or none; sentences about those that are odd.

    A count that does not say since when the version was seen takes it from an earlier count of the
    same, or from the run that the record has of it.
    """
    said: list[str] = []
    whole: list[Count] = []
    for one in counts:
        kept = keeper.responses(set_name)
        question = kept.question(one.question)
        earlier = kept.of(one.question)
        full = _since(one, earlier, keeper)
        said += checked_count(question, (*earlier, *whole), full, now=now)
        whole.append(full)
    said += _unknown_outlets(keeper, whole)
    keeper.add_counts(whole)
    return tuple(dict.fromkeys(said))


def _unknown_outlets(keeper: Keeper, counts: Sequence[Count]) -> Iterator[str]:
    """A slip of the pen would else stand there as an outlet of its own."""
    known = keeper.facts(FactsAsked(versions=("",))).outlets
    for name in dict.fromkeys(one.outlet for one in counts):
        if known and name not in known:
            yield f"The record knows no outlet '{name}'. It knows {', '.join(sorted(known))}."


def _since(one: Count, earlier: Sequence[Count], keeper: Keeper) -> Count:
    if one.since is not None:
        return one
    before = {
        other.since
        for other in earlier
        if replace(other, since=None).cell == one.cell and other.since is not None
    }
    if len(before) == 1:
        return replace(one, since=before.pop())
    if before:
        return one
    asked_of = FactsAsked(outlets=(one.outlet,), versions=(one.version,))
    ran = {
        run.span.start
        for run in keeper.facts(asked_of).runs
        if run.counts and run.version == one.version and run.outlet == one.outlet
        if run.span.start < one.at
    }
    return replace(one, since=ran.pop()) if len(ran) == 1 else one


def take(keeper: Keeper, source: Source, progress: Progress | None = None) -> Taking:
    """Take in a file of remarks; those of the same file that are there already stay as they are."""
    taking = Taking()
    added = keeper.add_remarks(remarks(source, taking, progress))
    taking.known = taking.kept - added
    return taking


def told(
    keeper: Keeper,
    set_name: str,
    *,
    tags: TagList | None,
    now: datetime,
    only: str = "",
    progress: Callable[[int], None] = lambda _: None,
) -> tuple[Asked, ...]:
    """Every question of the set (or only one) with its reading, and what its remarks spoke of.

    ``progress`` hears how many remarks were read so far, now and then.
    """
    kept = keeper.responses(set_name)
    if only:
        kept = replace(kept, questions=(kept.question(only),))
    found: dict[str, Sequence[Sightings]] = {}
    if tags is not None:
        for question in kept.questions:
            said = _heard(keeper.remarks(set_name, question.name), progress)
            found[question.name] = sightings(said, tags)
    out = first_out(keeper.facts(FactsAsked(sets=(set_name,))), set_name)
    return asked(kept, found, first_out=out, now=now)


def _heard(said: Iterable[Remark], progress: Callable[[int], None]) -> Iterator[Remark]:
    for number, one in enumerate(said, start=1):
        if number % STEP == 0:
            progress(number)
        yield one
