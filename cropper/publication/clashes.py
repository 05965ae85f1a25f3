"""May this run there, then? Every clash with who, what, when, the rule, and when it would be fine.

Pure: facts and the run come in, clashes go out. Boundaries are exact: a run that ends at the
instant another starts does not clash with it. See docs/reference/record-rules.md.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from cropper.errors import MisuseError
from cropper.publication.bars import Bar, Rule, bars_of
from cropper.publication.dates import said
from cropper.publication.facts import Facts
from cropper.publication.outlets import Outlet
from cropper.publication.runs import Run
from cropper.publication.spans import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """One rule that a run breaks.

    ``against`` is the id of the other run or of the licence, or the person; ``who`` its outlet or
    person; ``when`` the stretch that is taken. ``earliest_ok`` is the first start, not before the
    asked one, at which a run of the same length breaks no rule at all; None: as things stand there
    is none. ``way_out`` says either in words.
    """

    rule: Rule
    run: str
    version: str
    outlet: str
    against: str
    who: str
    when: Span | None
    sentence: str
    earliest_ok: datetime | None
    way_out: str


def clashes(run: Run, facts: Facts) -> tuple[Clash, ...]:
    """Every rule that ``run`` breaks, given what else is known; none when it may run.

    ``run`` may be recorded already or not; it never clashes with itself. Raises
    :class:`MisuseError` when its outlet is unknown.
    """
    if not run.counts:
        return ()
    bars = tuple(bars_of(run, _outlet(run, facts), facts))
    start = run.span.start
    broken = [bar for bar in bars if bar.bars(start)]
    if not broken:
        return ()
    free = first_free(bars, start)
    way_out = _way_out(run, free)
    return tuple(
        Clash(
            rule=bar.rule,
            run=run.id,
            version=run.version,
            outlet=run.outlet,
            against=bar.against,
            who=bar.who,
            when=bar.when,
            sentence=bar.sentence,
            earliest_ok=free,
            way_out=way_out,
        )
        for bar in broken
    )


def all_clashes(facts: Facts) -> Iterator[Clash]:
    """The clashes among everything recorded; of two rivals that meet, the later is told."""
    order = {run.id: (run.span.start, run.id) for run in facts.runs}
    for run, known in _with_its_kin(facts):
        for clash in clashes(run, known):
            if clash.rule is not Rule.RIVALS or order[clash.against] < order[run.id]:
                yield clash


def _with_its_kin(facts: Facts) -> Iterator[tuple[Run, Facts]]:
    """Each run, with the facts about its own set and version: no rule looks at other runs."""
    versions: defaultdict[str, list[Run]] = defaultdict(list)
    sets: defaultdict[str, list[Run]] = defaultdict(list)
    for run in facts.runs:
        versions[run.version].append(run)
        for name in facts.sets_of(run):
            sets[name].append(run)
    for run in facts.runs:
        mine = [one for name in facts.sets_of(run) for one in sets[name]]
        kin = {one.id: one for one in (*versions[run.version], *mine)}
        yield run, replace(facts, runs=tuple(kin.values()))


def first_free(bars: Iterable[Bar], start: datetime) -> datetime | None:
    """The first instant from ``start`` on that no bar covers; None when there is none."""
    ordered = sorted(bars, key=lambda bar: bar.first)
    for bar in ordered:
        if bar.first > start:
            break
        if bar.bars(start):
            if bar.last is None:
                return None
            start = bar.last
    return start


def _outlet(run: Run, facts: Facts) -> Outlet:
    outlet = facts.outlet(run.outlet)
    if outlet is None:
        known = ", ".join(sorted(facts.outlets)) or "none yet"
        raise MisuseError(f"there is no outlet '{run.outlet}'", way_out=f"Known: {known}")
    return outlet


def _way_out(run: Run, free: datetime | None) -> str:
    if free is None:
        return "As things stand there is no later start at which it would be fine."
    return f"It would be fine from {said(free, run.zone)}."
