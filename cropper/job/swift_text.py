"""The text of a plan, of which only the masters that changed are written out anew.

A page saves at every move of the hand. In a job of a hundred masters all but one stay as they
were, and so does their text; the result is the very text of :func:`cropper.job.codec.to_text`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from cropper._layout import laid_out
from cropper.job import codec
from cropper.job.plan import Plan, PlannedMaster

_HOLE: Final = '\n  "masters": [],\n'


class SwiftText:
    """Remembers each master's text for as long as the master is the same value."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[PlannedMaster, str]] = {}

    def of(self, plan: Plan) -> str:
        """The plan's text."""
        hollow = codec.to_text(replace(plan, masters=()))
        if not plan.masters or hollow.count(_HOLE) != 1:
            return codec.to_text(plan)
        pieces = [self._piece(one, plan) for one in plan.masters]
        self._known = {one.version: self._known[one.version] for one in plan.masters}
        whole = '\n  "masters": [\n' + ",\n".join(pieces) + "\n  ],\n"
        return hollow.replace(_HOLE, whole)

    def seed(self, text: str, plan: Plan) -> None:
        """Take over the masters' texts from the file that ``plan`` was just read from."""
        pieces = _cut(text)
        if len(pieces) == len(plan.masters):
            self._known = {
                master.version: (master, piece)
                for master, piece in zip(plan.masters, pieces, strict=True)
            }

    def _piece(self, master: PlannedMaster, plan: Plan) -> str:
        known = self._known.get(master.version)
        if known is None or known[0] is not master:
            known = (master, _text(master, plan))
            self._known[master.version] = known
        return known[1]


def _cut(text: str) -> list[str]:
    """The masters' pieces of a plan's text; none when it is laid out in another way."""
    _, start, rest = text.partition('\n  "masters": [\n')
    listed, end, _ = rest.partition("\n  ]")
    if not (start and end and listed.startswith("    {\n") and listed.endswith("\n    }")):
        return []
    between = "\n    },\n    {\n"
    inner = listed.removeprefix("    {\n").removesuffix("\n    }").split(between)
    return ["    {\n" + piece + "\n    }" for piece in inner]


def _text(master: PlannedMaster, plan: Plan) -> str:
    """One master as it stands in the plan's list, two steps in."""
    alone = replace(plan, masters=(master,), destinations=(), sets=(), failed=(), outlets={})
    mapping = codec.to_mapping(alone)["masters"][0]
    # Two lists around it put it at the depth that it has in a plan.
    lines = laid_out([[mapping, None]]).splitlines()
    return "\n".join(lines[2:-3]).removesuffix(",")
