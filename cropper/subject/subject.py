"""A person in a master, as far as a crop needs to know: eyes, chin, crown, turn, joints.

Every point is in pixels of the upright master, y down (see :mod:`cropper.geometry`), and carries
one standard deviation of its error. Faces are personal data: nothing here says who a person is.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from cropper.geometry import Extent, Point, Size

FACING_BELOW: Final = 0.25
"""|turn| below this is facing (nose to cheeks: face mesh points 1, 234, 454)."""
TURNED_ABOVE: Final = 0.5
"""|turn| above this is turned; between the two the rules move linearly."""


class Origin(StrEnum):
    """Where a point came from."""

    FOUND = "found"
    ESTIMATED = "estimated"
    HAND = "hand"
    NONE = "none"
    """Of eyes alone: no face can be seen, and the pupils are placed by proportion in the head."""


class EyesState(StrEnum):
    """What the lids or something in front of them do.

    ``half``: nearly shut. ``covered``: something lies over the eye. ``hidden``: the eye is on the
    far side of the head, or the head shows no face.
    """

    OPEN = "open"
    HALF = "half"
    CLOSED = "closed"
    COVERED = "covered"
    HIDDEN = "hidden"


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeDetail:
    """What is known of one eye beside its place.

    ``score``: how sure the state is, 0..1. ``openness``: lid distance over eye width, about .25-.35
    open; None where the eye cannot be seen. ``sigma_px``: one standard deviation of the pupil, in
    master pixels. ``blur_px``: width of the eye's edges in master pixels, one standard deviation;
    None where it cannot be measured.
    """

    state: EyesState
    score: float
    sigma_px: float
    openness: float | None = None
    blur_px: float | None = None


class Turn(StrEnum):
    """The side of the picture that a face looks to."""

    FACING = "facing"
    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Landmark:
    """A point of the head with one standard deviation of its error in pixels, and its origin."""

    at: Point
    sigma_px: float
    origin: Origin = Origin.FOUND


@dataclass(frozen=True, slots=True)
class Joint:
    """A body joint: name as in :data:`JOINTS`, and how visible it is, 0..1."""

    name: str
    at: Point
    visibility: float


SIDES: Final = ("left", "right")
JOINTS: Final = ("shoulder", "elbow", "wrist", "fingers", "hip", "knee", "ankle")
"""Joint names; each with a side of the PERSON: ``left_elbow`` ..."""
LIMBS: Final = (
    ("shoulder", "elbow"),
    ("elbow", "wrist"),
    ("wrist", "fingers"),
    ("hip", "knee"),
    ("knee", "ankle"),
)
"""Pairs of joints that a limb joins, on each side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """One person. ``left_eye`` is the pupil with the smaller x (ties: smaller y).

    ``turn`` is signed, about -1..1: negative looks to the picture's left, positive to its right;
    below .25 in size counts as facing. ``head_box`` holds the head with hair, chin included,
    and may reach past the master. ``doubt`` says why the eyes are estimated, in words. ``pitch`` is
    a hint in degrees, positive looks up.

    ``eyes_from`` tells how the eyes are known: found, placed by hand, only estimated, or ``none``:
    a head without a face (seen from behind, bowed, under a brim), whose pupils stand by proportion
    in ``head_box`` with a large sigma. ``turn_deg`` is -90..90 (profiles), positive to the
    picture's right; None when nobody measured it. ``left_detail`` and ``right_detail`` belong to
    ``left_eye`` and ``right_eye``; in a profile they differ: one eye seen, one hidden. ``gaze`` is
    the side of the picture that the irises turn to beside the face, -1..1; ``mouth_open`` 0..1.
    """

    left_eye: Point
    right_eye: Point
    eye_sigma_px: float
    chin: Landmark
    skull_top: Landmark
    hair_top: Landmark
    hairline: Landmark
    brows: Landmark
    crown_in_frame: bool
    head_box: Extent
    turn: float = 0.0
    pitch: float = 0.0
    eyes_from: Origin = Origin.FOUND
    eyes_state: EyesState = EyesState.OPEN
    openness: float | None = None
    score: float = 1.0
    sharpness: float = 0.0
    principal: bool = True
    why: str = ""
    joints: tuple[Joint, ...] = ()
    doubt: str = ""
    turn_deg: float | None = None
    left_detail: EyeDetail | None = None
    right_detail: EyeDetail | None = None
    gaze: float | None = None
    mouth_open: float | None = None

    def __post_init__(self) -> None:
        if (self.left_eye.x, self.left_eye.y) > (self.right_eye.x, self.right_eye.y):
            message = "the left eye is the one with the smaller x"
            raise ValueError(message)
        if self.head_height_px <= 0:
            message = "chin and skull top coincide"
            raise ValueError(message)

    @property
    def eyes(self) -> Point:
        """Midpoint of the pupils."""
        return self.left_eye.midway(self.right_eye)

    @property
    def eyes_in_doubt(self) -> bool:
        """Whether the eyes must be looked at: only estimated, or placed by proportion."""
        return self.eyes_from in {Origin.ESTIMATED, Origin.NONE}

    @property
    def tilt_deg(self) -> float:
        """Slope of the eye line, clockwise positive (the right-hand eye lower)."""
        return math.degrees(
            math.atan2(self.right_eye.y - self.left_eye.y, self.right_eye.x - self.left_eye.x)
        )

    @property
    def between_eyes_px(self) -> float:
        """Distance between the pupils."""
        return self.left_eye.to(self.right_eye)

    @property
    def head_height_px(self) -> float:
        """Skull top to chin along the head's own axis, without hair: the unit 'one head'."""
        return self.chin.at.to(self.skull_top.at)

    @property
    def turned(self) -> Turn:
        """Facing, or the side of the picture looked to."""
        if abs(self.turn) < FACING_BELOW:
            return Turn.FACING
        return Turn.RIGHT if self.turn > 0 else Turn.LEFT

    def carried(
        self, place: Callable[[Point], Point], *, head_box: Extent, sigma_scale: float = 1.0
    ) -> Subject:
        """The same person where every point lies at ``place`` of it; sigmas times ``sigma_scale``.

        The head box is given: whoever turns, scales or shifts knows what becomes of it.
        """

        def mark(one: Landmark) -> Landmark:
            return replace(one, at=place(one.at), sigma_px=one.sigma_px * sigma_scale)

        def scaled(one: EyeDetail | None) -> EyeDetail | None:
            return (
                None
                if one is None
                else replace(
                    one,
                    sigma_px=one.sigma_px * sigma_scale,
                    blur_px=None if one.blur_px is None else one.blur_px * sigma_scale,
                )
            )

        eyes = (
            (place(self.left_eye), scaled(self.left_detail)),
            (place(self.right_eye), scaled(self.right_detail)),
        )
        left, right = sorted(eyes, key=lambda eye: (eye[0].x, eye[0].y))
        return replace(
            self,
            left_eye=left[0],
            right_eye=right[0],
            left_detail=left[1],
            right_detail=right[1],
            eye_sigma_px=self.eye_sigma_px * sigma_scale,
            chin=mark(self.chin),
            skull_top=mark(self.skull_top),
            hair_top=mark(self.hair_top),
            hairline=mark(self.hairline),
            brows=mark(self.brows),
            head_box=head_box,
            joints=tuple(replace(joint, at=place(joint.at)) for joint in self.joints),
        )

    def as_principal(self, *, principal: bool, why: str) -> Subject:
        """The same person, named principal or bystander, with the reason."""
        return replace(self, principal=principal, why=why)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a finder answers for one master: people, or a plain sentence why there are none.

    ``bodies`` are boxes of persons, in pixels of the master, whose heads were not found.
    """

    size: Size
    subjects: tuple[Subject, ...] = ()
    problem: str | None = None
    finder: str = ""
    bodies: tuple[Extent, ...] = ()

    @property
    def principals(self) -> tuple[Subject, ...]:
        """Those the picture is about."""
        return tuple(subject for subject in self.subjects if subject.principal)

    @property
    def bystanders(self) -> tuple[Subject, ...]:
        """Everybody else."""
        return tuple(subject for subject in self.subjects if not subject.principal)
