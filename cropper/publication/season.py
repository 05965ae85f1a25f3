"""A season drawn up: which version starts where and when, so that no rule of the record is broken.

What is asked for: every finished version once at each outlet that takes it, on the days on which
the outlet may post, rivals apart, the load even. The record's own rules say which starts are open
(:mod:`cropper.publication.bars`); an exact solver chooses among them
(:mod:`cropper.publication.season_solving`); and every run proposed is judged by the rules again.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from hashlib import sha256
from types import MappingProxyType
from typing import Final

from cropper.publication.bars import Bar, bars_of
from cropper.publication.clashes import clashes
from cropper.publication.dates import midnight, said
from cropper.publication.facts import Facts
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.runs import Piece, Run, RunState
from cropper.publication.season_solving import Choice, Limits, solve
from cropper.publication.spans import Span

EVERY_DAY: Final = frozenset(range(7))
PLACED_DAYS: Final = 28
"""How long a picture stays in a fixed spot unless the plan says otherwise (house: four weeks)."""
BEST: Final = 3
"""How well a version suits an outlet at most; 0: not at all."""
LOOK_AHEAD: Final = timedelta(days=732)
"""So far a free day is looked for (house)."""
ID_LETTERS: Final = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """When an outlet may post, and for how long.

    ``days``: weekdays, Monday is 0. ``per_week``: at most so many starts (None: as many as there
    are days). ``stays_days`` and ``at_once`` hold for placed outlets: how long a picture stays, and
    how many stand there together.
    """

    days: frozenset[int] = EVERY_DAY
    per_week: int | None = None
    stays_days: int = PLACED_DAYS
    at_once: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A version that may go to an outlet, as which file, and how well it suits (1 to ``BEST``)."""

    piece: Piece
    outlet: str
    suits: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """A start that the photographer has decided."""

    version: str
    outlet: str
    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """A season: ``weeks`` from ``start`` on, and what is wanted in it.

    ``gap_days`` must lie between two versions of one idea before one audience, beside each set's
    own rest. ``before`` is an earlier proposal: of it, what starts within ``near_days`` of ``now``
    stays, and the rest stays where nothing speaks against it.
    """

    start: date
    weeks: int
    wanted: tuple[Wanted, ...]
    now: datetime
    habits: Mapping[str, Habit] = field(default_factory=lambda: MappingProxyType({}))
    fixed: tuple[Fixed, ...] = ()
    gap_days: int = 0
    near_days: int = 7
    before: tuple[Run, ...] = ()
    zone: str = "UTC"
    seconds: float = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NotPlaced:
    """A version that found no day at an outlet: why, and the first day that is free."""

    version: str
    outlet: str
    why: str
    first_free: datetime | None
    zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """The proposed runs, what could not be placed, and how good the choice is proved to be.

    ``gap``: by how much, as a part of the whole, a better one could still exist; 0: none can.
    """

    start: datetime
    until: datetime
    runs: tuple[Run, ...]
    not_placed: tuple[NotPlaced, ...]
    gap: float
    zone: str = "UTC"


def propose(request: Request, facts: Facts) -> Season:
    """The best season the solver finds in time; its runs are planned, and in no record yet."""
    desk = _Desk(request, with_gap(facts, request.gap_days))
    kept = desk.kept()
    desk.facts = replace(desk.facts, runs=(*desk.facts.runs, *kept))
    choices = [one for one in desk.choices() if (one.version, one.outlet) not in desk.placed]
    solved = solve(choices, desk.limits(), seconds=request.seconds)
    runs = [*kept]
    for at in solved.chosen:
        run = desk.run_of(choices[at])
        if desk.take(run):
            runs.append(run)
    runs += desk.filled_in(choices)
    missing = tuple(desk.not_placed())
    return Season(
        start=desk.first,
        until=desk.last,
        runs=tuple(sorted(runs, key=lambda one: (one.span.start, one.outlet, one.version))),
        not_placed=missing,
        gap=solved.gap,
        zone=request.zone,
    )


def with_gap(facts: Facts, gap_days: int) -> Facts:
    """Facts in which every set rests for at least ``gap_days``."""
    sets = {
        name: replace(rules, rest_days=max(rules.rest_days, gap_days))
        for name, rules in facts.sets.items()
    }
    return replace(facts, sets=MappingProxyType(sets))


