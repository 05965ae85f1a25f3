"""Covered zones: never over the eyes; over the face or head, the less the better."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look, overlap
from cropper.proposal.people import Many
from cropper.proposal.rules.rule import Axis, Rule, first, over, percent, worst_person
from cropper.proposal.scene import Scene, Zone

SHARE_SCALE = 0.25
"""Fitted: a quarter of the face under a zone costs one weight [composition, covered zone]."""


def _shared(  # noqa: PLR0917 - a box is four numbers
    look: Look, zone: Zone, x0: Many, y0: Many, x1: Many, y1: Many
) -> tuple[Many, Many]:
    """What a zone and a box share across and down, px; a band over the whole width takes all."""
    left, top, right, bottom = look.zone(zone)
    down = overlap(top, bottom, y0, y1)
    if zone.x0 <= 0 and zone.x1 >= 1:
        return x1 - x0, down
    return overlap(left, right, x0, x1), down


def _over_eyes(look: Look) -> Many:
    worst: Many = np.zeros(1)
    for zone in look.scene.zones:
        x0, y0, x1, y1 = zone.eyes
        across, down = _shared(look, zone, x0, y0, x1, y1)
        worst = np.maximum(worst, worst_person(np.minimum(across, down) / look.scene.heads.head))
    return over(worst)


def _share(look: Look) -> Many:
    """The greatest share of a person's kept box that zones lie over, all zones together."""
    total: Many = np.zeros((len(look.scene.people), 1, 1, 1))
    for zone in look.scene.zones:
        if zone.kept is None:
            continue
        x0, y0, x1, y1 = zone.kept
        across, down = _shared(look, zone, x0, y0, x1, y1)
        total = total + across * down / ((x1 - x0) * (y1 - y0))
    return worst_person(total)


def _zoned(scene: Scene) -> bool:
    return bool(scene.zones)


def _graded(scene: Scene) -> bool:
    return any(zone.kept is not None for zone in scene.zones)


def _eyes_words(look: Look, value: float) -> str:
    del look
    return "A covered zone lies over the eyes." if value > 0 else "No zone lies over the eyes."


def _share_words(look: Look, value: float) -> str:
    del look
    if value <= 0:
        return "The face is clear of the covered zones."
    return f"Covered zones lie over {percent(value)} of the face."


RULES = (
    Rule(
        name="zones over eyes",
        title="Eyes clear of covered zones",
        source="[story_ui]; the destination's own zones",
        axis=Axis.BOTH,
        hard=True,
        applies=_zoned,
        excess=_over_eyes,
        value=lambda look: first(_over_eyes(look)),
        unit="heads covered",
        words=_eyes_words,
        sigma=lambda scene: max(one.eye_sigma / one.head for one in scene.people),
    ),
    Rule(
        name="covered face",
        title="Face clear of covered zones",
        source="[story_ui]; weight fitted on [editors]",
        axis=Axis.BOTH,
        weight=0.15,
        applies=_graded,
        excess=lambda look: _share(look) / SHARE_SCALE,
        value=lambda look: first(_share(look)),
        unit="of the face",
        words=_share_words,
    ),
)
