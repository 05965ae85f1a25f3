"""Whether a run may be kept: no clash that nobody excused; and the row it becomes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final

from cropper.errors import RecordError, RivalsError
from cropper.publication.bars import Rule
from cropper.publication.clashes import Clash, clashes
from cropper.publication.facts import Facts
from cropper.publication.runs import Run
from cropper.record.rows import Stamp, row_of

NOTHING_DESPITE: Final[Mapping[Rule, str]] = MappingProxyType({})


def checked(
    run: Run,
    facts: Facts,
    despite: Mapping[Rule, str] = NOTHING_DESPITE,
    *,
    before: Run | None = None,
) -> tuple[Clash, ...]:
    """The clashes that ``despite`` excuses with a reason; raises :class:`RivalsError` for others.

    ``before`` is the run that a correction takes the place of: a clash that stands with it already
    refuses no correction that keeps within it, or a run that must come down could not be ended.
    Raises :class:`RecordError` for an outlet that the record does not know.
    """
    if facts.outlet(run.outlet) is None:
        known = ", ".join(sorted(facts.outlets)) or "none yet"
        raise RecordError(
            f"the record knows no outlet '{run.outlet}'",
            way_out=f"Known: {known}. Add it: cropper record outlets",
        )
    broken = clashes(run, facts)
    stands = _standing(before, run, facts)
    open_ones = [
        one for one in broken if not (despite.get(one.rule) or (one.rule, one.against) in stands)
    ]
    if open_ones:
        raise RivalsError(
            "; ".join(dict.fromkeys(one.sentence.rstrip(".") for one in open_ones)),
            way_out=f"{open_ones[0].way_out} Or say why it may run: --despite RULE=REASON",
        )
    return broken


def _standing(before: Run | None, run: Run, facts: Facts) -> frozenset[tuple[Rule, str]]:
    """What ``before`` clashes with already, where ``run`` asks for no more than it had."""
    if before is None or before.outlet != run.outlet or not _within(run, before):
        return frozenset()
    return frozenset((one.rule, one.against) for one in clashes(before, facts))


def _within(run: Run, before: Run) -> bool:
    mine, its = run.span, before.span
    ends_in_time = its.until is None or (mine.until is not None and mine.until <= its.until)
    return mine.start >= its.start and ends_in_time


def run_row(
    run: Run,
    stamp: Stamp,
    *,
    supersedes: str | None = None,
    excused: tuple[str, ...] = (),
) -> dict[str, Any]:
    """The row of a run; ``excused`` joins the stamp's why."""
    why = "; ".join(filter(None, (stamp.why, *dict.fromkeys(excused))))
    return row_of(
        replace(run, recorded_at=None),
        replace(stamp, why=why),
        thread=run.id,
        supersedes=supersedes,
        piece=run.piece,
        version=run.version,
        set_name=run.set or "",
        outlet=run.outlet,
        start=run.span.start,
        until=run.span.until,
    )
