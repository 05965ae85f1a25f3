"""What ends within so many days, and what to do about it: agreements, releases, runs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from cropper.publication.dates import said
from cropper.publication.facts import Facts
from cropper.publication.licences import AtEnd, Elsewhere, Licence, LicenceKind
from cropper.publication.releases import Release
from cropper.publication.runs import Run
from cropper.publication.settling import unsettled
from cropper.publication.spans import Span
from cropper.publication.whereabouts import must_come_down


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """Something that ends at ``at``, told in ``zone``; ``name`` stays the same in every calendar.

    ``number`` is the run or agreement that `cropper record` knows it by; a release has none.
    """

    at: datetime
    what: str
    about: str
    outlet: str
    to_do: str
    name: str
    number: str = ""
    zone: str = "UTC"
    names: frozenset[str] = frozenset()
    """Everything it is about: versions, sets, outlets, a person, its number."""

    @property
    def cells(self) -> tuple[str, ...]:
        """The line as it is printed."""
        told = said(self.at, self.zone)
        zone = "" if self.zone == "UTC" or told.endswith(")") else f" ({self.zone})"
        return (f"{told}{zone}", self.what, self.about, self.outlet, self.number, self.to_do)


def endings(facts: Facts, span: Span) -> tuple[Ending, ...]:
    """Everything that ends inside ``span``, soonest first, and what is to be done by then."""
    found = (
        *(_licence(one, facts) for one in facts.licences if _ends(one.span.until, span)),
        *(_release(one, facts) for one in facts.releases.values() if _ends(one.until, span)),
        *_come_down(facts, span),
        *_runs(facts, span),
        *_to_settle(facts, span),
    )
    return tuple(sorted(found, key=lambda one: (one.at, one.what, one.about, one.number)))


def as_plain(one: Ending) -> dict[str, Any]:
    """The line as plain values; the instant in UTC, ISO 8601."""
    return {
        "at": one.at.isoformat(),
        "what": one.what,
        "about": one.about,
        "outlet": one.outlet,
        "number": one.number,
        "to_do": one.to_do,
        "zone": one.zone,
    }


def _ends(at: datetime | None, span: Span) -> bool:
    return at is not None and span.holds(at)


def _licence(one: Licence, facts: Facts) -> Ending:
    assert one.span.until is not None  # noqa: S101 - asked of those that end
    return Ending(
        at=one.span.until,
        what=f"{one.kind} ends",
        about=one.version or f"the set '{one.set}'",
        outlet=one.outlet or "every outlet",
        number=one.id,
        names=_named(one, facts),
        to_do=_to_do(one, facts),
        name=f"licence {one.id}",
        zone=one.zone,
    )


def _named(one: Licence, facts: Facts) -> frozenset[str]:
    """The licence's version, or its set and all versions in it; its outlet and number."""
    rules = facts.sets.get(one.set or "")
    listed = rules.versions if rules else ()
    homed = (name for name, sets in facts.homes.items() if one.set in sets)
    about = (one.version,) if one.version else (one.set or "", *listed, *homed)
    return frozenset((*about, one.outlet, one.id))


def _of_run(run: Run, facts: Facts) -> frozenset[str]:
    return facts.sets_of(run) | {run.version, run.outlet, run.id}


def _to_do(one: Licence, facts: Facts) -> str:
    if one.kind is LicenceKind.TERM:
        up = [run.id for run in facts.runs if _up_at_the_end(run, one, facts)]
        if one.at_end is AtEnd.NO_NEW_USE:
            return "Start nothing new there after it, or renew: what runs may stay."
        if up:
            return f"Take down {_numbers(up)}, or renew."
        return "Nothing is up then; renew if it is to be shown on."
    if one.kind is LicenceKind.EMBARGO:
        return "It may be shown from then on: plan its first runs."
    others = "Posts elsewhere may go up again" if one.elsewhere is Elsewhere.TAKEN_DOWN else ""
    return others + "." if others else "Others may show it from then on: plan their runs."


def _up_at_the_end(run: Run, licence: Licence, facts: Facts) -> bool:
    if not run.counts or run.outlet != licence.outlet or not facts.covers(licence, run):
        return False
    until = licence.span.until
    return until is not None and run.span.start < until and _lasts(run, until)


def _lasts(run: Run, at: datetime) -> bool:
    return run.span.until is None or run.span.until > at


def _numbers(runs: Iterable[str]) -> str:
    listed = list(runs)
    return f"run{'s' * (len(listed) > 1)} {', '.join(listed)}"


def _release(one: Release, facts: Facts) -> Ending:
    assert one.until is not None  # noqa: S101 - asked of those that end
    shown = [
        run.id
        for run in facts.runs
        if run.counts and _advertises(run, facts) and one.person in facts.people_in(run)
        if _lasts(run, one.until)
    ]
    what = f"Take down {_numbers(shown)}, or have it renewed." if shown else ""
    return Ending(
        at=one.until,
        what="release ends",
        about=one.person,
        outlet=", ".join(one.outlets),
        names=frozenset((one.person, *one.outlets)),
        to_do=what or "Have it renewed before the next advertising run.",
        name=f"release {one.person}",
    )


def _advertises(run: Run, facts: Facts) -> bool:
    outlet = facts.outlet(run.outlet)
    return outlet is not None and outlet.commercial


def _come_down(facts: Facts, span: Span) -> Iterator[Ending]:
    for one in must_come_down(facts, span):
        yield Ending(
            at=one.at,
            what="must come down",
            about=one.run.version,
            outlet=one.run.outlet,
            number=one.run.id,
            names=_of_run(one.run, facts),
            to_do=f"Take it down, then: cropper record end {one.run.id}",
            name=f"down {one.run.id} {one.licence}",
            zone=one.run.zone,
        )


def _runs(facts: Facts, span: Span) -> Iterator[Ending]:
    """Runs that end as agreed: somebody has to take a placed picture down."""
    for run in facts.runs:
        if run.counts and run.span.until is not None and span.holds(run.span.until):
            yield Ending(
                at=run.span.until,
                what="run ends",
                about=run.version,
                outlet=run.outlet,
                number=run.id,
                names=_of_run(run, facts),
                to_do="Take it down; the place is free from then on.",
                name=f"run {run.id}",
                zone=run.zone,
            )


def _to_settle(facts: Facts, span: Span) -> Iterator[Ending]:
    down = {(one.run.id, one.licence) for one in must_come_down(facts, span)}
    for one in unsettled(facts, span.start):
        if span.holds(one.by) and (one.run.id, one.clash.against) not in down:
            yield Ending(
                at=one.by,
                what="clash to settle",
                about=one.run.version,
                outlet=one.run.outlet,
                number=one.run.id,
                names=_of_run(one.run, facts),
                to_do=f"{one.clash.sentence} {one.way_out}.",
                name=f"settle {' '.join(one.key)}",
                zone=one.run.zone,
            )
