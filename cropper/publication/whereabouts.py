"""What runs where, what must come down, what is free, what never ran: answers from the facts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType

from cropper.publication.clashes import Clash, clashes
from cropper.publication.facts import Facts
from cropper.publication.licences import Against, AtEnd, Licence, LicenceKind
from cropper.publication.outlets import Outlets
from cropper.publication.runs import Piece, Run, RunState
from cropper.publication.spans import Span, merged


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingDown:
    """A run that must be taken down at ``at``, by the licence ``licence``."""

    run: Run
    at: datetime
    licence: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Free:
    """A version that may start at an outlet at once, or what keeps it from it."""

    version: str
    set: str | None
    outlet: str
    clashes: tuple[Clash, ...]

    @property
    def free(self) -> bool:
        """Whether nothing stands in the way."""
        return not self.clashes


def running(facts: Facts, at: datetime) -> tuple[Run, ...]:
    """The runs that are up at ``at``, by outlet, then by start. A planned run is up in its time."""
    up = (run for run in facts.runs if run.counts and run.span.holds(at))
    return tuple(sorted(up, key=lambda run: (run.outlet, run.span.start, run.id)))


def must_come_down(facts: Facts, span: Span) -> tuple[ComingDown, ...]:
    """Runs still up when a licence ends inside ``span`` that says they must come down."""
    found = [
        ComingDown(
            run=run,
            at=licence.span.until,
            licence=licence.id,
            sentence=(
                f"'{run.version}' at '{run.outlet}': the licence ends, and it must come down."
            ),
        )
        for licence in facts.licences
        if licence.at_end is AtEnd.MUST_COME_DOWN and licence.kind is LicenceKind.TERM
        if licence.span.until is not None and span.holds(licence.span.until)
        for run in facts.runs
        if _outlasts(run, licence, facts)
    ]
    return tuple(sorted(found, key=lambda one: (one.at, one.run.outlet, one.run.id)))


def _outlasts(run: Run, licence: Licence, facts: Facts) -> bool:
    """Whether ``run`` is up at the licence's last instant, and no later licence takes it on."""
    until = licence.span.until
    if until is None or run.outlet != licence.outlet or not run.counts:
        return False
    if not facts.covers(licence, run):
        return False
    if run.span.start >= until or (run.span.until is not None and run.span.until <= until):
        return False
    renewed = (
        one.span.holds(until)
        for one in facts.licences
        if one.kind is LicenceKind.TERM and one.outlet == licence.outlet and facts.covers(one, run)
    )
    return not any(renewed)


def free_to_use(
    facts: Facts, at: datetime, outlet: str | None = None, *, until: datetime | None = None
) -> tuple[Free, ...]:
    """For every version and outlet: whether it may run there from ``at`` ``until``, or stay."""
    outlets = [outlet] if outlet is not None else sorted(facts.outlets)
    return tuple(
        Free(version=version, set=set_name, outlet=name, clashes=clashes(trial, facts))
        for version, set_name, piece in _versions(facts)
        for name in outlets
        for trial in (_trial(version, set_name, piece, name, Span(at, until)),)
    )


def _trial(version: str, set_name: str | None, piece: str, outlet: str, span: Span) -> Run:
    return Run(id="", piece=piece, version=version, set=set_name, outlet=outlet, span=span)


def _versions(facts: Facts) -> Iterable[tuple[str, str | None, str]]:
    """Every version once, with its set and one of its pieces."""
    first: dict[str, Piece] = {}
    for piece in facts.pieces:
        first.setdefault(piece.version, piece)
    return [(name, one.set, one.sha256) for name, one in sorted(first.items())]


def never_run(facts: Facts) -> tuple[str, ...]:
    """Versions of which no piece has ever run, nor is planned to."""
    ran = {run.version for run in facts.runs if run.counts}
    return tuple(sorted({piece.version for piece in facts.pieces} - ran))


