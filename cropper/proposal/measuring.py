"""Every rule measured on one crop: value beside target and limit, a verdict, a sentence.

The same engine measures the planner's crops, the photographer's, and crops made elsewhere.
"""

from __future__ import annotations

import math
from typing import Final

from cropper.destination.destination import Across, Destination
from cropper.destination.shots import DEPTHS, Shot
from cropper.geometry import Crop, PixelBox
from cropper.proposal import graded, house
from cropper.proposal.composing import boxes_of, cost_of
from cropper.proposal.delivering import delivered_size, effective_ppi, lying_as
from cropper.proposal.frames import Boxes, Frame, Look
from cropper.proposal.gauging import gauged
from cropper.proposal.never_measures import never_measures
from cropper.proposal.people import Person
from cropper.proposal.proposal import Cost, Measure, Proposal, Verdict
from cropper.proposal.reasons import reasons_of
from cropper.proposal.scene import Scene, scene_of
from cropper.proposal.turning import turned_about
from cropper.subject.subject import Finding

WORST_FIRST: Final = (
    Verdict.NO_CROP,
    Verdict.BREAKS,
    Verdict.UNCERTAIN,
    Verdict.BENDS,
    Verdict.HOLDS,
)
ENOUGH: Final = 5e-4
"""Costs below half a thousandth count as none (they round to 0)."""


def measure(
    finding: Finding,
    destination: Destination,
    crop: Crop,
    *,
    kind: str = "by hand",
    proposed_by: str = "photographer",
) -> Proposal:
    """Measure any crop by all rules. The crop's own orientation decides which way the frame lies.

    Raises ValueError when the finding has no principal subject: place the eyes first.
    """
    lying = lying_as(destination, crop.box.size)
    seen_by_crop = turned_about(finding, crop)
    scene = scene_of(seen_by_crop, lying)
    return judged(scene, crop, kind=kind, proposed_by=proposed_by)


def judged(
    scene: Scene, crop: Crop, *, kind: str, proposed_by: str, cost: Cost | None = None
) -> Proposal:
    """The proposal that a crop makes in a scene, with every measure and the reasons.

    ``cost`` when it is known already.
    """
    boxes = boxes_of(crop.box)
    look = Look(scene, boxes)
    measures = (*never_measures(scene, boxes, crop), *_graded_measures(scene, look))
    verdict = min((one.verdict for one in measures), key=WORST_FIRST.index)
    delivered = delivered_size(scene.destination, crop.box.size)
    shot = shot_of(float(look.depth))
    return Proposal(
        destination=scene.destination.name,
        crop=crop,
        kind=kind,
        shot=shot.value,
        orientation=_orientation(crop.box),
        measures=measures,
        cost=cost or cost_of(scene, crop.box),
        verdict=verdict,
        reasons=reasons_of(scene, measures, shot),
        delivered=delivered,
        enlargement=delivered.width / crop.box.width,
        effective_ppi=effective_ppi(scene.destination, crop.box.size),
        proposed_by=proposed_by,
    )


def shot_of(heads: float) -> Shot:
    """The shot whose band of depths is nearest."""

    def off(shot: Shot) -> float:
        band = DEPTHS[shot]
        return max(0.0, band.least - heads, heads - band.most)

    return min(Shot, key=off)


def _orientation(box: PixelBox) -> str:
    if box.width == box.height:
        return "square"
    return "upright" if box.height > box.width else "on its side"


def _graded_measures(scene: Scene, look: Look) -> list[Measure]:
    if scene.destination.full_frame:
        return []
    return [
        _framing(scene, look),
        _crown(scene, look),
        _eye_line(scene, look),
        _headroom(scene, look),
        _joints(scene, look),
        _across(scene, look),
        _kept(scene, look.boxes),
    ]


def _verdict(cost: float, *, within_limit: bool, uncertain: bool) -> Verdict:
    if uncertain:
        return Verdict.UNCERTAIN
    if not within_limit:
        return Verdict.BREAKS
    return Verdict.HOLDS if cost < ENOUGH else Verdict.BENDS


def _banded(value: float, limit: tuple[float, float], sigma: float, cost: float) -> Verdict:
    within = limit[0] <= value <= limit[1]
    near = any(math.isfinite(end) and abs(value - end) < sigma for end in limit)
    return _verdict(cost, within_limit=within, uncertain=near and cost >= ENOUGH)


def _framing(scene: Scene, look: Look) -> Measure:
    cost = float(graded.framing_cost(scene, look))
    share = scene.destination.head_share
    if share is not None:
        value = scene.mean_head / float(look.height)
        sigma = math.hypot(scene.tallest.skull_sigma, scene.tallest.chin_sigma) / float(look.height)
        limit = (share.limit_least, share.limit_most)
        target, unit = (share.least, share.most), "of the height, chin to skull top"
    else:
        value = float(look.depth)
        sigma = scene.tallest.skull_sigma / scene.mean_head
        least, most = graded.wanted_depth(scene, look)
        target, unit = (least, float(most)), "heads below the skull top"
        reach = house.FRAMING_SCALE_HEADS
        limit = (target[0] - reach, target[1] + reach)
    return gauged(
        scene,
        "framing",
        value=value,
        unit=unit,
        target=target,
        limit=limit,
        uncertainty=sigma,
        verdict=_banded(value, limit, sigma if share else 0.0, cost),
        excess=cost,
    )


