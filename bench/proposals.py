"""How long proposals take, finding excluded: today's planner against its first design, in turn.

    python -m bench.proposals [--rounds 5]

Fourteen destinations of every demo master, from its true points; CPU milliseconds of the planner's
own process, medians. Both planners are asked in turn, so that neighbours on the machine count for
both alike. The truth knows no limbs, and limbs cost time: each master stands once more with both
arms and legs invented in plain proportions. Then five persons against one of them alone.
"""

from __future__ import annotations

import argparse
import statistics
from dataclasses import replace
from typing import Final

from bench.asked_planners import Planner, planners
from bench.planner_worker import geometry
from cropper.geometry import Point
from cropper.subject.subject import SIDES, Finding, Joint, Subject
from tests.oracle.truth import demo_findings
from tests.strategies import JOINT_PLACES

NAMES: Final = [
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
]
ASKED_RATIO: Final = 1 / 8
"""Asked of today's planner against the first design, in one run."""
ASKED_FIVE: Final = 2.0
"""Asked of five persons against one."""
FIVE: Final = "fernhollow_h_group_of_five"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m bench.proposals", description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    findings = demo_findings()
    scenes = dict(findings) | {f"{name}, limbs": with_limbs(one) for name, one in findings.items()}
    with planners() as asked:
        print(f"{len(NAMES)} destinations per master; CPU ms, median of {rounds} rounds in turn")
        print(f"{'master':40}" + "".join(f"{name:>9}" for name in asked) + f"{'ratio':>9}")
        sums: dict[str, float] = dict.fromkeys(asked, 0.0)
        for name, finding in scenes.items():
            took = timed(asked, finding, rounds)
            for planner, ms in took.items():
                sums[planner] += ms
            print(f"{name:40}" + "".join(f"{ms:9.1f}" for ms in took.values()) + ratio_of(took))
        print(f"{'all':40}" + "".join(f"{ms:9.1f}" for ms in sums.values()) + ratio_of(sums))
        if "former" in sums:
            print(met("today against the first design", ratio(sums), ASKED_RATIO))
        five = findings[FIVE]
        alone = replace(five, subjects=five.subjects[2:3])
        one_planner = {"today": asked["today"]}
        for said, made in (("plain", lambda one: one), ("with limbs", with_limbs)):
            many = timed(one_planner, made(five), rounds)["today"]
            one = timed(one_planner, made(alone), rounds)["today"]
            print(f"five persons {many:.1f} ms, one of them alone {one:.1f} ms ({said})")
            print(met(f"five persons against one, {said}", many / one, ASKED_FIVE))


def timed(asked: dict[str, Planner], finding: Finding, rounds: int) -> dict[str, float]:
    """Median CPU ms of each planner; one round more goes before, to warm up."""
    told, taken = geometry(finding), {name: list[float]() for name in asked}
    for at in range(rounds + 1):
        for name, planner in asked.items():
            spent = planner.ask(told, NAMES, pixels=True)["ms"]
            if at:
                taken[name].append(spent)
    return {name: statistics.median(times) for name, times in taken.items()}


def ratio(took: dict[str, float]) -> float:
    return took["today"] / took["former"]


def ratio_of(took: dict[str, float]) -> str:
    return f"{ratio(took):9.3f}" if "former" in took else f"{'-':>9}"


def met(what: str, value: float, asked: float) -> str:
    """What was asked, and whether it is met."""
    told = "met" if value <= asked else f"MISSED by {value - asked:.3f}"
    return f"{what}: {value:.3f}, asked {asked:.3f}: {told}"


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