class _Desk:
    """The request and the facts, and what is worked out of them once."""

    def __init__(self, request: Request, facts: Facts) -> None:
        self.request, self.facts = request, facts
        self.first = midnight(request.start, request.zone)
        self.last = midnight(request.start + timedelta(weeks=request.weeks), request.zone)
        self.placed: set[tuple[str, str]] = {
            (run.version, run.outlet)
            for run in facts.runs
            if run.counts and self.first <= run.span.start < self.last
        }
        self._kin: defaultdict[str, list[Run]] = defaultdict(list)
        self._at: defaultdict[str, list[Run]] = defaultdict(list)
        for run in facts.runs:
            self._count(run)

    def _count(self, run: Run) -> None:
        self._at[run.outlet].append(run)
        for name in (*self.facts.sets_of(run), f"version {run.version}"):
            self._kin[name].append(run)

    def kept(self) -> list[Run]:
        """Runs of the earlier proposal that are near, and starts that are decided."""
        near = self.request.now + timedelta(days=self.request.near_days)
        fixed = [self._fixed(one) for one in self.request.fixed]
        runs = [
            *filter(None, fixed),
            *(one for one in self.request.before if self.request.now <= one.span.start < near),
        ]
        return [run for run in runs if self.take(run)]

    def _fixed(self, one: Fixed) -> Run | None:
        for want in self.request.wanted:
            if (want.piece.version, want.outlet) == (one.version, one.outlet):
                return self._run(want, self._outlet(want), one.day)
        return None

    def take(self, run: Run) -> bool:
        """Let a run take up its place, unless it has one or breaks a rule."""
        if (run.version, run.outlet) in self.placed or clashes(run, self._near(run)):
            return False
        self.placed.add((run.version, run.outlet))
        self._count(run)
        return True

    def choices(self) -> list[Choice]:
        """Every open start of every version at every outlet."""
        before = {(one.version, one.outlet): one.span.start for one in self.request.before}
        found = []
        for want in self.request.wanted:
            outlet = self._outlet(want)
            if want.suits < 1:
                continue
            bars = self._bars(want, outlet)
            for number, day in enumerate(self._days(outlet)):
                run = self._run(want, outlet, day)
                if any(bar.bars(run.span.start) for bar in bars):
                    continue
                seen = run.seen_in(outlet)
                place = (run.version, outlet.name)
                found.append(
                    Choice(
                        version=run.version,
                        outlet=outlet.name,
                        sets=self.facts.sets_of(run),
                        groups=outlet.audience | {f"at {outlet.name}"},
                        day=(day - self.request.start).days,
                        start=run.span.start.timestamp(),
                        end=seen.until.timestamp() if seen.until else float("inf"),
                        suits=want.suits,
                        place=number,
                        stays=before.get(place) == run.span.start,
                        placed=outlet.kind is OutletKind.PLACED,
                        wish=want,
                    )
                )
        return found

    def limits(self) -> Limits:
        """What the outlets can take, and how far rivals lie apart."""
        return Limits(
            rest_s={name: rules.rest.total_seconds() for name, rules in self.facts.sets.items()},
            per_week={name: habit.per_week for name, habit in self.request.habits.items()},
            at_once={name: habit.at_once for name, habit in self.request.habits.items()},
            busy={
                name: tuple(
                    (
                        run.span.start.timestamp(),
                        run.span.until.timestamp() if run.span.until else float("inf"),
                    )
                    for run in self._at[name]
                    if run.counts
                )
                for name in self.facts.outlets
            },
            first=self.first.timestamp(),
            weeks=self.request.weeks,
        )

    def run_of(self, choice: Choice) -> Run:
        """The run that a choice stands for."""
        want = choice.wish
        assert isinstance(want, Wanted)  # noqa: S101 - made by choices()
        day = self.request.start + timedelta(days=choice.day)
        return self._run(want, self._outlet(want), day)

    def filled_in(self, choices: Sequence[Choice]) -> Iterator[Run]:
        """Open starts that the solver had no time for."""
        for choice in sorted(choices, key=lambda one: (-one.suits, one.day, one.version)):
            if (choice.version, choice.outlet) in self.placed:
                continue
            run = self.run_of(choice)
            outlet = self.facts.outlets[choice.outlet]
            if self._full(outlet, run) == "" and self.take(run):
                yield run

    def not_placed(self) -> Iterator[NotPlaced]:
        """What is wanted and has no start, with the reason and the first free day."""
        for want in self.request.wanted:
            outlet = self._outlet(want)
            if (want.piece.version, outlet.name) not in self.placed:
                yield self._why(want, outlet)

    def _why(self, want: Wanted, outlet: Outlet) -> NotPlaced:
        bars = self._bars(want, outlet)
        reasons: Counter[str] = Counter()
        examples: dict[str, str] = {}
        free = None
        for day in self._days(outlet, LOOK_AHEAD):
            run = self._run(want, outlet, day)
            inside = run.span.start < self.last
            barred = [bar for bar in bars if bar.bars(run.span.start)]
            told = {bar.rule.value: bar for bar in barred}
            for rule, bar in told.items():
                if inside:
                    reasons[rule] += 1
                    examples.setdefault(rule, bar.sentence)
            full = "" if barred else self._full(outlet, run)
            if full and inside:
                reasons["full"] += 1
                examples.setdefault("full", full)
            if not barred and not full:
                free = run.span.start
                break
        return NotPlaced(
            version=want.piece.version,
            outlet=outlet.name,
            why=_told(reasons, examples),
            first_free=free,
            zone=_zone(outlet, self.request.zone),
        )

    def _full(self, outlet: Outlet, run: Run) -> str:
        """Why the outlet has no room for one more start then; empty when it has."""
        habit = self.request.habits.get(outlet.name, Habit())
        there = [one for one in self._at[outlet.name] if one.counts]
        if outlet.kind is OutletKind.PLACED:
            together = sum(one.span.overlaps(run.span) for one in there)
            if together >= habit.at_once:
                return f"'{outlet.name}' has room for {habit.at_once} at a time."
            return ""
        week = (run.span.start - self.first) // timedelta(weeks=1)
        starts = [one.span.start for one in there]
        if any(abs(one - run.span.start) < timedelta(hours=23) for one in starts):
            return f"'{outlet.name}' gets one post a day."
        same = sum((one - self.first) // timedelta(weeks=1) == week for one in starts)
        if habit.per_week is not None and same >= habit.per_week:
            return f"'{outlet.name}' gets {habit.per_week} posts a week."
        return ""

    def _bars(self, want: Wanted, outlet: Outlet) -> tuple[Bar, ...]:
        trial = self._run(want, outlet, self.request.start)
        return tuple(bars_of(trial, outlet, self._near(trial)))

    def _near(self, run: Run) -> Facts:
        """The facts with the runs that the rules look at: of the same version and its sets."""
        names = (*self.facts.sets_of(run), f"version {run.version}")
        kin = {one.id: one for name in names for one in self._kin[name]}
        return replace(self.facts, runs=tuple(kin.values()))

    def _outlet(self, want: Wanted) -> Outlet:
        return self.facts.outlets[want.outlet]

    def _days(self, outlet: Outlet, ahead: timedelta | None = None) -> Iterator[date]:
        """The days on which it may post, from the start or from tomorrow on."""
        habit = self.request.habits.get(outlet.name, Habit())
        length = timedelta(weeks=self.request.weeks) if ahead is None else ahead
        for number in range(length.days):
            day = self.request.start + timedelta(days=number)
            if day.weekday() in habit.days and self._at_midnight(day, outlet) >= self.request.now:
                yield day

    def _at_midnight(self, day: date, outlet: Outlet) -> datetime:
        return midnight(day, _zone(outlet, self.request.zone))

    def _run(self, want: Wanted, outlet: Outlet, day: date) -> Run:
        habit = self.request.habits.get(outlet.name, Habit())
        zone = _zone(outlet, self.request.zone)
        start = midnight(day, zone)
        until = (
            midnight(day + timedelta(days=habit.stays_days), zone)
            if outlet.kind is OutletKind.PLACED
            else None
        )
        piece = want.piece
        return Run(
            id=_id(piece, outlet, day),
            piece=piece.sha256,
            version=piece.version,
            set=piece.set,
            destination=piece.destination,
            outlet=outlet.name,
            span=Span(start, until),
            zone=zone,
            state=RunState.PLANNED,
        )


def _zone(outlet: Outlet, otherwise: str) -> str:
    return outlet.zone or otherwise


def _id(piece: Piece, outlet: Outlet, day: date) -> str:
    """The number of a proposed run: the same start has the same number every time."""
    told = f"season\n{piece.sha256}\n{piece.version}\n{outlet.name}\n{day.isoformat()}"
    return sha256(told.encode()).hexdigest()[:ID_LETTERS]


def _told(reasons: Counter[str], examples: Mapping[str, str]) -> str:
    """What stands in the way on most days first, each with one example."""
    if not reasons:
        return "The outlet may post on no day of the season."
    days = sum(reasons.values())
    told = []
    for name, count in reasons.most_common(2):
        what = "it is full" if name == "full" else name
        told.append(f"{what} ({count} of {days} days): {examples[name]}")
    return " ".join(told)


def free_said(one: NotPlaced) -> str:
    """The first free day in words."""
    if one.first_free is None:
        return "No free day within two years."
    return f"First free day: {said(one.first_free, one.zone)}."
