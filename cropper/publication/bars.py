"""What bars a run, as stretches of *starts*: instants at which a run of its length may not begin.

Every rule is turned into such stretches once; whether a run clashes, and when it first would not,
are then the same question. Instants are whole microseconds, so "after t" is "from t + 1 us on".
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Final

from cropper.publication.dates import said, said_span
from cropper.publication.facts import Facts
from cropper.publication.licences import AtEnd, Licence, LicenceKind
from cropper.publication.outlets import Outlet
from cropper.publication.releases import STATUS_WORDS, Release
from cropper.publication.runs import Run
from cropper.publication.spans import Span

TICK: Final = timedelta(microseconds=1)
FIRST: Final = datetime.min.replace(tzinfo=UTC)


class Rule(StrEnum):
    """The rules of the record, by the names that answers and exceptions use."""

    RIVALS = "rivals"
    EXCLUSIVE = "exclusive"
    FIRST_USE = "first use"
    EMBARGO = "embargo"
    TERM = "licence term"
    RELEASE = "release"
    BARRED = "barred version"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """Starts from ``first`` until, not including, ``last`` are barred; None: for ever.

    ``against`` is the id of what stands in the way (a run, a licence), or a person's name;
    ``when`` the stretch that is taken.
    """

    rule: Rule
    first: datetime
    last: datetime | None
    against: str
    who: str
    when: Span | None
    sentence: str

    def bars(self, start: datetime) -> bool:
        """Whether a run may not begin at ``start``."""
        return self.first <= start and (self.last is None or start < self.last)


def bars_of(run: Run, outlet: Outlet, facts: Facts) -> Iterator[Bar]:
    """Everything that bars ``run`` at some start or other."""
    yield from _barred(run, facts)
    yield from _rivals(run, outlet, facts)
    for licence in facts.licences:
        if licence.covers(run.version, run.set):
            yield from _licensed(run, outlet, licence, facts)
    yield from _terms(run, outlet, facts)
    if outlet.commercial:
        yield from _unreleased(run, outlet, facts)


def _barred(run: Run, facts: Facts) -> Iterator[Bar]:
    """A version withdrawn, or refused in review."""
    if run.version in facts.barred:
        yield Bar(
            rule=Rule.BARRED,
            first=FIRST,
            last=None,
            against=run.version,
            who=run.version,
            when=None,
            sentence=f"'{run.version}' may not run: {facts.barred[run.version]}.",
        )


def _rivals(run: Run, outlet: Outlet, facts: Facts) -> Iterator[Bar]:
    """Another version of the set before the same eyes, or within the set's rest."""
    if run.set is None:
        return
    rules = facts.sets.get(run.set)
    rest = rules.rest if rules else timedelta(0)
    for other in facts.runs:
        where = facts.outlet(other.outlet)
        if other.id == run.id or not other.counts or where is None:
            continue
        if other.set != run.set or other.version == run.version or not _same_eyes(outlet, where):
            continue
        seen = other.seen_in(where)
        resting = f", and the set rests {rules.rest_days} days" if rules and rest else ""
        yield _overlap(
            run.seen_in(outlet),
            seen.widened(rest),
            rule=Rule.RIVALS,
            against=other.id,
            who=other.outlet,
            taken=seen,
            sentence=(
                f"Its rival '{other.version}' is {_placed(other)} at '{other.outlet}'"
                f"{_shared(outlet, where)} {said_span(seen, other.zone)}{resting}."
            ),
        )


def _same_eyes(one: Outlet, other: Outlet) -> bool:
    return one.name == other.name or bool(one.audience & other.audience)


def _shared(one: Outlet, other: Outlet) -> str:
    if one.name == other.name:
        return ""
    return f" before the same audience ({', '.join(sorted(one.audience & other.audience))})"


def _placed(run: Run) -> str:
    return {"planned": "planned", "ended": "recorded"}.get(run.state, "running")


def _overlap(
    mine: Span, theirs: Span, *, rule: Rule, against: str, who: str, taken: Span, sentence: str
) -> Bar:
    """The starts at which a stretch as long as ``mine`` would meet ``theirs``."""
    length = mine.length
    first = FIRST if length is None else _later(theirs.start, -length) + TICK
    return Bar(
        rule=rule,
        first=first,
        last=theirs.until,
        against=against,
        who=who,
        when=taken,
        sentence=sentence,
    )


def _later(at: datetime, by: timedelta) -> datetime:
    """``at`` moved by ``by``, but never before the first instant there is."""
    return at + by if at - FIRST > -by else FIRST


