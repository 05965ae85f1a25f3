"""What bars a run, as stretches of *starts*: instants at which a run of its length may not begin.

Every rule is turned into such stretches once; whether a run clashes, and when it first would not,
are then the same question. Instants are whole microseconds, so "after t" is "from t + 1 us on".
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import partial
from typing import Final

from cropper.publication.dates import said, said_span
from cropper.publication.facts import Facts
from cropper.publication.licences import AtEnd, Elsewhere, Licence, LicenceKind
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
    ``when`` the stretch that is taken. Its sentence is made only when somebody asks: of the many
    bars of a run few are ever told.
    """

    rule: Rule
    first: datetime
    last: datetime | None
    against: str
    who: str
    when: Span | None
    tell: Callable[[], str]

    @property
    def sentence(self) -> str:
        """Who and what stands in the way, in words."""
        return self.tell()

    def bars(self, start: datetime) -> bool:
        """Whether a run may not begin at ``start``."""
        return self.first <= start and (self.last is None or start < self.last)


def bars_of(run: Run, outlet: Outlet, facts: Facts) -> Iterator[Bar]:
    """Everything that bars ``run`` at some start or other."""
    yield from _barred(run, facts)
    yield from _rivals(run, outlet, facts)
    for licence in facts.licences:
        if facts.covers(licence, run):
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
            tell=lambda: f"'{run.version}' may not run: {facts.barred[run.version]}.",
        )


def _rivals(run: Run, outlet: Outlet, facts: Facts) -> Iterator[Bar]:
    """Another version of one of its sets before the same eyes, or within the set's rest."""
    mine = facts.sets_of(run)
    if not mine:
        return
    for other in facts.runs:
        if other.id == run.id or not other.counts or other.version == run.version:
            continue
        where, shared = facts.outlet(other.outlet), mine & facts.sets_of(other)
        if where is None or not shared or not _same_eyes(outlet, where):
            continue
        days = max(facts.sets[name].rest_days if name in facts.sets else 0 for name in shared)
        seen = other.seen_in(where)
        yield _overlap(
            run.seen_in(outlet),
            seen.widened(timedelta(days=days)),
            rule=Rule.RIVALS,
            against=other.id,
            who=other.outlet,
            taken=seen,
            tell=partial(_rival_said, other, outlet, where, seen, days),
        )


def _rival_said(other: Run, outlet: Outlet, where: Outlet, seen: Span, rest_days: int) -> str:
    resting = f", and the set rests {rest_days} days" if rest_days else ""
    return (
        f"Its rival '{other.version}' is {_placed(other)} at '{other.outlet}'"
        f"{_shared(outlet, where)} {said_span(seen, other.zone)}{resting}."
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
    mine: Span,
    theirs: Span,
    *,
    rule: Rule,
    against: str,
    who: str,
    taken: Span,
    tell: Callable[[], str],
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
        tell=tell,
    )


def _later(at: datetime, by: timedelta) -> datetime:
    """``at`` moved by ``by``, but never before the first instant there is."""
    return at + by if at - FIRST > -by else FIRST


def _licensed(run: Run, outlet: Outlet, licence: Licence, facts: Facts) -> Iterator[Bar]:
    """Somebody's exclusive or first use, or an embargo."""
    if licence.kind is LicenceKind.EMBARGO:
        if outlet.name not in licence.exceptions and not (licence.own_portfolio and outlet.own):
            told = partial(_embargo_said, licence)
            yield _not_before(licence, licence.span.until, Rule.EMBARGO, told)
    elif licence.kind is LicenceKind.EXCLUSIVE and licence.shuts_out(outlet):
        down = licence.elsewhere is Elsewhere.TAKEN_DOWN
        yield _overlap(
            run.span if down else run.seen_in(outlet),
            licence.span,
            rule=Rule.EXCLUSIVE,
            against=licence.id,
            who=licence.outlet,
            taken=licence.span,
            tell=partial(_exclusive_said, licence),
        )
    elif licence.kind is LicenceKind.FIRST_USE and licence.shuts_out(outlet):
        yield _first_use(licence, facts)


def _exclusive_said(licence: Licence) -> str:
    down = ", and posts elsewhere come down" * (licence.elsewhere is Elsewhere.TAKEN_DOWN)
    return (
        f"'{licence.outlet}' has {_subject(licence)} alone{_against(licence)}"
        f" {said_span(licence.span, licence.zone)}{down}."
    )


def _not_before(
    licence: Licence, until: datetime | None, rule: Rule, tell: Callable[[], str]
) -> Bar:
    return Bar(
        rule=rule,
        first=FIRST,
        last=until,
        against=licence.id,
        who=licence.outlet,
        when=licence.span,
        tell=tell,
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
            if one.counts and one.outlet == licence.outlet and facts.covers(licence, one)
        )
        until = min(begun, default=None)
    return _not_before(licence, until, Rule.FIRST_USE, partial(_first_use_said, licence, until))


def _first_use_said(licence: Licence, until: datetime | None) -> str:
    when = f"until {said(until, licence.zone)}" if until else "and has not begun yet"
    return f"'{licence.outlet}' has the first use of {_subject(licence)}, {when}."


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
        and facts.covers(licence, run)
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
    newest = max(licences, key=lambda one: one.span.start)
    return Bar(
        rule=Rule.TERM,
        first=first,
        last=last,
        against=newest.id,
        who=newest.outlet,
        when=newest.span,
        tell=partial(_term_said, newest, tuple(licences)),
    )


def _term_said(newest: Licence, licences: Iterable[Licence]) -> str:
    told = [
        f"{said_span(one.span, one.zone)} (at its end: {one.at_end})"
        for one in sorted(licences, key=lambda one: one.span.start)
    ]
    return f"'{newest.outlet}' may show {_subject(newest)} {' and '.join(told)}."


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
                tell=partial(_unreleased_said, outlet, person, why),
            )


def _unreleased_said(outlet: Outlet, person: str, why: str) -> str:
    return (
        f"'{outlet.name}' advertises, and {person} has not released it ({why});"
        " what the law and the contract ask is yours to confirm."
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
