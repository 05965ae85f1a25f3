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
    run: Run, facts: Facts, despite: Mapping[Rule, str] = NOTHING_DESPITE
) -> tuple[Clash, ...]:
    """The clashes that ``despite`` excuses with a reason; raises :class:`RivalsError` for others.

    Raises :class:`RecordError` for an outlet that the record does not know.
    """
    if facts.outlet(run.outlet) is None:
        known = ", ".join(sorted(facts.outlets)) or "none yet"
        raise RecordError(
            f"the record knows no outlet '{run.outlet}'",
            way_out=f"Known: {known}. Add it: cropper record outlets",
        )
    broken = clashes(run, facts)
    open_ones = [one for one in broken if not despite.get(one.rule)]
    if open_ones:
        raise RivalsError(
            "; ".join(one.sentence.rstrip(".") for one in open_ones),
            way_out=f"{open_ones[0].way_out} Or say why it may run: --despite RULE=REASON",
        )
    return broken


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