def _licensed(run: Run, outlet: Outlet, licence: Licence, facts: Facts) -> Iterator[Bar]:
    """Somebody's exclusive or first use, or an embargo."""
    if licence.kind is LicenceKind.EMBARGO:
        if outlet.name not in licence.exceptions and not (licence.own_portfolio and outlet.own):
            yield _not_before(licence, licence.span.until, Rule.EMBARGO, _embargo_said(licence))
    elif licence.kind is LicenceKind.EXCLUSIVE and licence.shuts_out(outlet):
        yield _overlap(
            run.seen_in(outlet),
            licence.span,
            rule=Rule.EXCLUSIVE,
            against=licence.id,
            who=licence.outlet,
            taken=licence.span,
            sentence=(
                f"'{licence.outlet}' has {_subject(licence)} alone{_against(licence)}"
                f" {said_span(licence.span, licence.zone)}."
            ),
        )
    elif licence.kind is LicenceKind.FIRST_USE and licence.shuts_out(outlet):
        yield _first_use(licence, facts)


def _not_before(licence: Licence, until: datetime | None, rule: Rule, sentence: str) -> Bar:
    return Bar(
        rule=rule,
        first=FIRST,
        last=until,
        against=licence.id,
        who=licence.outlet,
        when=licence.span,
        sentence=sentence,
    )


def _embargo_said(licence: Licence) -> str:
    until = licence.span.until or FIRST
    return f"An embargo keeps {_subject(licence)} back until {said(until, licence.zone)}."


def _first_use(licence: Licence, facts: Facts) -> Bar:
    """Barred until the stretch agreed is over; without an end, until the outlet has begun."""
    until = licence.span.until
    if until is None:
        begun = (
            one.span.start
            for one in facts.runs
            if one.counts and one.outlet == licence.outlet and licence.covers(one.version, one.set)
        )
        until = min(begun, default=None)
    when = f"until {said(until, licence.zone)}" if until else "and has not begun yet"
    sentence = f"'{licence.outlet}' has the first use of {_subject(licence)}, {when}."
    return _not_before(licence, until, Rule.FIRST_USE, sentence)


def _subject(licence: Licence) -> str:
    return f"'{licence.version}'" if licence.version else f"the whole set '{licence.set}'"


def _against(licence: Licence) -> str:
    return f" in the {licence.against} '{licence.value}'" if licence.value else ""


def _terms(run: Run, outlet: Outlet, facts: Facts) -> Iterator[Bar]:
    """The outlet's own licence: not before it starts, nor beyond what its end allows."""
    mine = [
        licence
        for licence in facts.licences
        if licence.kind is LicenceKind.TERM
        and licence.outlet == outlet.name
        and licence.covers(run.version, run.set)
    ]
    free = sorted(filter(None, (_allowed(one, run.span.length) for one in mine)), key=_start)
    if not mine:
        return
    before = FIRST
    for allowed in free:
        if allowed.start > before:
            yield _term_bar(mine, before, allowed.start)
        if allowed.until is None:
            return
        before = max(before, allowed.until)
    yield _term_bar(mine, before, None)


def _start(span: Span) -> datetime:
    return span.start


def _allowed(licence: Licence, length: timedelta | None) -> Span | None:
    """The starts that a term allows to a run of ``length``; None when it allows none."""
    start, until = licence.span.start, licence.span.until
    if until is None or licence.at_end is AtEnd.NO_NEW_USE:
        return licence.span
    if length is None or until - length < start:
        return None
    return Span(start, until - length + TICK)


def _term_bar(licences: Iterable[Licence], first: datetime, last: datetime | None) -> Bar:
    told = [
        f"{said_span(one.span, one.zone)} (at its end: {one.at_end})"
        for one in sorted(licences, key=lambda one: one.span.start)
    ]
    newest = max(licences, key=lambda one: one.span.start)
    return Bar(
        rule=Rule.TERM,
        first=first,
        last=last,
        against=newest.id,
        who=newest.outlet,
        when=newest.span,
        sentence=f"'{newest.outlet}' may show {_subject(newest)} {' and '.join(told)}.",
    )


def _unreleased(run: Run, outlet: Outlet, facts: Facts) -> Iterator[Bar]:
    """A person without a release that covers a commercial run."""
    for person in facts.people_in(run):
        release = facts.releases.get(person)
        first, why = _released(release, outlet, run)
        if first is not None:
            yield Bar(
                rule=Rule.RELEASE,
                first=first,
                last=None,
                against=person,
                who=person,
                when=None,
                sentence=(
                    f"'{outlet.name}' advertises, and {person} has not released it ({why});"
                    " what the law and the contract ask is yours to confirm."
                ),
            )


def _released(release: Release | None, outlet: Outlet, run: Run) -> tuple[datetime | None, str]:
    """From which start on a release is not enough (None: it always is), and why."""
    if release is None:
        return FIRST, "no release is recorded"
    if not release.reaches(outlet.name):
        return FIRST, f"{STATUS_WORDS[release.status]}{f': {release.scope}' * bool(release.scope)}"
    if release.until is None:
        return None, ""
    ends = f"the release ends on {said(release.until, run.zone)}"
    length = run.span.length
    return FIRST if length is None else _later(release.until, -length) + TICK, ends
