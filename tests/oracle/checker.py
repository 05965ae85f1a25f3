"""The independent checker: docs/composition.md worked out a second time, for any box.

Only value types of the subject, destination and geometry rooms are used. The forced part is found
by brute force: the excess at every whole-pixel place of that size. Readings chosen where the page
leaves room:

- A pupil's margin is never below 0, also where the pupil itself lies outside the master.
- "The greatest allowed crop" and "the same orientation" are those of the destination as it is
  turned; a range of shapes that holds the square is one orientation.
- Zones and live areas are parts of the trim in a circle destination too.
- Heads of people who are left out are not cut to the master's sides, as those of bystanders.
- Sizes are searched from .9 of the smallest head of everybody, also for a part of a group. Where
  even the largest that fits is smaller, that one is looked at.
- A pose spoils an identity picture once, however many things are wrong with it; eyes placed by
  hand are known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cropper.destination.destination import Destination
from cropper.geometry import PixelBox
from cropper.subject.subject import Finding
from tests.oracle.boxes import Boxes, Floats, Whole, one_box
from tests.oracle.case import Case, cases
from tests.oracle.rules import LEFT_OUT, Moves, Rule, speaking


def places(case: Case, w: Whole, h: Whole, moves: Moves) -> tuple[Boxes, Floats]:
    """Every place of sizes ``w`` x ``h`` (columns) along one axis, and where one is past the end.

    The second is 0 at places inside the master and infinite at those that reach past it.
    """
    across = moves is Moves.ACROSS
    room = case.master.width - w if across else case.master.height - h
    start = np.arange(int(room.max()) + 1, dtype=np.int64)[None, :]
    still = np.zeros((1, 1), dtype=np.int64)
    past = np.where(start <= room, 0.0, np.inf)
    return (Boxes(start, still, w, h) if across else Boxes(still, start, w, h)), past


def along(rule: Rule, case: Case, boxes: Boxes, past: Floats) -> Floats:
    """What ``rule`` adds at every place of one axis, what is forced there taken off."""
    excess = rule.excess(case, boxes) + past
    if rule.forced:
        excess = excess - excess.min(axis=1, keepdims=True)
    return rule.adds(excess) + past


def along_axis(case: Case, w: Whole, h: Whole, moves: Moves) -> Floats:
    """What all rules of that axis add: a row for each size, a column for each place."""
    boxes, past = places(case, w, h, moves)
    total = past
    for rule in speaking(case, moves):
        total = total + along(rule, case, boxes, past)
    return total


def plain(case: Case, boxes: Boxes, moves: Moves) -> Floats:
    """What the rules add that know no forced part: those of the size, or of both axes."""
    total = np.zeros(1)
    for rule in speaking(case, moves):
        total = total + rule.adds(rule.excess(case, boxes))
    return total


@dataclass(frozen=True, slots=True)
class Measured:
    """The sum of one box, and what each rule adds to it."""

    box: PixelBox
    cost: float
    parts: dict[str, float]
    left_out: int

    @property
    def told(self) -> str:
        """The sum, and what it is made of."""
        parts = ", ".join(f"{name} {part:.5f}" for name, part in self.parts.items() if part)
        return f"{self.cost:.7f} ({parts})"

    @property
    def broken(self) -> tuple[str, ...]:
        """The hard rules that are missed."""
        return tuple(name for name, part in self.parts.items() if part >= 100)

    def __getitem__(self, name: str) -> float:
        """What the rule ``name`` adds; 0 for one that does not speak."""
        return self.parts.get(name, 0.0)


def measure_case(case: Case, box: PixelBox) -> Measured:
    """Measure ``box``, inside the master, for one set of people and one orientation."""
    here = one_box(box.x0, box.y0, box.width, box.height)
    w, h = here.w[:, None], here.h[:, None]
    parts: dict[str, float] = {}
    for moves, at in ((Moves.DOWN, box.y0), (Moves.ACROSS, box.x0)):
        boxes, past = places(case, w, h, moves)
        for rule in speaking(case, moves):
            parts[rule.name] = float(along(rule, case, boxes, past)[0, at])
    for moves in (Moves.NOT, Moves.BOTH):
        for rule in speaking(case, moves):
            parts[rule.name] = float(rule.adds(rule.excess(case, here))[0])
    if case.left_out:
        parts["people left out"] = LEFT_OUT * case.left_out
    return Measured(box, sum(parts.values()), parts, case.left_out)


def measure(finding: Finding, destination: Destination, box: PixelBox) -> Measured:
    """Measure ``box`` for ``destination``: the least sum over everybody and parts of a group.

    Raises:
        ValueError: if no orientation of the destination allows a box of that size.
    """
    size = (box.width, box.height)
    every = [case for case in cases(finding, destination) if size in case.allowed]
    if not every:
        message = f"{destination.name} allows no box of {size[0]} x {size[1]} px"
        raise ValueError(message)
    return min((measure_case(case, box) for case in every), key=lambda one: one.cost)
