"""The head about a face: chin, skull top, hair top, hairline, brows, and the box of it all.

The hair is read from the person mask, the skull from proportions held against the hair. Heights
are measured along the head's own axis in units of eyes-to-chin; ``hair_top`` alone is the topmost
point *in the picture*, because headroom is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from cropper.geometry import Extent, Point, Size
from cropper.subject import proportions
from cropper.subject.engine import Engine
from cropper.subject.engine_points import Points
from cropper.subject.meshing import CHIN, Face
from cropper.subject.pyramid import Piece, Pyramid
from cropper.subject.subject import TURNED_ABOVE, Landmark, Origin
from cropper.subject.turn import in_profile, pitch_of, turn_of

_FOREHEAD, _BROWS, _EARS = 10, (105, 334), (234, 454)
MASK_HEADS: Final = (2.4, 3.6)
"""Side of the piece the mask is made on, in heads; the second when the hair reaches its top.
1.8 and 2.4 heads measured best (hair top .011 / .037 of head on the demo), 4.5 worst."""
PERSON: Final = 0.4
"""Mask above this is person: at .5 wispy hair came out .035 head low, at .25 dense hair high."""
LOWEST_HAIR: Final = 1.7
"""A mask that ends lower than this has lost the hair, in heights of the mesh's forehead above the
eyes: an open mouth takes the chin away, and no share of eyes-to-chin would hold. Short and thin
hair on twenty photographs 1.9 and more when the face is level."""
_LOOKING_UP: Final = 0.015
"""How much less for each degree of looking up, which hides the crown: 1.7 seen at 13 degrees."""
ORDINARY_HAIR: Final = 1.4
"""Higher than this is followed only where the mask is wide there: a bun, a hat, a hood."""
WIDE_AT: Final = 1.28
WIDE_HAIR: Final = 0.45
"""How wide and where, in eyes-to-chin: above ordinary hair, and wider than a raised arm (house)."""
HALF_WIDTH: Final = 1.3
"""Nothing further from the axis belongs to this head, in eyes-to-chin; wide hair on the demo
reaches .95."""
_LOWEST: Final = -0.35
"""Head and hair are read down to the nose (eyes-to-chin): further down, shoulders, collars and
long hair that lies on them would widen the head (measured at -.7: sides .2 of head too wide)."""
_NEAR_EDGE: Final = 0.02
"""Mask that comes this close to the frame's top (eyes-to-chin) touches it."""
_CREST: Final = 0.08
"""The hair top stands across the middle of the hair that reaches this near to its height
(eyes-to-chin): on a flat head the very highest point lies anywhere."""
_HEMMED: Final = 0.3
"""Of the hair's topmost edge: more against another's body than this, and it is no edge (house)."""
_FLYAWAY: Final = 0.03
"""A patch of this side (eyes-to-chin) above the hair top is flyaway."""
HAIR_OVER_SKULL: Final = 0.16
"""Ordinary hair above the skull, in eyes-to-chin, where the hair top is below ``TALL_HAIR``."""
TALL_HAIR: Final = 1.25
HAIR_WEIGHT: Final = 0.6
"""How much the hair says of the skull beside the proportions (inverse variances .09, .07)."""


LEVEL_DEG: Final = 10.0
"""A head that looks up or down less than this is level (the demo's: -11 to 5)."""
BOWED: Final = 0.015
"""What a degree of looking down beyond that adds between eyes and skull, in eyes-to-chin: .12 at
18 degrees, .26 at 27, as hair tops less ordinary hair show on twelve photographed faces."""
NODDING_SIGMA: Final = 0.01
"""What such a degree adds to the skull's sigma: at 26-28 degrees they lay .25 apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The parts of a subject that come from the shape of the head."""

    chin: Landmark
    skull_top: Landmark
    hair_top: Landmark
    hairline: Landmark
    brows: Landmark
    crown_in_frame: bool
    head_box: Extent


@dataclass(frozen=True, slots=True)
class _Axes:
    """The head's own axes: eyes' middle, unit vectors up and across, eyes-to-chin, master px."""

    eyes: Points
    up: Points
    across: Points
    reach: float

    def at(self, height: float) -> Points:
        """The point of the axis ``height`` eyes-to-chin above the eyes."""
        place: Points = self.eyes + self.up * (height * self.reach)
        return place

    def heights(self, points: Points) -> NDArray[np.float64]:
        """How far up the axis points lie, in eyes-to-chin."""
        risen: NDArray[np.float64] = (points - self.eyes) @ self.up / self.reach
        return risen


