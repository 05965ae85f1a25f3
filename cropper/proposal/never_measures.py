"""The never-rules as measures: how many px each has to spare, and how sure that is."""

from __future__ import annotations

import math

from cropper.geometry import Crop, Size
from cropper.proposal import never
from cropper.proposal.frames import Boxes
from cropper.proposal.gauging import gauged
from cropper.proposal.proposal import Measure, Verdict
from cropper.proposal.scene import Scene


def never_measures(scene: Scene, boxes: Boxes, crop: Crop) -> list[Measure]:
    """Every never-rule that says anything about this scene, measured on one crop."""
    measures = []
    for name, rule in never.rules_for(scene).items():
        slack = float(rule(scene, boxes))
        if name == "inside" and crop.straighten_deg:
            slack = min(slack, _corners_inside(scene.size, crop))
        if math.isinf(slack):
            continue
        sigma = _never_sigma(scene, name)
        verdict = Verdict.HOLDS if slack >= 0 else Verdict.BREAKS
        if sigma and abs(slack) < sigma:
            verdict = Verdict.UNCERTAIN
        measures.append(
            gauged(
                scene,
                name,
                tier="never",
                value=slack,
                unit="px to spare",
                target=(0.0, None),
                limit=(0.0, None),
                uncertainty=sigma,
                verdict=verdict,
                excess=max(0.0, -slack),
            )
        )
    return measures


def _corners_inside(size: Size, crop: Crop) -> float:
    """Px by which the turned crop's nearest corner lies inside the master."""
    angle = math.radians(crop.straighten_deg)
    middle, half_w, half_h = crop.box.centre, crop.box.width / 2, crop.box.height / 2
    slack = math.inf
    for across in (-half_w, half_w):
        for down in (-half_h, half_h):
            x = middle.x + across * math.cos(angle) - down * math.sin(angle)
            y = middle.y + across * math.sin(angle) + down * math.cos(angle)
            slack = min(slack, x, y, size.width - x, size.height - y)
    return slack


def _never_sigma(scene: Scene, name: str) -> float:
    people = scene.people
    if name == "eyes":
        return max(person.eye_sigma for person in people)
    if name == "one head":
        return math.hypot(scene.tallest.skull_sigma, scene.tallest.chin_sigma)
    if name == "chin":
        return max(person.chin_sigma for person in people)
    if name == "zones":
        return max(max(person.eye_sigma, person.chin_sigma) for person in people)
    return 0.0
