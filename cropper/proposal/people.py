"""Principal persons in plain numbers, as arrays, so that a rule measures all of them at once.

Pixels of the upright master, y down. The first axis of every array is the person; three more of
length 1 leave room for sizes, places down and places across (see :mod:`look`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cropper.geometry import Extent, Size
from cropper.proposal import house
from cropper.subject.subject import LIMBS, SIDES, EyesState, Subject

Many = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Person:
    """A principal subject in plain numbers; one head = skull top to chin.

    ``box`` is the head with hair, its sides cut to the master's: what the master cut, no crop
    can keep.
    """

    left_x: float
    left_y: float
    right_x: float
    right_y: float
    chin_x: float
    chin_y: float
    skull_x: float
    skull_y: float
    hair_x: float
    hair_y: float
    hairline_y: float
    brows_y: float
    head: float
    box: Extent
    turn: float
    hair_sigma: float
    eye_sigma: float
    chin_sigma: float
    skull_sigma: float
    crown_whole: bool
    eyes_sure: bool = True
    tilt_deg: float = 0.0
    mouth_open: float = 0.0

    @property
    def eye_x(self) -> float:
        """Across, the midpoint of the pupils."""
        return (self.left_x + self.right_x) / 2

    @property
    def eye_y(self) -> float:
        """Down, the midpoint of the pupils."""
        return (self.left_y + self.right_y) / 2

    @property
    def lips(self) -> tuple[float, float]:
        """The lower lip, from the chin along the head's axis."""
        share = house.LIPS_HEADS
        return (
            self.chin_x + share * (self.skull_x - self.chin_x),
            self.chin_y + share * (self.skull_y - self.chin_y),
        )


def person_of(subject: Subject, master: Size) -> Person:
    """A subject in plain numbers."""
    box = subject.head_box
    x0, x1 = max(0.0, box.x0), min(float(master.width), box.x1)
    return Person(
        left_x=subject.left_eye.x,
        left_y=subject.left_eye.y,
        right_x=subject.right_eye.x,
        right_y=subject.right_eye.y,
        chin_x=subject.chin.at.x,
        chin_y=subject.chin.at.y,
        skull_x=subject.skull_top.at.x,
        skull_y=subject.skull_top.at.y,
        hair_x=subject.hair_top.at.x,
        hair_y=subject.hair_top.at.y,
        hairline_y=subject.hairline.at.y,
        brows_y=subject.brows.at.y,
        head=subject.head_height_px,
        box=Extent(x0, box.y0, x1, box.y1) if x0 < x1 else box,
        turn=subject.turn,
        hair_sigma=subject.hair_top.sigma_px,
        eye_sigma=subject.eye_sigma_px,
        chin_sigma=subject.chin.sigma_px,
        skull_sigma=subject.skull_top.sigma_px,
        crown_whole=subject.crown_in_frame and subject.hair_top.at.y >= 0,
        eyes_sure=subject.eyes_state is EyesState.OPEN and not subject.eyes_in_doubt,
        tilt_deg=subject.tilt_deg,
        mouth_open=subject.mouth_open or 0.0,
    )


class Heads(NamedTuple):
    """All principal persons as arrays of shape (people, 1, 1, 1), px of the master."""

    eye_x: Many
    eye_y: Many
    eyes_left: Many
    eyes_right: Many
    eyes_top: Many
    eyes_low: Many
    chin_x: Many
    chin_y: Many
    lips_x: Many
    lips_y: Many
    hair_x: Many
    hair_y: Many
    hairline_y: Many
    brows_y: Many
    head: Many
    box_left: Many
    box_right: Many
    whole: NDArray[np.bool_]


def heads_of(people: Sequence[Person]) -> Heads:
    """The persons stacked, in order."""
    rows = [
        (
            one.eye_x,
            one.eye_y,
            min(one.left_x, one.right_x),
            max(one.left_x, one.right_x),
            min(one.left_y, one.right_y),
            max(one.left_y, one.right_y),
            one.chin_x,
            one.chin_y,
            *one.lips,
            one.hair_x,
            one.hair_y,
            one.hairline_y,
            one.brows_y,
            one.head,
            one.box.x0,
            one.box.x1,
        )
        for one in people
    ]
    columns = np.array(rows, dtype=np.float64).T[:, :, None, None, None]
    whole = np.array([one.crown_whole for one in people])[:, None, None, None]
    return Heads._make((*columns, whole))


class Limb(NamedTuple):
    """A visible limb: two ends, px; ``joints`` says which of them must not lie near an edge."""

    x0: float
    y0: float
    x1: float
    y1: float
    joints: tuple[bool, bool]
    head: float


class LimbEnds(NamedTuple):
    """Limbs as arrays of shape (limbs, 1, 1, 1), px; ``*_far`` is 0 at a joint to keep from."""

    x0: Many
    y0: Many
    x1: Many
    y1: Many
    first_far: Many
    last_far: Many
    length: Many
    head: Many


NOWHERE = 1e9
"""Far from every edge: an end that is no joint."""
LEVEL = 1e-6
"""Ends of a limb never lie at quite the same height, so that a crossing can be told."""


def limb_ends(limbs: Sequence[Limb]) -> LimbEnds:
    """The limbs stacked, in order."""
    rows = [
        (
            one.x0,
            one.y0,
            one.x1 + (LEVEL if one.x1 == one.x0 else 0.0),
            one.y1 + (LEVEL if one.y1 == one.y0 else 0.0),
            0.0 if one.joints[0] else NOWHERE,
            0.0 if one.joints[1] else NOWHERE,
            math.hypot(one.x1 - one.x0, one.y1 - one.y0),
            one.head,
        )
        for one in limbs
        if any(one.joints)
    ]
    return LimbEnds._make(np.array(rows, dtype=np.float64).T[:, :, None, None, None])


def limbs_of(subject: Subject) -> list[Limb]:
    """The limbs of a subject whose both joints are visible; shoulder and hip count as no joint."""
    by_name = {
        joint.name: joint.at
        for joint in subject.joints
        if joint.visibility >= house.JOINT_VISIBILITY
    }
    limbs = []
    for side in SIDES:
        for first, second in LIMBS:
            start, end = by_name.get(f"{side}_{first}"), by_name.get(f"{side}_{second}")
            if start is None or end is None:
                continue
            marked = first not in {"shoulder", "hip"}, second not in {"shoulder", "hip"}
            limbs.append(Limb(start.x, start.y, end.x, end.y, marked, subject.head_height_px))
    return limbs
