"""Choosing starts for a season: an integer program, solved by HiGHS through SciPy.

Each open start of a version at an outlet is 0 or 1. Constraints: a version starts at an outlet at
most once; of one set only one version stands before an audience group at a time, its rest after it
included; an outlet takes so many starts a day and a week, or so many pictures at once. Maximised:
first that every version runs somewhere, then how well each suits its outlet, then that earlier
proposals stay, then that the weeks are even. The exact search proves how far it is from the best
[huangfu2018].
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Any, Final

SHOWN_AT_ALL: Final = 100.0
SUITS: Final = 10.0
STAYS: Final = 2.0
UNEVEN: Final = 0.5
SOONER: Final = 0.01
"""What a version that runs at all, a step of suiting, an earlier proposal kept, a start more in the
fullest week, and a week's delay are worth beside each other (house: each outranks the next)."""
CLOSE_ENOUGH: Final = 0.005
"""The search stops when nothing better by more than this part can exist (house)."""
AT_ONCE: Final = 3_000
"""So many starts are solved as a whole (house: a second or two)."""
IN_A_BLOCK: Final = 1_200
"""So many starts make a block of a large season, sets kept whole (house)."""
BLOCK_SECONDS: Final = 2.0
MOST_TURNS: Final = 12
BOUND_SHARE: Final = 0.45
"""How long a block may take, how many turns, and which part of the time the bound gets (house)."""
THINNED: Final = 3
ROUGHLY: Final = 0.3
BLOCK_CLOSE: Final = 0.02
TURN_WORTH: Final = 0.0005
"""House values, from trials with 60 versions, 12 outlets and 13 weeks: of the starts of a version
at an outlet every third in the first turn; how near its best a block is solved in the first turn,
and later; and by what part a turn must better the whole for another one to follow."""
WEEK_S: Final = 7 * 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """An open start. ``start`` and ``end`` (of when people meet it) in seconds since 1970.

    ``place`` counts the days on which the outlet may post.
    """

    version: str
    outlet: str
    sets: frozenset[str]
    groups: frozenset[str]
    day: int
    start: float
    end: float
    suits: int
    place: int
    stays: bool
    placed: bool
    wish: object


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What outlets take: starts a week, pictures at once, and ``busy`` stretches (start, end)."""

    rest_s: Mapping[str, float]
    per_week: Mapping[str, int | None]
    at_once: Mapping[str, int]
    busy: Mapping[str, Sequence[tuple[float, float]]]
    first: float
    weeks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """The places of the chosen ones, and the proved distance from the best, as a part of it."""

    chosen: tuple[int, ...]
    gap: float


def solve(choices: Sequence[Choice], limits: Limits, *, seconds: float) -> Solved:
    """The best choice found within about ``seconds``.

    A small season is solved as a whole, to the end. A large one is solved some sets at a time, the
    others held as they are, in turns until a turn brings nothing more; how far that is from the
    best is told by the program without its whole numbers, which no choice can beat.
    """
    if not choices:
        return Solved(chosen=(), gap=0.0)
    until = monotonic() + seconds
    program = _Program(choices, limits)
    program.build()
    search = _Search(program)
    if len(choices) <= AT_ONCE:
        gap = search.improve(range(program.columns), until - monotonic())
    else:
        search.take_turns(program.blocks(), until - BOUND_SHARE * seconds)
        gap = search.distance(until - monotonic())
    return Solved(chosen=search.chosen(), gap=gap)


class _Search:
    """The best values of all columns so far, and the ways to better ones."""

    def __init__(self, program: _Program) -> None:
        import numpy as np  # noqa: PLC0415 - only a season pays for it

        self._program = program
        self._matrix = program.matrix()
        self._by_column = self._matrix.tocsc()
        self._most = np.array(program.most)
        self._worth, self._upper = np.array(program.worths), np.array(program.uppers)
        self._values = np.zeros(program.columns)

    @property
    def value(self) -> float:
        """What the choice is worth so far."""
        worth: float = self._worth.dot(self._values)
        return worth

    def chosen(self) -> tuple[int, ...]:
        """The places of the starts that are chosen."""
        values = self._values[: len(self._program.choices)]
        return tuple(int(one) for one in (values > 0.5).nonzero()[0])  # noqa: PLR2004 - rounded

    def take_turns(self, blocks: Sequence[Sequence[int]], until: float) -> None:
        """Better one block after the other, until a whole turn brings nothing or time is up."""
        for turn in range(MOST_TURNS):
            before = self.value
            for number, block in enumerate(_shuffled(blocks, turn)):
                left = until - monotonic()
                if left <= 0:
                    return
                part = self._thinned(block, number) if turn == 0 else block
                close = ROUGHLY if turn == 0 else BLOCK_CLOSE
                self.improve(part, min(left, BLOCK_SECONDS), close=close)
            if turn and self.value <= before * (1 + TURN_WORTH):
                return

    def _thinned(self, block: Sequence[int], number: int) -> list[int]:
        """A block with every third day alone: a first choice, quickly had, that turns better."""
        choices = self._program.choices
        return [
            at for at in block if at >= len(choices) or (choices[at].place + number) % THINNED == 0
        ]

    def improve(
        self, columns: Iterable[int], seconds: float, *, close: float = CLOSE_ENOUGH
    ) -> float:
        """The best values of some columns while the others stay; the proved gap among these."""
        import numpy as np  # noqa: PLC0415 - as above
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

        free = np.array(sorted(columns))
        part = self._by_column[:, free].tocsr()
        rows = np.flatnonzero(np.diff(part.indptr))
        others = self._values.copy()
        others[free] = 0
        room = self._most[rows] - self._matrix[rows] @ others
        whole = (free < len(self._program.choices)).astype(int)
        answer = milp(
            -self._worth[free],
            integrality=whole,
            bounds=Bounds(0, self._upper[free]),
            constraints=LinearConstraint(part[rows], -np.inf, room),
            options={"time_limit": max(seconds, 0.1), "mip_rel_gap": close},
        )
        if answer.x is None:
            return 1.0
        if -answer.fun > self._worth[free] @ self._values[free]:
            self._values[free] = np.where(whole == 1, answer.x.round(), answer.x)
        return float(answer.mip_gap or 0.0)

    def distance(self, seconds: float) -> float:
        """How much better, as a part of it, a choice could at most be; 1 where time was short."""
        from scipy.optimize import linprog  # noqa: PLC0415 - as above

        bound = linprog(
            -self._worth,
            A_ub=self._matrix,
            b_ub=self._most,
            bounds=[(0, most) for most in self._upper],
            method="highs-ds",
            options={"time_limit": max(seconds, 0.1)},
        )
        if bound.status != 0:
            return 1.0
        most: float = -bound.fun
        return max(0.0, (most - self.value) / max(abs(self.value), 1.0))


def _shuffled(blocks: Sequence[Sequence[int]], turn: int) -> Iterator[list[int]]:
    """Blocks joined two by two with other partners in every turn; alone in the first."""
    if turn == 0 or len(blocks) == 1:
        yield from map(list, blocks)
        return
    from random import Random  # noqa: PLC0415 - as above

    order = list(range(len(blocks)))
    Random(turn).shuffle(order)  # noqa: S311 - nothing secret: the same season, the same order
    for at in range(0, len(order), 2):
        yield [one for block in order[at : at + 2] for one in blocks[block]]


class _Program:
    """The rows of the program, as they are gathered."""

    def __init__(self, choices: Sequence[Choice], limits: Limits) -> None:
        self.choices, self.limits = choices, limits
        self.columns = len(choices)
        self._i: list[int] = []
        self._j: list[int] = []
        self._v: list[float] = []
        self.most: list[float] = []
        self.worths = [
            SUITS * one.suits + STAYS * one.stays - SOONER * self._week(one.start)
            for one in choices
        ]
        self.uppers = [1.0] * len(choices)
        self._of: dict[int, str] = {}
        """Whose a column after the choices is: a version, or empty for all."""

    def build(self) -> None:
        by_place, by_outlet = defaultdict[Any, list[int]](list), defaultdict[Any, list[int]](list)
        by_set, by_version = defaultdict[Any, list[int]](list), defaultdict[Any, list[int]](list)
        for at, one in enumerate(self.choices):
            by_place[one.version, one.outlet].append(at)
            by_outlet[one.outlet].append(at)
            by_version[one.version].append(at)
            for name in one.sets:
                by_set[name].append(at)
        for ats in by_place.values():
            self._row(ats, most=1)
        for name, ats in by_set.items():
            if len({self.choices[at].version for at in ats}) > 1:
                self._rivals(ats, self.limits.rest_s.get(name, 0.0))
        for name, ats in by_outlet.items():
            self._outlet(name, ats)
        for ats in by_version.values():
            shown = self._column(worth=SHOWN_AT_ALL, most=1, of=self.choices[ats[0]].version)
            self._row([shown], most=0, less=ats)

    def _rivals(self, ats: Sequence[int], rest: float) -> None:
        """Of one set one version at a time before each group, looked at whenever one starts."""
        groups = defaultdict[str, list[int]](list)
        for at in ats:
            for group in self.choices[at].groups:
                groups[group].append(at)
        done = set[frozenset[int]]()
        for mine in groups.values():
            if frozenset(mine) in done or len({self.choices[at].version for at in mine}) < 2:  # noqa: PLR2004 - rivals are two
                continue
            done.add(frozenset(mine))
            self._one_at_a_time(mine, rest)

    def _one_at_a_time(self, ats: Sequence[int], rest: float) -> None:
        outlets = {self.choices[at].outlet for at in ats}
        for covering in self._moments(ats, rest):
            if len(outlets) == 1:
                self._row(covering, most=1)
                continue
            parts = defaultdict[tuple[str, str], list[int]](list)
            for at in covering:
                parts[self.choices[at].version, self.choices[at].outlet].append(at)
            versions = {version for version, _ in parts}
            if len(versions) == 1:
                continue
            stands = {
                version: self._column(worth=0, most=1, of=version) for version in sorted(versions)
            }
            for (version, _), part in parts.items():
                self._row(part, most=0, less=[stands[version]])
            self._row(list(stands.values()), most=1)

    def _moments(self, ats: Sequence[int], rest: float) -> Iterator[list[int]]:
        """What would stand at each start, the rest after it included; no two the same."""
        import numpy as np  # noqa: PLC0415 - as above

        starts = np.array([self.choices[at].start for at in ats])
        ends = np.array([self.choices[at].end for at in ats]) + rest
        before: frozenset[int] = frozenset()
        for moment in np.unique(starts)[::-1]:
            covering = frozenset(np.flatnonzero((starts <= moment) & (moment < ends)).tolist())
            if len(covering) > 1 and not covering <= before:
                yield [ats[at] for at in sorted(covering)]
                before = covering

    def _outlet(self, name: str, ats: Sequence[int]) -> None:
        if self.choices[ats[0]].placed:
            self._room(name, ats)
        else:
            self._posts(name, ats)
        self._even(ats)

    def _room(self, name: str, ats: Sequence[int]) -> None:
        """A fixed spot shows so many at once."""
        busy, most = self.limits.busy.get(name, ()), self.limits.at_once.get(name, 1)
        moments = sorted({self.choices[at].start for at in ats} | {start for start, _ in busy})
        for moment in moments:
            taken = sum(start <= moment < end for start, end in busy)
            covering = [at for at in ats if self._covers(at, moment)]
            if covering:
                self._row(covering, most=max(0, most - taken))

    def _covers(self, at: int, moment: float) -> bool:
        return self.choices[at].start <= moment < self.choices[at].end

    def _posts(self, name: str, ats: Sequence[int]) -> None:
        """A stream gets a post a day, and so many a week."""
        days, weeks = defaultdict[int, list[int]](list), defaultdict[int, list[int]](list)
        for at in ats:
            days[self.choices[at].day].append(at)
            weeks[self._week(self.choices[at].start)].append(at)
        starts = [start for start, _ in self.limits.busy.get(name, ())]
        for mine in days.values():
            start = self.choices[mine[0]].start
            self._row(mine, most=0 if any(abs(one - start) < 82800 for one in starts) else 1)  # noqa: PLR2004 - 23 hours: the shortest day
        most = self.limits.per_week.get(name)
        if most is not None:
            for week, mine in weeks.items():
                taken = sum(self._week(one) == week for one in starts)
                self._row(mine, most=max(0, most - taken))

    def _even(self, ats: Sequence[int]) -> None:
        """The fullest week of an outlet costs."""
        weeks = defaultdict[int, list[int]](list)
        for at in ats:
            weeks[self._week(self.choices[at].start)].append(at)
        fullest = self._column(worth=-UNEVEN, most=float(len(ats)), of="")
        for mine in weeks.values():
            self._row(mine, most=0, less=[fullest])

    def _week(self, start: float) -> int:
        return int((start - self.limits.first + 43200) // WEEK_S)

    def _column(self, *, worth: float, most: float, of: str) -> int:
        self.worths.append(worth)
        self.uppers.append(most)
        self._of[self.columns] = of
        self.columns += 1
        return self.columns - 1

    def _row(self, more: Sequence[int], *, most: float, less: Sequence[int] = ()) -> None:
        """The sum of ``more`` less the sum of ``less`` is at most ``most``."""
        at = len(self.most)
        for sign, columns in ((1.0, more), (-1.0, less)):
            self._i += [at] * len(columns)
            self._j += columns
            self._v += [sign] * len(columns)
        self.most.append(most)

    def matrix(self) -> Any:
        """The rows as a sparse matrix; each row's sum is at most the one in ``most``."""
        from scipy.sparse import csr_array  # noqa: PLC0415 - only a season pays for it

        shape = (len(self.most), self.columns)
        return csr_array((self._v, (self._i, self._j)), shape=shape)

    def blocks(self) -> list[list[int]]:
        """The columns in blocks of whole sets; what belongs to all is in every block."""
        families = self._families()
        mine = defaultdict[str, list[int]](list)
        for at, one in enumerate(self.choices):
            mine[families[one.version]].append(at)
        shared = [at for at, version in self._of.items() if not version]
        for at, version in self._of.items():
            if version:
                mine[families[version]].append(at)
        blocks: list[list[int]] = []
        room = 0
        for columns in mine.values():
            starts = sum(at < len(self.choices) for at in columns)
            if not blocks or starts > room:
                blocks.append(list(shared))
                room = IN_A_BLOCK
            blocks[-1] += columns
            room -= starts
        return blocks

    def _families(self) -> dict[str, str]:
        """By version, one name for all versions that hang together through sets."""
        leader: dict[str, str] = {}

        def lead(name: str) -> str:
            while leader.setdefault(name, name) != name:
                leader[name] = leader[leader[name]]
                name = leader[name]
            return name

        for one in self.choices:
            for name in one.sets:
                leader[lead(f"set {name}")] = lead(one.version)
            lead(one.version)
        return {one.version: lead(one.version) for one in self.choices}
