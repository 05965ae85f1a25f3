"""What came back: a declared question, the counts taken on it, and remarks.

Counts are *running totals*, each with its instant: how many votes, likes or comments stood there
when somebody looked. A correction is a later count. Instants are aware and UTC; the clock is
passed in by whoever asks. Nothing here touches a disk or draws a conclusion: that is done in
:mod:`cropper.publication.reading`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from typing import Final

from cropper.errors import MisuseError

ANY_VERSION: Final = ""
"""The version of an :class:`Intent` that holds for all versions, or of a remark on none."""

WHEN_I_LIKE: Final = 0
"""In place of a number of looks: as many as there may be."""

FORBIDDEN_IN_NAMES: Final = "\0\r\n\t"


class Design(StrEnum):
    """How the question was put; it decides what the counts can tell."""

    ONE_POLL = "one poll"
    """All versions were shown together and each answer picks one."""
    SEPARATE_RUNS = "separate runs"
    """Each version ran by itself, at its own time and before its own number of people."""
    PAIRS = "pairs"
    """Two versions at a time were shown, and each answer prefers one of the two."""


class Measure(StrEnum):
    """What was counted."""

    VOTES = "votes"
    LIKES = "likes"
    COMMENTS = "comments"
    MENTIONS = "mentions"
    """Remarks that speak of one tag, counted by hand; see :attr:`Count.tag`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Intent:
    """What people were meant to see first in a version, as tags in their order of weight.

    ``version`` is :data:`ANY_VERSION` when it holds for all. ``noted_at`` tells whether it was
    written down before the pictures went out: afterwards it proves nothing.
    """

    version: str = ANY_VERSION
    tags: tuple[str, ...]
    noted_at: datetime
    note: str = ""

    def __post_init__(self) -> None:
        if not self.tags or len(set(self.tags)) != len(self.tags):
            raise MisuseError(
                "an intent names at least one tag, and none twice", way_out="Write, say, eyes,light"
            )
        for tag in self.tags:
            _named(tag, "a tag")
        _aware(self.noted_at, "when the intent was noted")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question about the versions of one set, its design declared before anybody counts.

    ``stop_at_answers`` and ``stop_at`` fix the end in advance. ``looks`` is how many times the
    counts may be looked at and the question be stopped; :data:`WHEN_I_LIKE` any number of times.
    With none of them, every look is one more chance of a false alarm. ``wording`` is what people
    were asked.
    """

    name: str
    set: str
    versions: tuple[str, ...]
    design: Design
    declared_at: datetime
    wording: str = ""
    stop_at_answers: int | None = None
    stop_at: datetime | None = None
    looks: int | None = None
    intents: tuple[Intent, ...] = ()

    def __post_init__(self) -> None:
        _named(self.name, "a question")
        _named(self.set, "a set")
        for version in self.versions:
            _named(version, "a version")
        if len(set(self.versions)) < 2 or len(set(self.versions)) != len(self.versions):  # noqa: PLR2004 - a choice needs two
            raise MisuseError(
                f"the question '{self.name}' needs at least two versions, none named twice",
                way_out="Name the versions that people could choose between",
            )
        _aware(self.declared_at, "when the question was declared")
        if self.stop_at is not None:
            _aware(self.stop_at, "when the question ends")
        if self.stop_at_answers is not None and self.stop_at_answers < 1:
            raise MisuseError(
                f"{self.stop_at_answers} answers are no end to wait for",
                way_out="Give a whole number of 1 or more",
            )
        if self.looks is not None and self.looks < WHEN_I_LIKE:
            raise MisuseError(
                f"{self.looks} looks are no number of looks", way_out="Give 1 or more"
            )
        self._own_intents()

    def _own_intents(self) -> None:
        for intent in self.intents:
            if intent.version not in {*self.versions, ANY_VERSION}:
                raise self.stranger(intent.version)

    def stranger(self, version: str) -> MisuseError:
        """The fault of a version that this question is not about."""
        return MisuseError(
            f"the question '{self.name}' is not about a version '{version}'",
            way_out=f"It is about {', '.join(self.versions)}",
        )

    def intent(self, version: str) -> Intent | None:
        """What was meant with ``version``, its own before what holds for all; None if unsaid."""
        named = {one.version: one for one in self.intents}
        return named.get(version, named.get(ANY_VERSION))


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """One running total, as it stood ``at`` an instant.

    ``version`` at ``outlet`` had ``number`` of ``measure``. ``over`` (pairs only) is the version
    it was preferred to. ``reach`` is the number of people it had been shown to by then, if known;
    ``since`` the instant from which it was seen. ``tag`` belongs to :attr:`Measure.MENTIONS`.
    """

    question: str
    version: str
    outlet: str
    measure: Measure
    number: int
    at: datetime
    over: str | None = None
    reach: int | None = None
    since: datetime | None = None
    tag: str = ""

    def __post_init__(self) -> None:
        _named(self.question, "a question")
        _named(self.version, "a version")
        _named(self.outlet, "an outlet")
        _whole(self.number, f"{self.measure} for '{self.version}'")
        _aware(self.at, "when the count was taken")
        if self.reach is not None:
            _whole(self.reach, f"people reached with '{self.version}'")
        if self.since is not None:
            _aware(self.since, "since when it was seen")
            if self.since >= self.at:
                raise MisuseError(
                    f"'{self.version}' cannot have been counted at {self.at.isoformat()} before it"
                    f" was seen at all, at {self.since.isoformat()}",
                    way_out="Check both times",
                )
        if self.over == self.version:
            raise MisuseError(
                f"'{self.version}' cannot be preferred to itself", way_out="Name the other version"
            )
        if (self.measure is Measure.MENTIONS) != bool(self.tag):
            raise MisuseError(
                "mentions are counted for a tag, and only they are",
                way_out="Name the tag that was mentioned, or count votes, likes or comments",
            )

    @property
    def cell(self) -> tuple[str, str, str, str, str, str]:
        """What this total is a total of; two counts of one cell are two looks at it.

        Two runs of one version at one outlet are told apart by ``since``.
        """
        since = self.since.isoformat() if self.since else ""
        return (self.outlet, self.version, self.over or "", str(self.measure), self.tag, since)

    @property
    def days(self) -> float | None:
        """How long it had been seen, in days; None when nobody said since when."""
        return None if self.since is None else (self.at - self.since).total_seconds() / 86_400


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """What somebody said under a picture. ``author`` stays empty unless it was asked to be kept.

    ``version`` is :data:`ANY_VERSION` where the remark is not under one version. ``source`` is a
    digest of the file it came in with and ``row`` its number there: together they keep one file
    from being taken in twice.
    """

    question: str
    text: str
    outlet: str
    source: str
    row: int
    version: str = ANY_VERSION
    at: datetime | None = None
    author: str = ""

    def __post_init__(self) -> None:
        _named(self.question, "a question")
        _named(self.outlet, "an outlet")
        if not self.text.strip():
            raise MisuseError("an empty remark says nothing", way_out="Leave the row out")
        if self.at is not None:
            _aware(self.at, "when the remark was made")
        if not self.source or self.row < 1:
            message = "a remark keeps its source and the row it had there, counted from 1"
            raise ValueError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Responses:
    """Everything counted for one set: its questions and every count, in the order taken.

    Remarks can be a million; they are read one by one and are not held here.
    """

    set: str
    questions: tuple[Question, ...] = ()
    counts: tuple[Count, ...] = ()
    _by_name: dict[str, Question] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        named = {one.name: one for one in self.questions}
        object.__setattr__(self, "_by_name", named)

    def question(self, name: str) -> Question:
        """The question of that name; raises :class:`MisuseError` when the set has none."""
        if name in self._by_name:
            return self._by_name[name]
        asked = ", ".join(self._by_name) or "none yet"
        raise MisuseError(
            f"nothing called '{name}' was asked about the set '{self.set}'",
            way_out=f"Asked so far: {asked}",
        )

    def of(self, question: str) -> tuple[Count, ...]:
        """All counts of a question, earliest first."""
        mine = (one for one in self.counts if one.question == question)
        return tuple(sorted(mine, key=lambda one: one.at))


def standing(counts: Sequence[Count]) -> tuple[Count, ...]:
    """The last count of each cell: what counts now."""
    latest: dict[tuple[str, ...], Count] = {}
    for one in sorted(counts, key=lambda count: count.at):
        latest[one.cell] = one
    return tuple(latest.values())


def checked_count(
    question: Question, earlier: Sequence[Count], new: Count, *, now: datetime
) -> tuple[str, ...]:
    """Refuse a count that cannot be; sentences about one that is odd, to be said and kept.

    Raises :class:`MisuseError` for an unknown version, a time to come, or pairs counted like a
    poll. A total that went down is kept, and said: people take votes back, and slips are mended.
    """
    for version in (new.version, new.over):
        if version is not None and version not in question.versions:
            raise question.stranger(version)
    if new.at > now:
        raise MisuseError(
            f"the count is dated {new.at.isoformat()}, which is still to come",
            way_out="Give the time at which you looked",
        )
    is_vote = new.measure is Measure.VOTES
    if is_vote and (question.design is Design.PAIRS) != (new.over is not None):
        raise MisuseError(
            f"'{question.name}' was declared as {question.design}",
            way_out="Votes between pairs name the version they were given over; others do not",
        )
    return _oddities(earlier, new)


def _oddities(earlier: Sequence[Count], new: Count) -> tuple[str, ...]:
    same = sorted((one for one in earlier if one.cell == new.cell), key=lambda one: one.at)
    said = [
        f"{new.measure} for '{new.version}' at '{new.outlet}' went down from {one.number} to"
        f" {new.number}: a correction, or the wrong picture? Both stay on record; the later counts."
        for one in same[-1:]
        if one.at <= new.at and one.number > new.number
    ]
    if same and new.at < same[-1].at:
        said.append("A later count of this stands already; this one fills in the past.")
    if new.reach is not None and new.measure is not Measure.COMMENTS and new.number > new.reach:
        said.append(
            f"{new.number} {new.measure} from {new.reach} people reached: one of the two is off."
        )
    return tuple(said)


def _named(name: str, what: str) -> None:
    if not name.strip() or any(sign in name for sign in FORBIDDEN_IN_NAMES):
        raise MisuseError(f"{what} needs a name on one line, not {name!r}", way_out="Name it")


def _whole(number: int, what: str) -> None:
    if number < 0:
        raise MisuseError(f"{number} {what} cannot be", way_out="Give a whole number, 0 or more")


def _aware(instant: datetime, what: str) -> None:
    if instant.tzinfo is None:
        raise MisuseError(
            f"{what} is told without a time zone ({instant.isoformat()})",
            way_out="Add one, such as +01:00 or Z",
        )
    if instant.utcoffset() != UTC.utcoffset(None):
        message = f"{what} must reach the record in UTC, not {instant.isoformat()}"
        raise ValueError(message)
