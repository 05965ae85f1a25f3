"""What a report of one set holds, gathered as values; nothing is drawn and no file is opened here.

A report tells what ran where, what came back, what may be concluded and what may not, and whether
people saw what was meant. It is one page, made to be read by a photographer and a client together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from cropper.account.intervals import Chart, chart, versions_marked
from cropper.publication.dates import zone_called
from cropper.publication.facts import Facts
from cropper.publication.reading import Reading, read
from cropper.publication.responses import ANY_VERSION, Design, Responses
from cropper.publication.runs import Run
from cropper.publication.seen import Seen, counted_by_hand, seen
from cropper.publication.tags import Sightings

CAVEATS: Final = (
    "Those who answer follow an outlet and choose to answer; nobody drew them by lot.",
    "Intervals hold 95 times in 100, for people like those who answered, asked the same way.",
    'Remarks are counted by words, not understood: "not her eyes" counts as eyes.',
    "Rights, releases and exclusives are yours to confirm.",
)
INVENTED: Final = "Invented data: nobody was asked, nothing ran. It shows how a report reads."

DESIGNS: Final = {
    Design.ONE_POLL: "one poll that showed them all",
    Design.SEPARATE_RUNS: "separate runs, each at its own time",
    Design.PAIRS: "pairs, two at a time",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Portrait:
    """A version as a small picture: a JPEG without metadata, or None with the reason why not."""

    version: str
    mark: int
    jpeg: bytes | None
    width: int
    height: int
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """One run, ready to be read; its days are those of its own zone, already in words."""

    outlet: str
    version: str
    mark: int
    destination: str
    since: str
    until: str
    state: str
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One question with its reading, its chart, and what remarks on it spoke of.

    ``may_not``: what may not be concluded, as far as no question before it on the page says so.
    """

    reading: Reading
    design: str
    chart: Chart | None
    seen: tuple[Seen, ...]
    may_not: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """One set's report. ``invented`` puts the mark of invented data on it."""

    set: str
    dated: str
    portraits: tuple[Portrait, ...]
    runs: tuple[Ran, ...]
    asked: tuple[Asked, ...]
    caveats: tuple[str, ...] = CAVEATS
    invented: bool = False

    @property
    def marks(self) -> dict[str, int]:
        """The mark of each version."""
        return versions_marked([one.version for one in self.portraits])


def ran(facts: Facts, versions: Sequence[str], set_name: str) -> tuple[Ran, ...]:
    """Every run of the set that counts, earliest first, in the words of a table."""
    marks = versions_marked(versions)
    mine = [
        one
        for one in facts.runs
        if one.set == set_name or (one.set is None and one.version in marks)
    ]
    return tuple(
        Ran(
            outlet=one.outlet,
            version=one.version,
            mark=marks.get(one.version, 0),
            destination=one.destination,
            since=_day(one.span.start, one),
            until=_day(one.span.until, one) if one.span.until else "open",
            state=one.state.value,
            where=", ".join(part for part in (one.address, _issue(one)) if part),
        )
        for one in sorted(mine, key=lambda one: (one.span.start, one.outlet, one.id))
    )


def _day(at: datetime, run: Run) -> str:
    return f"{at.astimezone(zone_called(run.zone)):%Y-%m-%d}"


def zones(facts: Facts) -> str:
    """In which zone or zones the days of the runs are told; nothing where all are UTC."""
    found = sorted({one.zone for one in facts.runs if one.counts})
    if found in ([], ["UTC"]):
        return ""
    if len(found) == 1:
        return f"; days as in {found[0]}"
    told = sorted({f"{one.outlet} {one.zone}" for one in facts.runs if one.counts})
    return f"; days as in each outlet's zone ({', '.join(told)})"


def _issue(one: Run) -> str:
    issue = f"issue {one.issue}" if one.issue else ""
    page = f"page {one.page}" if one.page else ""
    return ", ".join(part for part in (issue, page) if part)


def first_out(facts: Facts, set_name: str) -> datetime | None:
    """When the first run of the set began that was not called off; None when nothing ran."""
    return _earliest(one.span.start for one in facts.runs if one.set == set_name and one.counts)


def asked(
    responses: Responses,
    sightings: Mapping[str, Sequence[Sightings]],
    *,
    first_out: datetime | None,
    now: datetime,
) -> tuple[Asked, ...]:
    """Every question of a set, read as of ``now``.

    ``sightings``: question to what its remarks speak of; where it has none, mentions counted by
    hand stand in. ``first_out``: when the first version of the set ran, if anything did.
    """
    told: list[Asked] = []
    said: set[str] = set()
    for question in responses.questions:
        reading = read(responses, question.name, now=now)
        counts = responses.of(question.name)
        found = sightings.get(question.name) or counted_by_hand(counts)
        first = _earliest([first_out, *(one.at for one in counts)])
        told.append(
            Asked(
                reading=reading,
                design=DESIGNS[question.design],
                chart=chart(reading),
                may_not=tuple(one for one in reading.may_not if one not in said),
                seen=seen(
                    question, [one for one in found if one.version != ANY_VERSION], first_out=first
                ),
            )
        )
        said.update(reading.may_not)
    return tuple(told)


def _earliest(instants: Iterable[datetime | None]) -> datetime | None:
    return min((one for one in instants if one is not None), default=None)
