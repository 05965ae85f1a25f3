"""Identity pictures: eyes open and found, head straight, mouth closed."""

from __future__ import annotations

import numpy as np

from cropper.proposal.look import Look
from cropper.proposal.people import Many, Person
from cropper.proposal.rules.rule import Axis, Rule
from cropper.proposal.scene import Scene

TILT_MOST_DEG = 5.0
TURN_MOST = 0.15
MOUTH_MOST = 0.5
"""House, inside what authorities publish in words: "straight", "mouth closed" [id_us, id_de]."""
MISSED_BY = 0.5


def faults(person: Person) -> list[str]:
    """What an authority would send back, in words."""
    said = []
    if not person.eyes_sure:
        said.append("The eyes are not clearly open.")
    if abs(person.tilt_deg) > TILT_MOST_DEG:
        said.append(f"The head is tilted by {abs(person.tilt_deg):.0f} degrees.")
    if abs(person.turn) > TURN_MOST:
        said.append("The head is turned to the side.")
    if person.mouth_open > MOUTH_MOST:
        said.append("The mouth is open.")
    return said


def _excess(look: Look) -> Many:
    missed = any(faults(one) for one in look.scene.people)
    return np.full((1, 1, 1), MISSED_BY if missed else 0.0)


def _words(look: Look, value: float) -> str:
    del value
    said = [fault for one in look.scene.people for fault in faults(one)]
    return said[0] if said else "Eyes open, head straight, mouth closed."


def _identity(scene: Scene) -> bool:
    one = scene.destination
    return one.head_share is not None and bool(scene.people) and not one.full_frame


RULES = (
    Rule(
        name="identity pose",
        title="Eyes open, head straight",
        source="[id_us], [id_de]; figures are house values",
        axis=Axis.SIZE,
        hard=True,
        applies=_identity,
        excess=_excess,
        value=lambda look: float(len([f for one in look.scene.people for f in faults(one)])),
        unit="faults",
        words=_words,
    ),
)