def axes_of(face: Face) -> _Axes:
    """The axes of a face.

    Up is half way between square to the eye line and chin to eyes: either errs on a turned or an
    uneven face, in opposite directions.
    """
    eyes = face.pupils.mean(axis=0)
    chin = face.points[CHIN, :2]
    square = proportions.up_from(face.pupils[0], face.pupils[1])
    rising = (eyes - chin) / max(1e-6, float(np.linalg.norm(eyes - chin)))
    if in_profile(face):
        # Both eyes lie in one place: what levels the whole mesh says which way is up.
        turn = math.radians(face.angle_deg)
        square = rising = np.array([math.sin(turn), -math.cos(turn)])
    up = square + rising
    up = up / max(1e-6, float(np.linalg.norm(up)))
    reach = max(1.0, float((eyes - chin) @ up))
    return _Axes(eyes, up, np.array([-up[1], up[0]]), reach)


@dataclass(frozen=True, slots=True)
class _Hair:
    """What the mask shows of one head: its pixels in master px, and how its top ended.

    ``softness``: how far apart, in eyes-to-chin, a lax and a strict reading of the mask put the
    top: wide where dark hair lies on a dark ground. ``hemmed``: against somebody else's body, so
    that the mask shows no top of this head.
    """

    points: Points
    touches_top: bool
    hemmed: bool
    softness: float
    held_back: bool
    fills_piece: bool


