"""A large job's sheets in parts: one part in memory at a time, each a page that still opens."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from cropper.job.masters import Entry, Masters
from cropper.job.plan import Plan

ON_A_SHEET: Final = 40
"""So many masters stand on one sheet (house: about 20 MB of page, an hour of looking)."""
_OURS: Final = re.compile(r"proof(-\d+)?\.(html|pdf)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One of a job's sheets: ``number`` of ``of``, counted from 1, and the masters on it."""

    number: int
    of: int
    versions: tuple[str, ...]

    def file(self, name: str) -> str:
        """The part's file, for a sheet that is called ``name`` where it is the only one."""
        if self.of == 1:
            return name
        path = Path(name)
        return f"{path.stem}-{self.number:0{len(str(self.of))}d}{path.suffix}"

    def title(self, title: str) -> str:
        """The sheet's title."""
        return title if self.of == 1 else f"{title}, part {self.number} of {self.of}"


def parts(versions: Sequence[str]) -> Iterator[Part]:
    """The parts that these versions come to; one, though nobody stands on it, for none."""
    of = max(1, -(-len(versions) // ON_A_SHEET))
    for number in range(1, of + 1):
        mine = versions[(number - 1) * ON_A_SHEET : number * ON_A_SHEET]
        yield Part(number=number, of=of, versions=tuple(mine))


def among(plan: Plan, versions: Sequence[str]) -> Plan:
    """The plan of these versions alone, in this order, with their sets."""
    found = (plan.shelf.entry(one) for one in versions)
    entries = [
        Entry(one.version, place, master=one.master)
        for place, one in enumerate(one for one in found if one is not None)
    ]
    return replace(plan, masters=Masters(entries), sets=plan.rivals.among(versions))


def left_over(folder: Path, written: Sequence[str]) -> list[str]:
    """Sheets of earlier runs that this one did not write: of another number of parts."""
    kinds = {Path(one).suffix for one in written}
    return sorted(
        one.name
        for one in folder.iterdir()
        if _OURS.fullmatch(one.name) and one.suffix in kinds and one.name not in written
    )
