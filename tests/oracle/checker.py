"""The independent checker: docs/composition.md worked out a second time, for any boxes.

It measures arrays of crop boxes and answers which never-rules each breaks and its eight-tier
cost. Only value types of the subject, destination and geometry rooms are used. Every figure
below stands in docs/composition.md under the name of its tier.

Readings chosen where the page leaves room:

- A never-rule broken by two people, or in two frames, is one broken rule: 1000, not 2000.
- ``pixels``: inches of width come from the page's size with bleed; without a page no ppi is owed.
- A bystander's head box is not cut to the master; only the principals' are.
- What a group's width forces uses the shape of the primary seen frame: 1 in a circle.
- A live area is a rectangle in a circle destination too.
- An orientation lies wide when its whole range of shapes is wider than high.
- The greatest area that ``kept`` compares with is that of the box's own orientation.
- ``zones`` and gutter are fractions of the trim also where the frame is a circle.
- ``top`` moves down for a covered zone only if the *head* must clear it AND hair may not enter.
- In a circle ``top`` is the arc, whatever zones there are.
- The group form of the eye line wins over a destination's own band, that of across over every
  rule but *free*.
- ``joints`` counts each pair of a limb and an edge segment that it crosses.
- A spread's page rule replaces the target band whatever the destination's across rule says.
- A box is measured for the orientation of a turnable destination that is nearer to its shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cropper.destination.destination import Destination
from cropper.geometry import PixelBox
from cropper.subject.subject import Finding
from tests.oracle.boxes import one_box
from tests.oracle.case import Case, cases
from tests.oracle.graded import GRADED
from tests.oracle.never import NEVER


@dataclass(frozen=True, slots=True)
class Measured:
    """The eight-tier cost of one box and the never-rules it breaks."""

    cost: tuple[int, ...]
    broken: tuple[str, ...]


def measure_case(case: Case, box: PixelBox) -> Measured:
    """Measure ``box`` in one orientation."""
    boxes = one_box(box.x0, box.y0, box.width, box.height)
    broken = tuple(name for name, rule in NEVER.items() if not rule(case, boxes)[0])
    graded = [int(tier(case, boxes)[0]) for tier in GRADED.values()]
    return Measured((1000 * len(broken), *graded), broken)


def measure(finding: Finding, destination: Destination, box: PixelBox) -> Measured:
    """Measure ``box`` for ``destination``; at least one principal is needed."""
    shape = math.log(box.width / box.height)

    def off(case: Case) -> float:
        each = case.destination.shape
        return max(0.0, math.log(each.least) - shape, shape - math.log(each.most))

    return measure_case(min(cases(finding, destination), key=off), box)