def _pixel_places(piece: Piece, out: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the middles of a piece's ``out`` x ``out`` pixels lie in the master: x, y, flat."""
    inverse = np.linalg.inv(piece.matrix[:, :2])
    steps = np.arange(out) + 0.5
    first = -inverse @ piece.matrix[:, 2]
    x, y = (
        ((inverse[axis, 0] * steps + first[axis])[None, :] + (inverse[axis, 1] * steps)[:, None])
        for axis in (0, 1)
    )
    return x.ravel(), y.ravel()


def _along(
    axes: _Axes, way: Points, x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far places lie along a unit vector from the eyes, in eyes-to-chin."""
    across, down = way / axes.reach
    start = float(axes.eyes @ way) / axes.reach
    return np.asarray(x * across + y * down - start, np.float64)


def _nearer(
    x: NDArray[np.float64], y: NDArray[np.float64], face: Face, other: Face
) -> NDArray[np.bool_]:
    """Places nearer to a face than to another one, by their sizes."""
    mine, theirs = (
        ((x - one.middle[0]) ** 2 + (y - one.middle[1]) ** 2) / one.side**2 for one in (face, other)
    )
    return np.asarray(mine <= theirs)


def _connected(mask: NDArray[np.bool_], seeds: Points) -> NDArray[np.bool_]:
    """The part of the mask that hangs together with the face."""
    count, labels = cv2.connectedComponents(mask.astype(np.uint8), connectivity=4)
    if count <= 1:
        return np.zeros_like(mask)
    columns = np.clip(seeds[:, 0].astype(int), 0, mask.shape[1] - 1)
    rows = np.clip(seeds[:, 1].astype(int), 0, mask.shape[0] - 1)
    votes = np.bincount(labels[rows, columns], minlength=count)
    votes[0] = 0
    if votes.max() == 0:
        return np.zeros_like(mask)
    return np.asarray(labels == int(votes.argmax()))


def _hemmed(solid: NDArray[np.bool_], person: NDArray[np.bool_], heights: Points) -> bool:
    """Whether the top of a head's pixels ends where more of a person goes on, not at a backdrop."""
    edge = solid & ~np.asarray(cv2.erode(solid.astype(np.uint8), np.ones((3, 3))), bool)
    if not edge.any():
        return False
    top = edge & (heights > heights[edge].max() - _CREST)
    going_on = cv2.dilate((person & ~solid).astype(np.uint8), np.ones((3, 3)))
    return bool(going_on[top].mean() > _HEMMED)


def _hair_in(
    piece: Piece, mask: NDArray[np.float32], face: Face, others: Sequence[Face], size: Size
) -> _Hair:
    """The head's pixels in one piece's mask."""
    out = mask.shape[0]
    axes = axes_of(face)
    x, y = _pixel_places(piece, out)
    heights, beside = _along(axes, axes.up, x, y), _along(axes, axes.across, x, y)
    inside = (x >= 0) & (x <= size.width) & (y >= 0) & (y <= size.height)
    region = inside & (heights > _LOWEST) & (np.abs(beside) < HALF_WIDTH)
    for other in others:
        region &= _nearer(x, y, face, other)
    seeds = piece.from_master(face.points[:468, :2])
    person = mask > PERSON
    joined = _connected(person & region.reshape(out, out), seeds)
    hemmed = _hemmed(joined, person & inside.reshape(out, out), heights.reshape(out, out))
    solid = joined.ravel()
    high = solid & (np.abs(heights - WIDE_AT) < 1.5 / (axes.reach * piece.scale))
    wide = float(np.ptp(beside[high])) if high.any() else 0.0
    above = solid & (heights > ORDINARY_HAIR)
    held_back = bool(above.any()) and wide < WIDE_HAIR
    if held_back:
        solid &= heights <= ORDINARY_HAIR
    points = np.column_stack([x[solid], y[solid]])
    touches = bool(len(points)) and float(points[:, 1].min()) < max(1.0, _NEAR_EDGE * axes.reach)
    fills = bool(solid.reshape(out, out)[:2].any())
    softness = _softness(heights, region & (np.abs(beside) < _SOFT_WIDTH), mask.ravel(), solid)
    return _Hair(points, touches, hemmed and not held_back, softness, held_back, fills)


def _softness(
    heights: NDArray[np.float64],
    region: NDArray[np.bool_],
    mask: NDArray[np.float32],
    solid: NDArray[np.bool_],
) -> float:
    """How far apart a lax and a strict reading of the mask put the top, in eyes-to-chin."""
    if not solid.any():
        return 0.0
    reached = heights < float(heights[solid].max()) + _SOFT_REACH
    tops = [
        float(np.quantile(heights[chosen], 0.999))
        for least in _READINGS
        if (chosen := region & reached & (mask > least)).any()
    ]
    return max(tops) - min(tops)


def _hair(engine: Engine, pyramid: Pyramid, face: Face, others: Sequence[Face]) -> _Hair:
    """The head's pixels, on a piece that is large enough for its hair."""
    axes = axes_of(face)
    size = Size(pyramid.width, pyramid.height)
    found = None
    for heads in MASK_HEADS:
        at = axes.at(0.1)
        piece = pyramid.piece(
            (float(at[0]), float(at[1])),
            heads * 2 * axes.reach,
            angle_deg=face.angle_deg,
            outside=cv2.BORDER_REPLICATE,
        )
        found = _hair_in(piece, engine.mask(piece.pixels), face, others, size)
        if not found.fills_piece:
            break
    assert found is not None  # noqa: S101 - MASK_HEADS is not empty
    return found


def _topmost(hair: _Hair, axes: _Axes, piece_px: float) -> Points:
    """The top of the hair in the picture, flyaway passed over, across the middle of its crest."""
    patch = (_FLYAWAY * axes.reach / piece_px) ** 2
    count = min(len(hair.points) - 1, max(2, round(patch)))
    order = np.argpartition(hair.points[:, 1], count)[: count + 1]
    top = float(hair.points[order][:, 1].max())
    crest = hair.points[hair.points[:, 1] <= top + _CREST * axes.reach, 0]
    return np.array([float(crest.min() + crest.max()) / 2, top])


def _nodding(pitch_deg: float) -> float:
    """Degrees by which a head looks up or down further than proportions of a level one bear."""
    return max(0.0, abs(pitch_deg) - LEVEL_DEG)


def _skull_height(hair_height: float | None, pitch_deg: float) -> float:
    """Eyes to skull top in eyes-to-chin, from proportions and the hair's height on the axis.

    ``pitch_deg`` below zero looks down, which shows more of the crown and less of the chin.
    """
    usual = proportions.CROWN_OVER_CHIN
    if pitch_deg < 0:
        usual += BOWED * _nodding(pitch_deg)
    if hair_height is None or hair_height >= TALL_HAIR:
        return usual
    from_hair = hair_height - HAIR_OVER_SKULL
    return min(
        (1 - HAIR_WEIGHT) * usual + HAIR_WEIGHT * from_hair, hair_height - HAIR_OVER_SKULL / 4
    )


def _lowest_hair(face: Face, axes: _Axes) -> float:
    """The least height of hair that is believed, in eyes-to-chin above the eyes."""
    forehead = float(axes.heights(face.points[[_FOREHEAD], :2])[0])
    return (LOWEST_HAIR - _LOOKING_UP * max(0.0, pitch_of(face))) * forehead


def _landmark(at: Points, sigma_px: float, origin: Origin) -> Landmark:
    return Landmark(
        Point(round(float(at[0]), 2), round(float(at[1]), 2)), round(sigma_px, 2), origin
    )


_READINGS: Final = (0.2, 0.65)
_SOFT_WIDTH: Final = 0.5
_SOFT_REACH: Final = 0.25
"""Two readings of the mask, and where they are compared: so far beside the axis and above the hair
top, in eyes-to-chin."""
SOFT_SHARE: Final = 0.5
"""How much of that distance is one standard deviation of the hair top."""
SIGMA: Final = {
    "chin": 0.023,
    "skull": 0.055,
    "hair": 0.014,
    "chin unsure": 0.075,
    "skull unsure": 0.2,
    "hair unsure": 0.045,
    "hair held back": 0.25,
    "hair unseen": 0.2,
    "hair cut off": 0.3,
    "hairline": 0.12,
    "brows": 0.04,
}
"""One standard deviation, in eyes-to-chin (about half a head). Calibrated on one half of fifty real
portraits marked by eye and shown on the other; how, and where it stops:
docs/decisions/0003-finding.md. Unsure: profiles, and faces on which detectors and mesh differ."""
TURNED_CHIN_SIGMA: Final = 0.12
"""What each unit of turn beyond ``TURNED_ABOVE`` adds to the chin's sigma, in eyes-to-chin."""


def head_of(engine: Engine, pyramid: Pyramid, face: Face, others: Sequence[Face] = ()) -> Head:
    """Everything about the head, with honest sigmas."""
    axes = axes_of(face)
    hair = _hair(engine, pyramid, face, others)
    piece_px = MASK_HEADS[0] * 2 * axes.reach / 512
    heights = axes.heights(hair.points)
    crest = float(np.quantile(heights, 0.9995)) if len(heights) else 0.0
    seen = crest >= _lowest_hair(face, axes) and not hair.hemmed
    whole = seen and not hair.touches_top
    pitch = pitch_of(face)
    skull = axes.at(_skull_height(crest if whole else None, pitch))
    unsure = not face.sure or in_profile(face)
    skull_sigma = math.hypot(
        SIGMA["skull unsure" if unsure else "skull"], NODDING_SIGMA * _nodding(pitch)
    )
    hair_top = _hair_top(hair, axes, skull, piece_px, seen=seen, unsure=unsure)
    inside = hair_top.at.y > 0 and not hair.touches_top
    inside &= 0 <= skull[0] <= pyramid.width and skull[1] >= 0
    reach = axes.reach
    origin = Origin.ESTIMATED if unsure else Origin.FOUND
    brows = face.points[list(_BROWS), :2].mean(axis=0)
    return Head(
        chin=_landmark(face.points[CHIN, :2], _chin_sigma(face, unsure=unsure) * reach, origin),
        skull_top=_landmark(skull, skull_sigma * reach, Origin.ESTIMATED),
        hair_top=hair_top,
        hairline=_landmark(face.points[_FOREHEAD, :2], SIGMA["hairline"] * reach, Origin.FOUND),
        brows=_landmark(brows, SIGMA["brows"] * reach, Origin.FOUND),
        crown_in_frame=bool(inside),
        head_box=_box(hair, face, hair_top.at, skull, seen=seen),
    )


def _chin_sigma(face: Face, *, unsure: bool) -> float:
    """One standard deviation of the chin, in eyes-to-chin: more the further the face is turned."""
    if unsure:
        return SIGMA["chin unsure"]
    turned = max(0.0, abs(turn_of(face)) - TURNED_ABOVE)
    return math.hypot(SIGMA["chin"], TURNED_CHIN_SIGMA * turned)


def _hair_top(
    hair: _Hair, axes: _Axes, skull: Points, piece_px: float, *, seen: bool, unsure: bool
) -> Landmark:
    """The hair top: read from the mask, or put above the skull where the mask cannot show it."""
    allowance = 2 * proportions.HAIR * axes.reach
    above_skull = np.array([skull[0], skull[1] - allowance])
    if hair.touches_top:
        outside = np.array([above_skull[0], min(above_skull[1], -allowance / 4)])
        return _landmark(outside, SIGMA["hair cut off"] * axes.reach, Origin.ESTIMATED)
    if not seen:
        return _landmark(above_skull, SIGMA["hair unseen"] * axes.reach, Origin.ESTIMATED)
    top = _topmost(hair, axes, piece_px)
    if hair.held_back:
        return _landmark(top, SIGMA["hair held back"] * axes.reach, Origin.FOUND)
    base = SIGMA["hair unsure" if unsure else "hair"]
    sigma = math.hypot(base, SOFT_SHARE * hair.softness)
    return _landmark(top, sigma * axes.reach, Origin.FOUND)


def _box(hair: _Hair, face: Face, hair_top: Point, skull: Points, *, seen: bool) -> Extent:
    """Head with hair, ear to ear, chin included."""
    parts = [face.points[:468, :2], np.array([[hair_top.x, hair_top.y]]), skull[None, :]]
    if seen and len(hair.points):
        low, high = np.quantile(hair.points, (0.0005, 0.9995), axis=0)
        parts.append(np.array([low, high]))
    everything = np.concatenate(parts)
    low, high = everything.min(axis=0), everything.max(axis=0)
    if not seen:
        spare = (proportions.BREADTH / 2 - 0.28) * float(math.dist(skull, face.points[CHIN, :2]))
        low[0], high[0] = low[0] - spare, high[0] + spare
    return Extent(*(round(float(v), 2) for v in (low[0], low[1], high[0], high[1])))