def unused_destinations(facts: Facts) -> tuple[tuple[str, str], ...]:
    """(version, destination) of every piece that was delivered and has never run."""
    pieces = {run.piece for run in facts.runs if run.counts}
    ran = {(run.version, run.destination) for run in facts.runs if run.counts}
    ran |= {(one.version, one.destination) for one in facts.pieces if one.sha256 in pieces}
    made = {(piece.version, piece.destination) for piece in facts.pieces}
    return tuple(sorted(made - ran))


def gaps(facts: Facts, over: Span) -> Mapping[str, tuple[Span, ...]]:
    """By outlet, the stretches of ``over`` in which nothing runs there; none left out."""
    return MappingProxyType(
        {name: _bare(_busy(facts, name), over) for name in sorted(facts.outlets)}
    )


def _busy(facts: Facts, outlet: str) -> tuple[Span, ...]:
    here = facts.outlets[outlet]
    return merged(run.seen_in(here) for run in facts.runs if run.counts and run.outlet == outlet)


def _bare(busy: Iterable[Span], over: Span) -> tuple[Span, ...]:
    bare: list[Span] = []
    start: datetime | None = over.start
    for span in busy:
        if start is None or (over.until is not None and span.start >= over.until):
            break
        if span.start > start:
            bare.append(Span(start, span.start))
        start = None if span.until is None else max(start, span.until)
    if start is not None and (over.until is None or start < over.until):
        bare.append(Span(start, over.until))
    return tuple(bare)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A job's outlets with what is running or promised as fixed points, and why, in sentences."""

    outlets: Outlets
    sentences: tuple[str, ...]


def standing(
    facts: Facts,
    versions: Iterable[str],
    destinations: Iterable[str],
    outlets: Outlets,
    at: datetime,
) -> Standing:
    """``outlets`` with fixed points for whatever the record says of ``versions`` at ``at``.

    A version that runs, or is planned to run, for a destination stays there; one that an outlet
    holds alone stays with that outlet. What the photographer's own file fixes counts before it.
    """
    mine, wanted = set(versions), set(destinations)
    fixed, exclusives = dict(outlets.fixed), dict(outlets.exclusives)
    sentences: list[str] = []
    for run in sorted(facts.runs, key=lambda run: run.span.start):
        known = run.version in mine and run.destination in wanted - set(fixed)
        if known and _holds_place(run, facts, at):
            fixed[run.destination] = run.version
            state = "is planned" if run.span.start > at else "runs"
            sentences.append(
                f"'{run.version}' {state} at '{run.outlet}', so {run.destination} stays with it."
            )
    for licence in facts.licences:
        for version in _held_alone(licence, facts, mine, at):
            if version not in exclusives and licence.outlet in outlets.outlets:
                exclusives[version] = licence.outlet
                sentences.append(f"'{licence.outlet}' has '{version}' alone for now.")
    return Standing(
        outlets=replace(
            outlets,
            fixed=MappingProxyType(fixed),
            exclusives=MappingProxyType(exclusives),
        ),
        sentences=tuple(sentences),
    )


def _holds_place(run: Run, facts: Facts, at: datetime) -> bool:
    """Whether it runs now or is still to come; in a stream, as long as it stands out."""
    if run.state not in {RunState.LIVE, RunState.PLANNED}:
        return False
    outlet = facts.outlet(run.outlet)
    seen = run.span if outlet is None else run.seen_in(outlet)
    return seen.until is None or at < seen.until


def _held_alone(
    licence: Licence, facts: Facts, versions: set[str], at: datetime
) -> tuple[str, ...]:
    alone = licence.kind is LicenceKind.EXCLUSIVE and licence.against is Against.EVERYONE
    if not alone or (licence.span.until is not None and licence.span.until <= at):
        return ()
    return tuple(
        version
        for version in sorted(versions)
        if licence.covers(version, facts.homes.get(version, frozenset()))
    )
