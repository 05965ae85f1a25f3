"""Hold the planner's answer for one scene against trying every box."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cropper.proposal.planning import propose
from tests.oracle.brute import least_cost
from tests.oracle.checker import measure
from tests.strategies import Scene, scene

TIERS = ("never", "framing", "crown", "eye_line", "headroom", "joints", "across", "kept")


@dataclass(frozen=True, slots=True)
class Held:
    """What one scene showed: how many boxes were tried, whether a crop exists, what is wrong."""

    seed: int
    tried: int
    crop: bool
    faults: tuple[str, ...]


def hold(one: Scene) -> Held:
    """Compare the planner with brute force on ``one``."""
    least = least_cost(one.finding, one.destination)
    answer = propose(one.finding, one.destination)
    faults: list[str] = []
    best = answer.best
    if (best is None) != (answer.no_crop is not None):
        faults.append("an answer must be either proposals or no crop")
    if best is None and least.cost is not None:
        faults.append(f"no crop proposed, but {least.boxes[0]} costs {least.cost}")
    if best is not None and least.cost is None:
        faults.append(f"{best.crop.box} proposed, but no box keeps the never-rules")
    if best is not None and least.cost is not None and best.cost != least.cost:
        faults.append(
            f"gap in {first_difference(best.cost, least.cost)}: proposed {best.crop.box} "
            f"at {best.cost}, but {least.boxes[0]} costs {least.cost}"
        )
    for each in answer.proposals:
        own = measure(one.finding, one.destination, each.crop.box)
        if own.cost != each.cost:
            faults.append(f"{each.crop.box} is said to cost {each.cost}, measured {own.cost}")
    return Held(one.seed, least.tried, least.cost is not None, tuple(faults))


def first_difference(ours: tuple[int, ...], theirs: tuple[int, ...]) -> str:
    """Name of the first tier in which two costs differ."""
    pairs = zip(TIERS, ours, theirs, strict=True)
    return next((name for name, a, b in pairs if a != b), "none")


def hold_all(seeds: Iterable[int], *, least: int = 24, most: int = 64) -> Iterator[Held]:
    """Hold the scene of every seed, one after the other."""
    for seed in seeds:
        yield hold(scene(seed, least=least, most=most))


def told(results: Iterable[Held]) -> str:
    """Faults as lines, seed first."""
    return "\n".join(f"seed {one.seed}: {fault}" for one in results for fault in one.faults)