def _crown(scene: Scene, look: Look) -> Measure:
    person = scene.tallest
    cost = float(graded.crown_cost(scene, look))
    to_clear, to_cut = graded.crown_state(look, scene.tallest_crown)
    gap = float(look.headroom * look.height)
    called = scene.cut_called(person) or cost < ENOUGH
    scale = house.CROWN_SCALE_HEADS * person.head
    settled = (min(float(to_clear), float(to_cut)) / scale) ** 2 < ENOUGH
    least = max(house.HEADROOM_LIMIT_LEAST * float(look.height), person.crown_sigma)
    unsure = 0 <= gap < person.crown_sigma and not settled
    return gauged(
        scene,
        "crown",
        value=gap / person.head,
        unit="heads above the hair (below 0: cut)",
        target=(float(graded.clear_gap(look, scene.tallest_crown)) / person.head, None),
        limit=None,
        uncertainty=person.crown_sigma / person.head,
        verdict=_verdict(
            0.0 if called and settled else 1.0,
            within_limit=settled or gap >= least,
            uncertain=unsure,
        ),
        excess=cost,
    )


def _eye_line(scene: Scene, look: Look) -> Measure:
    cost = float(graded.eye_line_cost(scene, look))
    value = float(look.eye_line)
    sigma = max(person.eye_sigma for person in scene.people) / float(look.height)
    if scene.group and scene.destination.eye_line is None:
        value = _farther_eyes(scene, look)
        target, limit = (house.GROUP_TOP_LEAST, house.GROUP_LOW_MOST), house.GROUP_LIMIT
        verdict = _banded(value, limit, sigma, cost)
    else:
        band = graded.eye_line_band(scene, float(look.depth))
        target, limit = (band.least, band.most), (band.limit_least, band.limit_most)
        verdict = _banded(value, limit, sigma, cost)
    return gauged(
        scene,
        "eye line",
        tier="eye_line",
        value=value,
        unit="of the height from the top",
        target=target,
        limit=limit,
        uncertainty=sigma,
        verdict=verdict,
        excess=cost,
    )


def _farther_eyes(scene: Scene, look: Look) -> float:
    """Of a group's highest and lowest eyes, those nearer to their limit (share from the top)."""
    ys = [person.eye_y for person in scene.people]
    top, low = ((y - float(look.frame.top)) / float(look.height) for y in (min(ys), max(ys)))
    return top if house.GROUP_TOP_LEAST - top > low - house.GROUP_LOW_MOST else low


def _headroom(scene: Scene, look: Look) -> Measure:
    cost = float(graded.headroom_cost(scene, look))
    value = float(look.headroom)
    person = scene.tallest
    sigma = person.crown_sigma / float(look.height)
    own = scene.destination.headroom
    target = graded.headroom_band(scene, float(look.depth))
    least = max(house.HEADROOM_LIMIT_LEAST, sigma)
    limit = (own.limit_least, own.limit_most) if own else (least, house.HEADROOM_LIMIT_MOST)
    if bool(graded.cut_costs_less(look, scene.tallest_crown)):
        verdict = Verdict.HOLDS if scene.cut_called(person) else Verdict.BENDS
    else:
        verdict = _banded(value, limit, sigma, cost)
    return gauged(
        scene,
        "headroom",
        value=value,
        unit="of the height",
        target=target,
        limit=limit,
        uncertainty=sigma,
        verdict=verdict,
        excess=cost,
    )


def _joints(scene: Scene, look: Look) -> Measure:
    cost = float(graded.joints_cost(scene, look))
    return gauged(
        scene,
        "joints",
        value=math.sqrt(cost),
        unit="into a joint or the neck (1: through it)",
        target=(None, 0.0),
        limit=(None, 1.0),
        uncertainty=0.0,
        verdict=_verdict(cost, within_limit=cost < 1.0, uncertain=False),
        excess=cost,
    )


def _across(scene: Scene, look: Look) -> Measure:
    cost = float(graded.across_cost(scene, look))
    value = float(look.eyes_across)
    least, most = graded.band_of_u(scene)
    if scene.destination.gutter is not None and not scene.group and value > 1 / 2:
        least, most = 1 - most, 1 - least
    sigma = max(person.eye_sigma for person in scene.people) / float(look.width)
    beside = float(graded.off_across(scene, look))
    whole = scene.group or not _face_cut(scene.people[0], look.frame)
    free = scene.destination.across is Across.FREE
    return gauged(
        scene,
        "across",
        value=value,
        unit="of the width from the left",
        target=(0.0, 1.0) if free else (least, most),
        limit=None,
        uncertainty=sigma,
        verdict=_verdict(cost, within_limit=whole and beside < 1.0, uncertain=False),
        excess=cost,
        sentence=_overhang(scene, look.frame, within=whole),
    )


def _overhang(scene: Scene, frame: Frame, *, within: bool) -> str:
    """What the sides cut of a single head, if anything; empty otherwise."""
    box = scene.people[0].box
    over = {
        "left": float(frame.left) - box.x0,
        "right": box.x1 - float(frame.right),
    }
    told = [f"{px:.0f} px at the {side}" for side, px in over.items() if px >= 1]
    if scene.group or not told:
        return ""
    what = "The hair reaches past the frame" if within else "The side cuts the face"
    return f"{what}, {' and '.join(told)}."


def _face_cut(person: Person, frame: Frame) -> bool:
    """Whether the frame cuts the face itself; hair alone may pass over the side."""
    half = house.FACE_HALF_WIDTH_HEADS * person.head
    x0, x1 = max(person.box.x0, person.eye_x - half), min(person.box.x1, person.eye_x + half)
    return x0 < float(frame.left) or x1 > float(frame.right)


def _kept(scene: Scene, boxes: Boxes) -> Measure:
    kept = float(boxes.w * boxes.h) / scene.greatest_area
    return gauged(
        scene,
        "kept",
        value=kept,
        unit="of the largest crop of this shape",
        target=(None, 1.0),
        limit=None,
        uncertainty=0.0,
        verdict=Verdict.HOLDS,
        excess=1 - kept,
    )
