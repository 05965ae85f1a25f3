"""A head that the detectors saw strongly and no mesh would fit: a profile, a face half hidden.

Left out, it would be cut through in silence. So it is told as a person whose eyes are estimated.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Final

from cropper.geometry import Extent, Point, Size
from cropper.subject import proportions
from cropper.subject.by_hand import by_hand
from cropper.subject.detecting import Sighting
from cropper.subject.subject import EyesState, Origin, Subject

STRONG_SIGHTING: Final = 0.85
"""A detector's score that is worth telling of without a mesh: two profiles reached it, and nothing
else on a hundred photographs, drawings and textures (the nearest, a clock on its side, .82)."""
STEEPEST_DEG: Final = 45.0
"""Beyond this tilt the detectors see faces in textures (house)."""
SIDE: Final = 1.4
"""Side of a detector's square in eyes-to-chin, on twenty-four photographed faces (1.16-1.57, and
one of 2.37)."""
EYES_ABOVE: Final = 0.29
"""How far the eyes lie above its middle, in eyes-to-chin (.18-.38 on the same)."""
EYE_SIGMA: Final = 0.35
"""One standard deviation of such eyes in distances between them: in a profile both lie near one
place, up to .3 eyes-to-chin off the middle (the same faces)."""
SPREAD: Final = 1.5
"""How much less sure its head is than one built on eyes placed by hand: the square's scatter of a
tenth beside .075 (house)."""
DEPTH: Final = 0.65
"""Half the length of a head seen from its side, in sides of the square: .9 head from the nose to
the back of the head (house)."""
NEAR: Final = 0.5
"""A sighting this near to somebody found, in heads, is that person (house)."""
DOUBT: Final = "a head was seen, but its eyes could not be made out"


def _told(seen: Sighting, size: Size, sharpness: float) -> Subject | None:
    """The person at a sighting; None when the eyes would lie outside the picture."""
    reach = seen.side / SIDE
    turn = math.radians(seen.angle_deg)
    across, up = (math.cos(turn), math.sin(turn)), (math.sin(turn), -math.cos(turn))
    eyes = Point(
        seen.x + up[0] * EYES_ABOVE * reach,
        seen.y + up[1] * EYES_ABOVE * reach,
    )
    half = proportions.BETWEEN_EYES / proportions.CHIN_BELOW_EYES * reach / 2
    left = Point(eyes.x - across[0] * half, eyes.y - across[1] * half)
    right = Point(eyes.x + across[0] * half, eyes.y + across[1] * half)
    try:
        built = by_hand(size, left, right)
    except ValueError:
        return None
    box, spare = built.head_box, DEPTH * seen.side
    head_box = Extent(min(box.x0, seen.x - spare), box.y0, max(box.x1, seen.x + spare), box.y1)
    unsure = built.carried(lambda point: point, head_box=head_box, sigma_scale=SPREAD)
    return replace(
        unsure,
        eye_sigma_px=EYE_SIGMA * 2 * half,
        eyes_from=Origin.ESTIMATED,
        eyes_state=EyesState.COVERED,
        score=round(seen.score / 2, 3),
        sharpness=sharpness,
        why="",
        doubt=DOUBT,
    )


def glimpsed(
    seen: Iterable[Sighting],
    found: Sequence[Subject],
    size: Size,
    sharpness: Callable[[Sighting], float],
) -> list[Subject]:
    """A person for each strong sighting where nobody was ``found``, with estimated eyes.

    ``sharpness`` measures the picture at a sighting as it does at a face.
    """
    people: list[Subject] = []
    for sighting in seen:
        if sighting.score < STRONG_SIGHTING or abs(sighting.angle_deg) > STEEPEST_DEG:
            continue
        person = _told(sighting, size, sharpness(sighting))
        if person is not None and not any(same_person(person, one) for one in (*found, *people)):
            people.append(person)
    return people


def same_person(one: Subject, other: Subject) -> bool:
    """Whether two findings are of one head."""
    return one.eyes.to(other.eyes) < NEAR * max(one.head_height_px, other.head_height_px)
