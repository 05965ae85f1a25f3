"""Three ways to crop, side by side: this planner, a centred crop, an attention-based crop.

Every demo master x every shipped destination that crops, all judged by the independent checker
(tests/oracle) from the masters' true points. Writes docs/three-planners.md.

Run from the top of the checkout: ``python -m bench.planners`` (about a minute).
"""

from __future__ import annotations

import argparse
import math
import statistics
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from cropper.destination.destination import Destination
from cropper.destination.presets import load_presets
from cropper.geometry import PixelBox, Size
from cropper.proposal.planning import propose
from cropper.subject.subject import Finding
from tests.oracle.boxes import Boxes, sizes
from tests.oracle.brute import sieve
from tests.oracle.case import Case, cases
from tests.oracle.checker import Measured, measure
from tests.oracle.graded import GRADED
from tests.oracle.never import NEVER
from tests.oracle.truth import picture_of, truth_files, truth_finding

PAGE: Final = Path(__file__).parents[1] / "docs" / "three-planners.md"
GOOD_BELOW: Final = 1000
"""House: a crop is good when it keeps every never-rule and no graded rule is a whole scale
beyond its tolerance (a tier's cost below 1, counted in thousandths)."""
RUNGS: Final = 48
GRID: Final = 40
SHAPES: Final = 9
PLANNERS: Final = ("planner", "centred", "attention")


@dataclass(frozen=True, slots=True)
class Pair:
    """One master and destination: what each planner made, and what a search says is possible."""

    master: str
    destination: str
    possible: bool
    good_possible: bool
    least: tuple[int, ...] | None
    made: dict[str, Measured | None]


def good(measured: Measured | None) -> bool:
    """Whether a crop is good (see GOOD_BELOW)."""
    return measured is not None and not any(measured.broken) and graded_ok(measured.cost)


def graded_ok(cost: tuple[int, ...]) -> bool:
    """Whether tiers 1 to 6 all stay below a whole scale."""
    return all(tier < GOOD_BELOW for tier in cost[1:7])


# --- a search with the true points ---------------------------------------------------------


def range_sizes(
    destination: Destination, size: Size, heights: Iterable[int]
) -> list[tuple[int, int]]:
    """A ladder of shapes within a range at each height, as far as they fit."""
    shape, pairs = destination.shape, []
    for h in heights:
        least = max(1, math.ceil(shape.least * h))
        most = min(size.width, math.floor(shape.most * h))
        if least <= most:
            ladder = np.unique(np.linspace(least, most, SHAPES).round().astype(int))
            pairs += [(int(w), h) for w in ladder]
    return pairs


