"""Hold the planner's first crop for one scene against the least sum there is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from cropper.destination.destination import Surround
from cropper.geometry import PixelBox
from cropper.proposal.planning import propose
from tests.oracle.checker import Measured, measure
from tests.oracle.optimum import Search, least_sum
from tests.oracle.scenes import rare_scene
from tests.strategies import Scene

GAP = 1e-3
"""What the planner's sum may lie above the least one."""
SAME = 1e-6
"""What the planner's own figure may differ from the checker's for the same box."""
MOST_MEASURED = 5_000_000
"""Boxes of one scene that are measured whole before the search stops early (house: some 5 s)."""


class End(StrEnum):
    """What came of a scene."""

    COMPARED = "first crops compared"
    FILLED = "first crops that reach past the master, not compared"
    NO_CROP = "no crop"


@dataclass(frozen=True, slots=True)
class Held:
    """What one scene showed.

    ``longer`` is the master's longer side in px, ``people`` counts those the picture is about,
    ``bounded`` the boxes that the search ruled out or measured.
    """

    seed: int
    end: End
    longer: int
    people: int
    faults: tuple[str, ...] = ()
    bounded: int = 0
    gap: float = 0.0
    cut_short: bool = False


def hold(one: Scene, *, search: bool = True) -> Held:
    """Compare the planner with the checker on ``one``; without ``search`` only how it measures."""
    about = (max(one.finding.size.width, one.finding.size.height), len(one.finding.principals))
    answer = propose(one.finding, one.destination)
    best = answer.best
    if best is not None and best.fill is not Surround.NOTHING:
        return Held(one.seed, End.FILLED, *about)
    faults: list[str] = []
    own: Measured | None = None
    if best is not None:
        own, faults = _measured_alike(one, best.crop.box, best.cost, best.leaves_out)
    end = End.NO_CROP if best is None else End.COMPARED
    if not search:
        return Held(one.seed, end, *about, tuple(faults))
    least = least_sum(one.finding, one.destination, MOST_MEASURED)
    gap = 0.0
    no_crop = refused(one, least)
    if best is None and no_crop is False:
        faults.append(f"no crop ({answer.no_crop}), but {_told(one, least)}")
    if best is not None and no_crop:
        faults.append(f"{_size(best.crop.box)} proposed, but no crop is to be had")
    elif own is not None:
        gap = own.cost - least.cost
        if gap > GAP:
            faults.append(f"gap of {gap:.6f}: {_size(own.box)}, but {_told(one, least)}")
    return Held(one.seed, end, *about, tuple(faults), least.bounded, gap, least.cut_short)


def _measured_alike(
    one: Scene, box: PixelBox, cost: float, leaves_out: int
) -> tuple[Measured | None, list[str]]:
    """The checker's measure of the planner's crop, and where the planner's own differs."""
    if not box.inside(one.finding.size):
        return None, [f"{_size(box)} reaches past the master, and nothing fills it"]
    try:
        own = measure(one.finding, one.destination, box)
    except ValueError as error:
        return None, [str(error)]
    faults = []
    if abs(cost - own.cost) > SAME:
        faults.append(f"{_size(box)} is said to cost {cost:.7f}, measured {own.told}")
    elif leaves_out != own.left_out:
        faults.append(f"{_size(box)}: {leaves_out} left out, measured {own.left_out}")
    return own, faults


def refused(one: Scene, least: Search) -> bool | None:
    """Whether no crop is to be proposed: too few pixels, or an identity picture that fails.

    None: either will do. The page lets a template be missed by one sigma of a point, and does not
    say of which; up to twice the greatest, both answers are taken for right.
    """
    if least.box is None:
        return True
    if one.destination.head_share is None or one.destination.full_frame:
        return False
    if len(one.finding.principals) != 1:
        return True
    sitter = one.finding.principals[0]
    sigma = max(sitter.eye_sigma_px, sitter.chin.sigma_px, sitter.skull_top.sigma_px)
    own = measure(one.finding, one.destination, least.box)
    missed = max(own[name] for name in ("head in the template", "eyes in the template")) / 100 - 1
    if missed <= 0:
        return False
    return True if missed > 2 * sigma / sitter.head_height_px else None


def _size(box: PixelBox) -> str:
    return f"{box.width}x{box.height}+{box.x0}+{box.y0}"


def _told(one: Scene, least: Search) -> str:
    if least.box is None:
        return "nothing"
    own = measure(one.finding, one.destination, least.box)
    return f"{_size(least.box)} costs {own.told}"


def hold_all(
    seeds: Iterable[int],
    *,
    least: int = 24,
    most: int = 64,
    ranges: bool = True,
    search: bool = True,
) -> Iterator[Held]:
    """Hold the scene of every seed, one after the other; sides of least..most px."""
    for seed in seeds:
        yield hold(rare_scene(seed, least=least, most=most, ranges=ranges), search=search)


def told(results: Iterable[Held]) -> str:
    """Faults as lines, seed first."""
    return "\n".join(f"seed {one.seed}: {fault}" for one in results for fault in one.faults)
