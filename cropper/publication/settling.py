"""Clashes among what is recorded already: what must be taken down, by when, and how.

A run that was fine when it was recorded may clash later: an exclusive is agreed, a release is
withdrawn, a set is declared. Such a clash stays unsettled until the run is down or the agreement
is over. Whoever recorded a run in spite of a clash has settled that one.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from cropper.publication.bars import Rule
from cropper.publication.clashes import Clash, all_clashes
from cropper.publication.dates import said, said_span, typed
from cropper.publication.facts import Facts
from cropper.publication.licences import Elsewhere, Licence, LicenceKind
from cropper.publication.runs import Run
from cropper.publication.spans import sooner


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsettled:
    """A recorded run that clashes, the instant by which it must be down, and what to do."""

    clash: Clash
    run: Run
    by: datetime
    sentence: str
    way_out: str

    @property
    def key(self) -> tuple[str, str, str]:
        """What tells it from others: the run, the rule, and what stands against it."""
        return (self.run.id, self.clash.rule, self.clash.against)


def unsettled(facts: Facts, at: datetime) -> tuple[Unsettled, ...]:
    """The clashes of recorded runs that still call for something at ``at``, soonest first."""
    runs = {run.id: run for run in facts.runs}
    found = [
        _unsettled(clash, run, by, at)
        for clash in all_clashes(facts)
        for run in (runs[clash.run],)
        if not _over(run, at) and (clash.rule.value, clash.against) not in run.excused
        for by, last in (_must_be_down(clash, run, facts),)
        if last is None or last > at
    ]
    return tuple(sorted(found, key=lambda one: (one.by, one.run.outlet, *one.key)))


def still_up(licence: Licence, facts: Facts) -> tuple[str, ...]:
    """Posts in streams that stay up beside an exclusive without counting as a clash, told."""
    runs = sorted(facts.runs, key=lambda one: (one.outlet, one.span.start, one.id))
    return tuple(
        f"'{run.version}' is still up in {run.outlet} since {said(run.span.start, run.zone)}"
        f" (run {run.id})"
        for run in runs
        if _stays_beside(run, licence, facts)
    )


def stays_up_beside(run: Run, facts: Facts) -> tuple[str, ...]:
    """The exclusives during which ``run`` is still up in a stream without being a clash, told."""
    return tuple(
        f"It is still up there while '{one.outlet}' has it alone {said_span(one.span, one.zone)}"
        for one in facts.licences
        if _stays_beside(run, one, facts)
    )


def _stays_beside(run: Run, licence: Licence, facts: Facts) -> bool:
    """Whether an old post stays up beside an exclusive that does not ask to take it down."""
    if licence.kind is not LicenceKind.EXCLUSIVE or licence.elsewhere is Elsewhere.TAKEN_DOWN:
        return False
    outlet = facts.outlet(run.outlet)
    if outlet is None or not run.counts or not facts.covers(licence, run):
        return False
    shut_out = licence.shuts_out(outlet) and run.span.overlaps(licence.span)
    return shut_out and not run.seen_in(outlet).overlaps(licence.span)


def _over(run: Run, at: datetime) -> bool:
    return run.span.until is not None and run.span.until <= at


def _must_be_down(clash: Clash, run: Run, facts: Facts) -> tuple[datetime, datetime | None]:
    """From when on a run is at fault, and until when (None: for as long as it is up)."""
    start, when = run.span.start, clash.when
    if clash.rule is Rule.RELEASE:
        release = facts.releases.get(clash.against)
        ends = release.until if release and release.reaches(run.outlet) else None
        return (start if ends is None else max(start, ends)), None
    if clash.rule is Rule.BARRED or when is None:
        return start, None
    if clash.rule is Rule.TERM:
        inside = when.until is not None and when.holds(start)
        return (when.until if inside and when.until is not None else start), None
    if clash.rule in {Rule.EMBARGO, Rule.FIRST_USE}:
        return start, when.until
    days = [facts.sets[name].rest_days for name in facts.sets_of(run) if name in facts.sets]
    taken = when.widened(timedelta(days=max(days, default=0)))
    return max(start, when.start), sooner(taken.until, run.span.until)


def _unsettled(clash: Clash, run: Run, by: datetime, at: datetime) -> Unsettled:
    begun = run.span.start <= at
    by = max(by, at) if begun else by
    day = said(by, run.zone)
    if begun or by > run.span.start:
        when = f"must be down {'now' if by == at else f'by {day}'}"
        on = "" if by == at else f" --on {typed(by, run.zone)}"
        way_out = f"Take it down, then say so: cropper record end {run.id}{on}"
    else:
        when = f"may not start on {day}"
        way_out = f"Call it off, or move it: cropper record withdraw {run.id}"
    return Unsettled(
        clash=clash,
        run=run,
        by=by,
        sentence=f"Run {run.id}, '{run.version}' at '{run.outlet}', {when}: {clash.sentence}",
        way_out=way_out,
    )
