"""How long proposals take, finding excluded: CPU ms per master, against what was asked.

    python bench/proposals.py [--rounds 7]

Every demo master's true points go in; proposals with measures and sentences come out, and the
conflicts where nothing fits. Medians of CPU time, so that neighbours on the machine count little.
The truth knows no limbs, and limbs cost time: each master stands once more with both arms and legs
invented in plain proportions, all visible. Then how the time grows with the number of
destinations, taken in the order of the presets.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

sys.path.insert(0, str(Path(__file__).parents[1]))

from cropper.destination.destination import Destination
from cropper.destination.presets import load_presets
from cropper.geometry import Point
from cropper.proposal.planning import propose_all
from cropper.subject.subject import SIDES, Finding, Joint, Subject
from tests.oracle.truth import demo_findings
from tests.strategies import JOINT_PLACES

NAMES: Final = (
    "square-post",
    "tall-post",
    "story",
    "wide",
    "avatar",
    "profile-square",
    "page-header",
    "link-preview",
    "portfolio",
    "cover-a4",
    "spread-a4",
    "print-8x10",
    "print-13x18cm",
    "full-frame",
)
ASKED_MS: Final = {1: 50, 5: 150}
"""Asked of fourteen destinations of one master with so many subjects."""
GROWTH: Final = (1, 2, 4, 8, 14, 20, 27)
GROWN: Final = ("fernhollow_a_frontal", "fernhollow_h_group_of_five")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python bench/proposals.py", description=__doc__)
    parser.add_argument("--rounds", type=int, default=7)
    rounds = parser.parse_args().rounds
    presets, findings = load_presets(), demo_findings()
    wanted = presets.choose(NAMES)
    print(f"{len(wanted)} destinations per master; CPU ms, median of {rounds} rounds")
    print(f"{'master':32}{'people':>7}{'crops':>7}{'CPU ms':>8}{'limbs':>8}  asked")
    for name, finding in findings.items():
        plain, crops = timed(finding, wanted, rounds)
        limbs, _ = timed(with_limbs(finding), wanted, rounds)
        people = len(finding.subjects)
        print(
            f"{name:32}{people:7}{crops:7}{plain:8.0f}{limbs:8.0f}  {verdict(people, plain, limbs)}"
        )
    every = presets.destinations
    print("\nCPU ms for so many destinations (in brackets, per destination)")
    counts = [count for count in GROWTH if count < len(every)] + [len(every)]
    print(f"{'master':32}" + "".join(f"{count:>11}" for count in counts))
    for name in GROWN:
        taken = [(timed(findings[name], every[:count], rounds)[0], count) for count in counts]
        print(f"{name:32}" + "".join(f"{ms:6.0f} ({ms / n:2.0f})" for ms, n in taken))


def timed(finding: Finding, wanted: Sequence[Destination], rounds: int) -> tuple[float, int]:
    """Median CPU ms of proposing, and for how many destinations there is a crop."""
    taken: list[float] = []
    crops = 0
    for _ in range(rounds):
        started = time.process_time()
        answers = propose_all(finding, wanted)
        taken.append(1000 * (time.process_time() - started))
        crops = sum(bool(answer.proposals) for answer in answers)
    return statistics.median(taken), crops


def verdict(people: int, plain: float, limbs: float) -> str:
    """What was asked, and whether it is met without and with limbs."""
    asked = ASKED_MS.get(people)
    if asked is None:
        return ""
    told = [
        f"{word} {'met' if ms <= asked else f'MISSED by {ms - asked:.0f} ms'}"
        for word, ms in (("plain", plain), ("with limbs", limbs))
    ]
    return f"<= {asked}: {', '.join(told)}"


def with_limbs(finding: Finding) -> Finding:
    """The same people with arms and legs, upright below their heads."""
    return replace(finding, subjects=tuple(_limbed(one) for one in finding.subjects))


def _limbed(one: Subject) -> Subject:
    head, top = one.head_height_px, one.skull_top.at
    joints = tuple(
        Joint(f"{side}_{name}", Point(top.x + sign * aside * head, top.y + down * head), 1.0)
        for side, sign in zip(SIDES, (-1, 1), strict=True)
        for name, (aside, down) in JOINT_PLACES.items()
    )
    return replace(one, joints=joints)


if __name__ == "__main__":
    main()
