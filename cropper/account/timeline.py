"""What runs where over a stretch of time, made ready to be drawn: lanes, bars, strips, gaps, notes.

Pure: facts come in, a :class:`Timeline` goes out; pages and sheets only draw what stands here.
Instants stay instants (UTC); where they fall on paper is the business of ``timeline_laying``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from cropper.errors import MisuseError
from cropper.publication.bars import Rule
from cropper.publication.clashes import Clash, all_clashes
from cropper.publication.facts import Facts
from cropper.publication.licences import AtEnd, Licence, LicenceKind
from cropper.publication.runs import Run
from cropper.publication.spans import Span, merged
from cropper.publication.whereabouts import gaps

EVERYWHERE: Final = "every outlet"
"""The lane of what binds all: an embargo that names nobody."""
MOST_LANES: Final = 60
MOST_BARS: Final = 2000
LONGEST: Final = timedelta(days=3660)
"""House values: a page with more is not read any more."""
SHORTEST_GAP: Final = timedelta(days=1)
"""House value: the hours between two runs are a change of pictures, not a gap."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """A version on the page: ``mark`` gives its shape and tone, ``code`` a letter of its own."""

    name: str
    mark: int
    code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A run, as long as people meet it there (``span``, not yet cut to the page).

    ``notes`` are the numbers of the clashes it is in, ``knots`` the stretches of it that clash.
    ``proposed``: it stands in a season that nobody accepted yet, and in no record.
    """

    run: Run
    version: Version
    span: Span
    notes: tuple[int, ...]
    knots: tuple[Span, ...]
    proposed: bool = False

    @property
    def state(self) -> str:
        """How far the run has come, in a word."""
        return "proposed" if self.proposed else self.run.state.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A licence in its lane: what is promised, for how long, and what its end means."""

    licence: Licence
    version: Version | None
    said: str
    notes: tuple[int, ...]

    @property
    def comes_down(self) -> bool:
        """Whether what runs must come down at its end."""
        return self.licence.kind is LicenceKind.TERM and self.licence.at_end is AtEnd.MUST_COME_DOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One outlet: its strips, its bars, and the stretches in which it shows nothing."""

    outlet: str
    told: str
    strips: tuple[Strip, ...]
    bars: tuple[Bar, ...]
    gaps: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A clash by its number on the page; ``knots`` is the time that is at fault.

    Rivals that only stand too near each other for their set's rest have no such time in common.
    """

    number: int
    clash: Clash
    knots: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """Everything on the page, over ``span``; dates are told in ``zone``."""

    span: Span
    zone: str
    now: datetime
    lanes: tuple[Lane, ...]
    versions: tuple[Version, ...]
    notes: tuple[Note, ...]
    invented: bool = False


def timeline(
    facts: Facts,
    span: Span,
    *,
    now: datetime,
    outlets: Sequence[str] = (),
    zone: str = "UTC",
    invented: bool = False,
    proposed: Sequence[Run] = (),
) -> Timeline:
    """What runs where over ``span``, which has an end, at all outlets or those named.

    ``proposed`` are runs of a season that is not accepted yet; they are drawn as such.
    Outlets in the order of their names; clashes with runs elsewhere are told all the same. Raises
    :class:`MisuseError` when it would be more than a page can tell, or when ``span`` has no end.
    """
    if span.length is None or span.length > LONGEST:
        raise MisuseError(
            f"a page tells up to {LONGEST.days // 365} years", way_out="Give a sooner end: --until"
        )
    recorded = {one.id for one in facts.runs}
    new = tuple(one for one in proposed if one.id not in recorded)
    facts = replace(facts, runs=(*facts.runs, *new))
    wanted = {*outlets, ""} if outlets else None
    shown = [
        one
        for one in facts.runs
        if one.counts and _in(wanted, one.outlet) and _seen(one, facts).overlaps(span)
    ]
    kept = [one for one in facts.licences if _in(wanted, one.outlet) and one.span.overlaps(span)]
    named = [*_everywhere(kept), *sorted(set(outlets))] if outlets else _outlets(facts, shown, kept)
    _refuse_too_much(named, shown)
    versions = _versions(shown, kept)
    notes = _notes(facts, {one.id for one in shown}, span)
    drawn = _Drawn(facts=facts, versions=versions, notes=notes, proposed={one.id for one in new})
    bare = gaps(facts, span)
    lanes = tuple(
        Lane(
            outlet=name,
            told=_told(name, facts),
            strips=tuple(drawn.strip(one) for one in kept if (one.outlet or EVERYWHERE) == name),
            bars=tuple(drawn.bar(one) for one in shown if one.outlet == name),
            gaps=tuple(one for one in bare.get(name, ()) if _long(one)),
        )
        for name in named
    )
    return Timeline(
        span=span,
        zone=zone,
        now=now,
        lanes=lanes,
        versions=tuple(versions.values()),
        notes=notes,
        invented=invented,
    )


def _in(wanted: set[str] | None, outlet: str) -> bool:
    return wanted is None or outlet in wanted


def _seen(run: Run, facts: Facts) -> Span:
    outlet = facts.outlet(run.outlet)
    return run.span if outlet is None else run.seen_in(outlet)


def _long(gap: Span) -> bool:
    return gap.length is None or gap.length >= SHORTEST_GAP


def _outlets(facts: Facts, runs: Iterable[Run], licences: Iterable[Licence]) -> list[str]:
    """All outlets known, if they fit; else those with something on the page."""
    busy = {one.outlet for one in runs} | {one.outlet for one in licences}
    every = busy | set(facts.outlets) if len(facts.outlets) <= MOST_LANES else busy
    return [*_everywhere(licences), *sorted(every - {""})]


def _everywhere(licences: Iterable[Licence]) -> list[str]:
    """A lane for what binds all outlets, where anything does."""
    return [EVERYWHERE] if any(not one.outlet for one in licences) else []


def _refuse_too_much(outlets: list[str], runs: list[Run]) -> None:
    if len(outlets) > MOST_LANES or len(runs) > MOST_BARS:
        raise MisuseError(
            f"{len(outlets)} outlets and {len(runs)} runs are more than one page can tell",
            way_out=f"Name up to {MOST_LANES} with --outlet, or take a shorter stretch",
        )


def _versions(runs: Iterable[Run], licences: Iterable[Licence]) -> dict[str, Version]:
    """Every version on the page, sets together, each with its mark and letter."""
    sets: dict[str, str] = {one.version: one.set or "" for one in licences if one.version}
    sets |= {one.version: one.set or "" for one in runs}
    ordered = sorted(sets, key=lambda name: (sets[name], name))
    return {name: Version(name=name, mark=at, code=letter(at)) for at, name in enumerate(ordered)}


def letter(at: int) -> str:
    """A, B, ... Z, AA, AB ...

    >>> [letter(at) for at in (0, 25, 26, 701)]
    ['A', 'Z', 'AA', 'ZZ']
    """
    rest, last = divmod(at, 26)
    return ("" if rest == 0 else letter(rest - 1)) + chr(ord("A") + last)


def _told(name: str, facts: Facts) -> str:
    outlet = facts.outlet(name)
    if outlet is None:
        return "" if name == EVERYWHERE else "not described"
    return f"{outlet.kind}, {', '.join(sorted(outlet.audience))}"


def _notes(facts: Facts, shown: set[str], span: Span) -> tuple[Note, ...]:
    """The clashes of runs on the page, numbered lane by lane in the order of time."""
    runs = {one.id: one for one in facts.runs}
    mine = [
        (clash, knots)
        for clash in all_clashes(facts)
        if clash.run in shown or clash.against in shown
        for knots in (_knots(clash, runs[clash.run], facts),)
        if not knots or any(one.overlaps(span) for one in knots)
    ]
    mine.sort(key=lambda one: (one[0].outlet, runs[one[0].run].span.start, one[0].rule))
    return tuple(
        Note(number=number, clash=clash, knots=knots)
        for number, (clash, knots) in enumerate(mine, start=1)
    )


def _knots(clash: Clash, run: Run, facts: Facts) -> tuple[Span, ...]:
    """Which part of the run is at fault: in a barred time, outside a permitted one, or all."""
    seen = _seen(run, facts)
    if clash.rule in {Rule.RELEASE, Rule.BARRED}:
        return (seen,)
    if clash.rule is Rule.TERM:
        return outside(run.span, clash.when)
    common = None if clash.when is None else clash.when.common(seen)
    return () if common is None else (common,)


def outside(span: Span, allowed: Span | None) -> tuple[Span, ...]:
    """What of ``span`` lies before or after ``allowed``; all of it when nothing is allowed."""
    if allowed is None or not span.overlaps(allowed):
        return (span,)
    parts = []
    if span.start < allowed.start:
        parts.append(Span(span.start, allowed.start))
    if allowed.until is not None and (span.until is None or allowed.until < span.until):
        parts.append(Span(allowed.until, span.until))
    return tuple(parts)


class _Drawn:
    """Runs and licences with the marks of their versions and the numbers of their clashes."""

    def __init__(
        self,
        *,
        facts: Facts,
        versions: Mapping[str, Version],
        notes: Iterable[Note],
        proposed: Collection[str],
    ) -> None:
        self._facts, self._versions, self._proposed = facts, versions, proposed
        self._by: defaultdict[str, list[Note]] = defaultdict(list)
        for note in notes:
            for one in {note.clash.run, note.clash.against}:
                self._by[one].append(note)

    def bar(self, run: Run) -> Bar:
        seen = _seen(run, self._facts)
        notes = self._by.get(run.id, [])
        shared = (knot.common(seen) for note in notes for knot in note.knots)
        return Bar(
            run=run,
            version=self._versions[run.version],
            span=seen,
            notes=tuple(note.number for note in notes),
            knots=merged(filter(None, shared)),
            proposed=run.id in self._proposed,
        )

    def strip(self, licence: Licence) -> Strip:
        what = licence.version or f"all of {licence.set}"
        against = f" in {licence.against} {licence.value}" if licence.value else ""
        words = {LicenceKind.TERM: "may show", LicenceKind.EMBARGO: "embargo"}
        return Strip(
            licence=licence,
            version=self._versions.get(licence.version),
            said=f"{words.get(licence.kind, licence.kind)}: {what}{against}",
            notes=tuple(note.number for note in self._by.get(licence.id, [])),
        )