def coarse_sizes(destination: Destination, size: Size) -> list[tuple[int, int]]:
    """A ladder of allowed sizes, from a fortieth of the master up to the largest."""
    if destination.shape.exact or destination.full_frame:
        every = sizes(destination, size)
        rungs = np.geomspace(max(1, len(every) // 40), len(every), RUNGS).round().astype(int)
        return [every[rung - 1] for rung in np.unique(rungs)]
    heights = np.geomspace(size.height // 40, size.height, RUNGS).round().astype(int)
    return range_sizes(destination, size, [int(h) for h in np.unique(heights)])


def coarse_boxes(case: Case, size: Size) -> Iterable[Boxes]:
    """Boxes of the ladder's sizes on a grid of places, edges included."""
    for w, h in coarse_sizes(case.destination, size):
        x0 = np.unique(np.linspace(0, size.width - w, GRID).round().astype(np.int64))
        y0 = np.unique(np.linspace(0, size.height - h, GRID).round().astype(np.int64))
        xs, ys = (side.ravel() for side in np.meshgrid(x0, y0))
        yield Boxes(xs, ys, np.full_like(xs, w), np.full_like(xs, h))


def search(finding: Finding, destination: Destination) -> tuple[int, ...] | None:
    """The least cost on the ladder and grid, all but *kept*; None: no box keeps the rules."""
    best: tuple[int, ...] | None = None
    for case in cases(finding, destination):
        for boxes in coarse_boxes(case, finding.size):
            cost, _ = sieve(case, boxes, best)
            if cost and (best is None or cost[:-1] < best[:-1]):
                best = cost
    return best


def good_somewhere(finding: Finding, destination: Destination) -> bool:
    """Whether some box on the ladder and grid is good."""
    for case in cases(finding, destination):
        for boxes in coarse_boxes(case, finding.size):
            left = boxes
            for rule in NEVER.values():
                left = left.where(rule(case, left)) if len(left) else left
            for tier in list(GRADED.values())[:6]:
                left = left.where(tier(case, left) < GOOD_BELOW) if len(left) else left
            if len(left):
                return True
    return False


# --- the two others ------------------------------------------------------------------------


def largest(destination: Destination, size: Size) -> tuple[int, int]:
    """The largest allowed size in the master, whichever way the destination lies."""
    every: list[tuple[int, int]] = []
    for each in destination.orientations:
        if each.shape.exact or each.full_frame:
            every += sizes(each, size)
        else:
            every += range_sizes(each, size, range(1, size.height + 1))
    return max(every, key=lambda pair: (pair[0] * pair[1], pair))


def centred(size: Size, w: int, h: int) -> PixelBox:
    """The box of w x h in the middle."""
    x0, y0 = (size.width - w) // 2, (size.height - h) // 2
    return PixelBox(x0, y0, x0 + w, y0 + h)


def attention(picture: Path) -> Callable[[int, int], PixelBox]:
    """The library's attention crop of one picture, as a box; answers are kept by size."""
    import pyvips

    whole: Any = pyvips.Image.new_from_file(str(picture)).autorot().copy_memory()
    known: dict[tuple[int, int], PixelBox] = {}

    def crop(w: int, h: int) -> PixelBox:
        if (w, h) not in known:
            cut = whole.smartcrop(w, h, interesting="attention")
            x0, y0 = -cut.xoffset, -cut.yoffset
            known[w, h] = PixelBox(x0, y0, x0 + w, y0 + h)
        return known[w, h]

    return crop


# --- the comparison ------------------------------------------------------------------------


def compare(truth: Path, destinations: Iterable[Destination]) -> list[Pair]:
    """All destinations of one master."""
    finding, look = truth_finding(truth), attention(picture_of(truth))
    pairs = []
    for each in destinations:
        best = propose(finding, each).best
        w, h = largest(each, finding.size)
        made: dict[str, Measured | None] = {
            "planner": measure(finding, each, best.crop.box) if best else None,
            "centred": measure(finding, each, centred(finding.size, w, h)),
            "attention": measure(finding, each, look(w, h)),
        }
        least = search(finding, each)
        good_possible = good_somewhere(finding, each)
        possible = least is not None or any(
            one is not None and not one.broken for one in made.values()
        )
        good_possible |= any(good(one) for one in made.values())
        name = truth.name.removesuffix(".truth.json")
        pairs.append(Pair(name, each.name, possible, good_possible, least, made))
    return pairs


def share(part: int, whole: int) -> str:
    """A count with its percentage."""
    return f"{part} of {whole} ({100 * part / whole:.0f} %)" if whole else "-"


def spent(pairs: list[Pair], planner: str) -> list[float]:
    """Sum of tiers 1 to 6, in whole scales, of every crop that keeps the never-rules."""
    made = [pair.made[planner] for pair in pairs]
    return [sum(one.cost[1:7]) / 1000 for one in made if one is not None and not one.broken]


def shared(pairs: list[Pair]) -> list[Pair]:
    """Pairs in which all three crops keep the never-rules."""
    return [
        pair
        for pair in pairs
        if all(one is not None and not one.broken for one in pair.made.values())
    ]


def row(pairs: list[Pair], planner: str) -> str:
    """One line of the main table."""
    possible = [pair for pair in pairs if pair.possible]
    able = [pair for pair in pairs if pair.good_possible]
    kept = sum(
        one is not None and not one.broken for one in (pair.made[planner] for pair in possible)
    )
    found = sum(good(pair.made[planner]) for pair in able)
    costs, same = spent(possible, planner), spent(shared(pairs), planner)
    return (
        f"| {planner} | {share(kept, len(possible))} | {share(found, len(able))} "
        f"| {statistics.mean(costs):.2f} (median {statistics.median(costs):.2f}) "
        f"| {statistics.mean(same):.2f} (median {statistics.median(same):.2f}) |"
    )


def by_name(pairs: list[Pair], key: Callable[[Pair], str], title: str) -> list[str]:
    """How many good crops each planner has found, by master or by destination."""
    lines = [
        f"| {title} | a crop exists | a good crop exists | " + " | ".join(PLANNERS) + " |",
        "|---|---|---|---|---|---|",
    ]
    for name in dict.fromkeys(key(pair) for pair in pairs):
        mine = [pair for pair in pairs if key(pair) == name]
        able = [pair for pair in mine if pair.good_possible]
        found = [str(sum(good(pair.made[each]) for pair in able)) for each in PLANNERS]
        counts = f"{sum(pair.possible for pair in mine)} of {len(mine)} | {len(able)}"
        lines.append(f"| {name} | {counts} | " + " | ".join(found) + " |")
    return lines


def missed(pairs: list[Pair]) -> list[str]:
    """Good crops that exist and that the planner did not choose, with its cost."""
    lines = []
    for pair in pairs:
        ours = pair.made["planner"]
        if pair.good_possible and not good(ours):
            cost = "no crop" if ours is None else f"cost {ours.cost}"
            lines.append(f"- {pair.master}, {pair.destination}: {cost}")
    return lines


def bettered(pairs: list[Pair]) -> list[str]:
    """Pairs in which the coarse search met a lesser cost than the planner's, *kept* aside."""
    lines = []
    for pair in pairs:
        ours = pair.made["planner"]
        if pair.least and (ours is None or pair.least[:-1] < ours.cost[:-1]):
            cost = "no crop" if ours is None else str(ours.cost)
            lines.append(f"- {pair.master}, {pair.destination}: {cost}, the search {pair.least}")
    return lines


def page(pairs: list[Pair]) -> str:
    """docs/three-planners.md."""
    masters, places = {pair.master for pair in pairs}, {pair.destination for pair in pairs}
    wanting = missed(pairs)
    return "\n".join(
        [
            "# Three ways to crop, side by side",
            "",
            "Written by `python -m bench.planners`; do not edit by hand.",
            "",
            f"{len(masters)} demo masters x {len(places)} destinations = {len(pairs)} pairs",
            "(full frames left out). All three crops of a pair are judged by the independent",
            "checker of the tests from the masters' true points, so finding errors play no part.",
            "",
            "- **planner**: this program's first proposal.",
            "- **centred**: the largest crop of the shape, in the middle.",
            "- **attention**: the largest crop of the shape where a general imaging library",
            "  (libvips, `smartcrop` with `attention`) puts it.",
            "",
            "| | never-rules kept | good crop | mean cost | mean cost where all three keep them |",
            "|---|---|---|---|---|",
            *(row(pairs, planner) for planner in PLANNERS),
            "",
            "Never-rules are counted where it is possible to keep them, good crops where one",
            "exists; the first mean is over each one's own crops that keep the never-rules, the",
            f"last over the {len(shared(pairs))} pairs in which all three do.",
            "",
            "*Possible* and *exists* are judged by a search over a ladder of sizes and a grid of",
            "places with the true points, or by any of the three having found one. A *good* crop",
            "keeps every never-rule, and no graded rule is a whole scale beyond its tolerance",
            "(each of the tiers framing to across costs less than 1; a house value). *Cost* is the",
            "sum of those tiers; 1 is one rule one scale off. See",
            "[the rules](composition.md).",
            "",
            "The planner takes the least cost tier by tier; where a good crop exists and it still",
            "chose another, an earlier tier asked for it:",
            "",
            *(wanting or ["- none: wherever a good crop exists, the planner's is good."]),
            "",
            "Pairs in which that search met a lesser cost than the planner's (*kept* aside; the",
            "tuples are the eight tiers in thousandths):",
            "",
            *(bettered(pairs) or ["- none."]),
            "",
            "Good crops by destination:",
            "",
            *by_name(pairs, lambda pair: pair.destination, "destination"),
            "",
            "Good crops by master:",
            "",
            *by_name(pairs, lambda pair: pair.master, "master"),
            "",
            "The masters are rendered pictures of one family of heads, and the presets were drawn",
            "up with them in view: the table says how the three differ, not how good any of them",
            "is on somebody's photographs.",
            "",
        ]
    )


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m bench.planners", description=__doc__)
    parser.add_argument("--to", type=Path, default=PAGE, help="where the page goes")
    asked = parser.parse_args()
    started = time.perf_counter()
    # A full frame is the same box whoever crops; counting it would only blur the difference.
    destinations = [one for one in load_presets().destinations if not one.full_frame]
    pairs: list[Pair] = []
    for truth in truth_files():
        pairs += compare(truth, destinations)
        print(f"{truth.name}: {time.perf_counter() - started:.0f} s")
    asked.to.write_text(page(pairs), encoding="utf-8")
    print(page(pairs))


if __name__ == "__main__":
    main()
