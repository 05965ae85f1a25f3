"""Every rule measured on one crop: value, verdict, what it costs, and a sentence.

The same engine measures the planner's crops, the photographer's, and crops made elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from cropper.destination.destination import Destination
from cropper.destination.shots import DEPTHS, Shot
from cropper.geometry import Crop, PixelBox, Point
from cropper.proposal import house
from cropper.proposal.composing import Search
from cropper.proposal.delivering import delivered_size, effective_ppi, lying_as
from cropper.proposal.eyes_delivered import eyes_at
from cropper.proposal.look import Look
from cropper.proposal.proposal import Measure, Proposal, Verdict, worst
from cropper.proposal.reasons import reasons_of
from cropper.proposal.rules import Rule
from cropper.proposal.rules.face_kept import too_low
from cropper.proposal.rules.rule import TOUCH, first
from cropper.proposal.scene import Scene, scene_of
from cropper.proposal.turning import turned_about
from cropper.subject.subject import Finding, Subject


def measure(
    finding: Finding,
    destination: Destination,
    crop: Crop,
    *,
    kind: str = "by hand",
    proposed_by: str = "photographer",
) -> Proposal:
    """Measure any crop by all rules, with or without known eyes.

    The crop's own orientation decides which way the frame lies. Principal persons whose eyes all
    lie outside it count as left out, as long as somebody is left.
    """
    lying = lying_as(destination, crop.box.size)
    seen_by_crop = turned_about(finding, crop)
    left_out = frozenset() if lying.full_frame else people_outside(seen_by_crop, crop.box)
    scene = scene_of(seen_by_crop, lying, left_out)
    return judged(scene, crop, kind=kind, proposed_by=proposed_by, finding=finding)


def people_outside(finding: Finding, box: PixelBox) -> frozenset[int]:
    """Places of principals whose eyes lie outside a box; nobody if that would be everybody."""
    away = {at for at, one in enumerate(finding.principals) if not _holds(box, one.eyes)}
    return frozenset() if len(away) == len(finding.principals) else frozenset(away)


def people_inside(finding: Finding, box: PixelBox) -> tuple[Subject, ...]:
    """Principals whose eyes, taken at their midpoint, lie in the box."""
    return tuple(one for one in finding.principals if _holds(box, one.eyes))


def _holds(box: PixelBox, at: Point) -> bool:
    return box.x0 < at.x < box.x1 and box.y0 < at.y < box.y1


def judged(scene: Scene, crop: Crop, *, kind: str, proposed_by: str, finding: Finding) -> Proposal:
    """The proposal that a crop makes in a scene, with every measure and the reasons."""
    look, told = measures_of(scene, crop.box)
    measures = (*_past_the_master(scene, crop), *told)
    left_out = len(finding.principals) - len(scene.people)
    doubts = () if scene.destination.full_frame else tuple(_doubts(finding, scene, look, left_out))
    verdict = worst(*(one.verdict for one in measures), *(Verdict.UNCERTAIN for _ in doubts))
    delivered = delivered_size(scene.destination, crop.box.size)
    enlargement = delivered.width / crop.box.width
    shot = shot_of(first(look.depth)) if scene.people else None
    return Proposal(
        destination=scene.destination.name,
        crop=crop,
        kind=kind,
        shot=shot.value if shot else "nobody found",
        orientation=_orientation(crop.box),
        measures=measures,
        cost=math.fsum(one.cost for one in measures) + house.LEFT_OUT_COST * left_out,
        verdict=verdict,
        reasons=(
            *reasons_of(scene, look, measures, doubts, shot),
            *eyes_at(people_inside(turned_about(finding, crop), crop.box), enlargement),
        ),
        delivered=delivered,
        enlargement=enlargement,
        effective_ppi=effective_ppi(scene.destination, crop.box.size),
        proposed_by=proposed_by,
        leaves_out=left_out,
    )


def measures_of(scene: Scene, box: PixelBox) -> tuple[Look, tuple[Measure, ...]]:
    """A look at a box, and every rule that speaks measured there, hard ones first."""
    search = Search(scene)
    look, excesses = search.excesses(box)
    pairs = zip(search.rules, excesses, strict=True)
    return look, tuple(_measured(rule, look, first(excess)) for rule, excess in pairs)


def _measured(rule: Rule, look: Look, excess: float) -> Measure:
    scene = look.scene
    cost = first(rule.cost(np.array([excess])))
    value = rule.value(look)
    sigma = rule.sigma(scene)
    return Measure(
        rule=rule.name,
        title=rule.title,
        value=value,
        unit=rule.unit,
        target=rule.target(scene) if rule.target else None,
        limit=rule.limit(scene) if rule.limit else None,
        uncertainty=sigma,
        verdict=_verdict(rule, excess, cost, sigma),
        excess=excess,
        weight=rule.weight,
        cost=cost,
        source=rule.source,
        sentence=rule.words(look, value),
    )


def _verdict(rule: Rule, excess: float, cost: float, sigma: float) -> Verdict:
    if rule.hard:
        if excess <= TOUCH:
            return Verdict.HOLDS
        return Verdict.BREAKS if excess > sigma else Verdict.UNCERTAIN
    if excess > rule.problem_at + TOUCH:
        return Verdict.BREAKS
    seen = rule.told and cost >= house.EYE_SEES
    return Verdict.BENDS if seen else Verdict.HOLDS


def _past_the_master(scene: Scene, crop: Crop) -> tuple[Measure, ...]:
    """A crop that reaches past the master is a problem unless something fills it."""
    if _inside(scene, crop):
        return ()
    return (
        Measure(
            rule="inside",
            title="Inside the master",
            value=None,
            unit="",
            verdict=Verdict.BREAKS,
            excess=1.0,
            weight=0.0,
            source="arithmetic",
            sentence="The crop reaches past the master.",
        ),
    )


def _inside(scene: Scene, crop: Crop) -> bool:
    """Whether the box, turned as it is straightened, lies wholly in the master."""
    if not crop.straighten_deg:
        return crop.box.inside(scene.size)
    angle = math.radians(abs(crop.straighten_deg))
    wide, high = crop.box.width, crop.box.height
    across = (wide * math.cos(angle) + high * math.sin(angle)) / 2
    down = (wide * math.sin(angle) + high * math.cos(angle)) / 2
    middle, size = crop.box.centre, scene.size
    return (
        across - ROUNDING_PX <= middle.x <= size.width - across + ROUNDING_PX
        and down - ROUNDING_PX <= middle.y <= size.height - down + ROUNDING_PX
    )


CHIN_CUT_HEADS = 0.02
"""House: a chin cut by more than this is seen; editors seldom do it [editors]."""
ROUNDING_PX = 1.0
"""A turned corner so little past the edge is only rounding."""


def _doubts(finding: Finding, scene: Scene, look: Look, left_out: int) -> Iterable[str]:
    """What a photographer must look at before this crop can be called good."""
    if not finding.principals:
        yield finding.problem or "Nobody was found in this picture."
        return
    if left_out:
        yield f"Leaves out {_count(left_out)}."
    if too_low(scene):
        yield "The shape is too low for the whole face."
    elif scene.people and first(look.chin_room.min(axis=0)) < -CHIN_CUT_HEADS:
        yield "The chin is cut."
    if any(one.eyes_in_doubt for one in finding.principals):
        yield _unsure(finding.principals)
    if finding.bodies and not scene.destination.full_frame:
        yield "Somebody's head was not found: look whether it is cut."


def _unsure(people: Iterable[Subject]) -> str:
    doubt = next((one.doubt for one in people if one.eyes_in_doubt and one.doubt), "")
    return f"The eyes are only estimated{': ' + doubt if doubt else ''}."


def _count(number: int) -> str:
    """People in words.

    >>> _count(1), _count(2)
    ('one person', 'two people')
    """
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    said = words[number] if number < len(words) else str(number)
    return f"{said} {'person' if number == 1 else 'people'}"


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
