"""Where a crop of each size may lie: the open interval on each axis, and the places worth trying.

Never-rules about eyes, chin and master leave one interval per axis and size. Inside it the optimum
of each rule lies at an end, a target, or where a tolerance, a joint, a zone or a neighbour begins:
those places are tried, and a grid between them. When an axis is short every place is tried.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from cropper.destination.shots import Shot
from cropper.proposal import house
from cropper.proposal.arithmetic import Many
from cropper.proposal.graded import band_of_u, eye_line_band
from cropper.proposal.people import cut_places
from cropper.proposal.scene import Scene, Seen
from cropper.proposal.sizes import ALL_SIDES_UP_TO, Whole

NEAR_ONLY: Final = house.EYE_LINES[:1]
COUNTS_AS_NONE: Final = math.sqrt(0.5 / house.QUANTUM)
"""In scales: an excess up to this costs less than half a thousandth, so nothing."""
_LONGER = (1, 2, 3, 5, 8, 13, 21, 34, 55)
FAR_STEPS, NEAR_STEPS = (
    np.array([*(-step for step in reversed(longer)), 0, *longer], dtype=np.float64)
    for longer in (_LONGER, _LONGER[:5])
)
"""Places round the best, px: each pixel near it, and ever fewer farther off."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """Candidate sizes, and the primary frame's own (in a circle, of its bounding square)."""

    w: Many
    h: Many
    wide: Many
    high: Many

    def pick(self, keep: NDArray[np.bool_] | NDArray[np.int64] | slice) -> Sizes:
        """The sizes for which ``keep`` is true, or those it names."""
        return Sizes(self.w[keep], self.h[keep], self.wide[keep], self.high[keep])


@dataclass(frozen=True, slots=True)
class Span:
    """Least and greatest whole place of the crop's corner on one axis, per size."""

    least: Many
    most: Many

    def pick(self, keep: NDArray[np.bool_] | NDArray[np.int64] | slice) -> Span:
        """The spans for which ``keep`` is true, or those it names."""
        return Span(self.least[keep], self.most[keep])


@dataclass(frozen=True, slots=True)
class Rungs:
    """Sizes on which some crop of a scene can lie, where it can, and its least framing cost."""

    sizes: Sizes
    down: Span
    across: Span
    framing: Many

    def pick(self, at: NDArray[np.int64]) -> Rungs:
        """The rungs named."""
        sizes, down, across = self.sizes.pick(at), self.down.pick(at), self.across.pick(at)
        return Rungs(sizes, down, across, self.framing[at])

    def thinned(self, most: int) -> Rungs:
        """At most so many, evenly chosen, both ends included."""
        have = len(self.framing)
        if have <= most:
            return self
        return self.pick(np.arange(most) * (have - 1) // (most - 1))


@dataclass(frozen=True, slots=True)
class Places:
    """How places are chosen: at the marks (down, across), and ``grid`` of them over the span.

    With ``round_place`` (a centre: down, across) they lie round it instead, in ever longer steps;
    a size's corner stands so that the centre stays.
    """

    marks: tuple[Many, Many]
    grid: int
    round_place: tuple[float, float] | None = None
    steps: tuple[Many, Many] = (FAR_STEPS, NEAR_STEPS)

    @property
    def to_the_pixel(self) -> bool:
        """Whether places are tried that a later round will not better: then ties are broken."""
        return self.round_place is not None or self.grid >= ALL_SIDES_UP_TO

    def y0(self, rungs: Rungs) -> Many:
        """Places down for every size, shape (sizes, places)."""
        return self._every(0, rungs.sizes.high, rungs.sizes.h, rungs.down)

    def x0(self, rungs: Rungs) -> Many:
        """Places across for every size, shape (sizes, places)."""
        return self._every(1, rungs.sizes.wide, rungs.sizes.w, rungs.across)

    def _every(self, axis: int, frame: Many, crop: Many, span: Span) -> Many:
        """Whole places inside ``span``; all there are when those are fewer."""
        least, most = span.least[:, None], span.most[:, None]
        longest = float((span.most - span.least).max(initial=0.0))
        marks = self.marks[axis]
        if longest < self.grid + 2 * marks.shape[1]:
            return np.asarray(np.minimum(least + np.arange(longest + 1), most))
        exact = marks[0] + frame[:, None] * marks[1] + crop[:, None] * marks[2]
        if self.round_place is None:
            steps = np.arange(self.grid) / (self.grid - 1)
            between = np.rint(least + (most - least) * steps)
        else:
            middle = np.floor(self.round_place[axis] - crop / 2)[:, None]
            between = middle + self.steps[axis]
        under = np.floor(exact)
        every = np.concatenate([under, under + 1, between], axis=1)
        return np.asarray(np.minimum(np.maximum(every, least), most))


class Mark(NamedTuple):
    """A place worth trying on one axis: ``at + frame * its length + crop * the crop's``, px."""

    at: float
    frame: float
    crop: float


def sizes_of(scene: Scene, widths: Whole, heights: Whole) -> Sizes:
    """Make candidate sizes ready."""
    w, h = widths.astype(np.float64), heights.astype(np.float64)
    seen = scene.seen[0]
    wide, high = (seen.x1 - seen.x0) * w, (seen.y1 - seen.y0) * h
    if seen.round:
        wide = high = np.minimum(wide, high)
    return Sizes(w, h, wide, high)


def span_down(scene: Scene, sizes: Sizes) -> Span:
    """Where y0 may lie: eyes and chin in every seen frame, the crop in the master."""
    begins = scene.corner[1]
    least: Many = np.full_like(sizes.h, begins)
    most: Many = begins + scene.size.height - sizes.h
    high, low = _held_down(scene)
    for seen in scene.seen:
        top, bottom = _ends(seen, seen.y0, seen.y1, sizes.h, sizes.high)
        least = np.maximum(least, low - bottom)
        most = np.minimum(most, high - top)
    return Span(np.ceil(least), np.floor(most))


def span_across(scene: Scene, sizes: Sizes) -> Span:
    """Where x0 may lie, as :func:`span_down`; in a group the heads stay whole."""
    begins = scene.corner[0]
    least: Many = np.full_like(sizes.w, begins)
    most: Many = begins + scene.size.width - sizes.w
    for seen in scene.seen:
        near, far = _held_across(scene, heads=scene.group and not seen.round)
        left, right = _ends(seen, seen.x0, seen.x1, sizes.w, sizes.wide)
        least = np.maximum(least, far - right)
        most = np.minimum(most, near - left)
    return Span(np.ceil(least), np.floor(most))


def _held_down(scene: Scene) -> tuple[float, float]:
    """The highest and the lowest y that every seen frame must hold."""
    high, low = math.inf, -math.inf
    chins = scene.destination.framing[0] is not Shot.EXTREME_CLOSE_UP
    for person in scene.people:
        room = house.EYE_ROOM_HEADS * person.head
        high = min(high, person.left_y - room, person.right_y - room)
        low = max(low, person.left_y + room, person.right_y + room)
        if chins:
            high = min(high, person.chin_y)
            low = max(low, person.chin_y + house.CHIN_ROOM_HEADS * person.head)
    return high, low


def _held_across(scene: Scene, *, heads: bool) -> tuple[float, float]:
    """The leftmost and the rightmost x that every seen frame must hold."""
    near, far = math.inf, -math.inf
    chins = scene.destination.framing[0] is not Shot.EXTREME_CLOSE_UP
    for person in scene.people:
        room = house.EYE_ROOM_HEADS * person.head
        near = min(near, person.left_x - room, person.right_x - room)
        far = max(far, person.left_x + room, person.right_x + room)
        if chins:
            near, far = min(near, person.chin_x), max(far, person.chin_x)
        if heads:
            near, far = min(near, person.box.x0), max(far, person.box.x1)
    return near, far


def _ends(seen: Seen, begin: float, end: float, crop: Many, frame: Many) -> tuple[Many, Many]:
    """Where a seen frame begins and ends on one axis, px from the crop's corner."""
    if seen.round:
        middle = (begin + end) / 2 * crop
        return middle - frame / 2, middle + frame / 2
    return begin * crop, end * crop


def _shares(seen: Seen, begin: float, end: float) -> tuple[tuple[float, float], ...]:
    """The same as :func:`_ends`, as shares of the frame's and the crop's length."""
    if seen.round:
        middle = (begin + end) / 2
        return (-0.5, middle), (0.5, middle)
    return (0.0, begin), (0.0, end)


def marks_down(scene: Scene, framing: int) -> Many:
    """The y0 at which some rule begins, ends or is best met; rows of :class:`Mark`.

    A tolerance ends where its excess begins to count. ``framing`` is what framing costs at least.
    """
    (top_frame, top), (bottom_frame, bottom) = _shares(
        scene.seen[0], scene.seen[0].y0, scene.seen[0].y1
    )
    marks = [Mark(at, frame - top_frame, -top) for at, frame in _eye_marks(scene)]
    tops = list(_top_marks(scene))
    marks += [Mark(at, frame - top_frame, -top) for at, frame in tops]
    for zone in scene.zones:
        if zone.holds_headroom_down:
            marks += [Mark(at, frame, -zone.y1) for at, frame in tops]
        for box in zone.boxes:
            marks += [Mark(box.y0, 0.0, -zone.y1), Mark(box.y1, 0.0, -zone.y0)]
    marks += [Mark(at, -bottom_frame, -bottom) for at in _bottom_marks(scene, framing)]
    for box in scene.bystanders:
        for seen in scene.seen:
            for frame, share in _shares(seen, seen.y0, seen.y1):
                marks += [Mark(box.y0, -frame, -share), Mark(box.y1, -frame, -share)]
    return np.array(marks).T


def _eye_marks(scene: Scene) -> list[tuple[float, float]]:
    """Where the frame's top stands for each eye line: y, and shares of the frame's height."""
    middle, own = scene.eyes_middle[1], scene.destination.eye_line
    if scene.group and own is None:
        highest, lowest = scene.eyes_y
        more = COUNTS_AS_NONE * house.GROUP_SCALE
        top = (highest, more - house.GROUP_TOP_LEAST)
        return [top, (lowest, -house.GROUP_LOW_MOST - more), (middle, -1 / 3)]
    if own is not None:
        bands = [eye_line_band(scene, 0.0)]
    else:
        bands = list(house.EYE_LINES if scene.wanted[1] > house.LOOSE_ABOVE_HEADS else NEAR_ONLY)
    shares = [(bands[0].least + bands[0].most) / 2]
    for band in bands:
        more = COUNTS_AS_NONE * band.scale
        shares += [band.least - more, band.most + more]
    return [(middle, -e) for e in shares]


def _top_marks(scene: Scene) -> list[tuple[float, float]]:
    """Where the frame's top (or a lid) stands for each headroom, clear crown and decided cut."""
    hair, own = scene.tallest.hair_y, scene.destination.headroom
    lows = (own.least,) if own else (house.HEADROOM_NEAR[0], house.HEADROOM_LOOSE[0])
    most = own.most if own else house.HEADROOM_NEAR[1]
    more = COUNTS_AS_NONE * house.HEADROOM_SCALE
    shares = [most + more / math.sqrt(house.HEADROOM_MUCH_WEIGHT)]
    shares += [share for least in lows for share in (least - more, (least + most) / 2)]
    marks = [(hair, -r) for r in shares]
    # the best of eye line and headroom together, for ties: half way between both at their best
    marks.append(((scene.eyes_middle[1] + hair) / 2, -(1 / 3 + 0.075) / 2))
    least = house.CLEAR_LEAST_IN_CIRCLE if scene.circle else house.CLEAR_LEAST
    for person in scene.people:
        more = COUNTS_AS_NONE * house.CROWN_SCALE_HEADS * person.head
        marks += [(person.hair_y + more, -least), (person.hair_y - person.crown_sigma + more, 0.0)]
        for above, end in cut_places(person):
            start = max(above, 0.0)
            marks += [(start - more, 0.0), (end + more, 0.0), ((start + end) / 2, 0.0)]
    return marks


def _bottom_marks(scene: Scene, framing: int) -> list[float]:
    tallest = scene.tallest
    off = house.FRAMING_SCALE_HEADS * math.sqrt(framing / house.QUANTUM)
    ends = (scene.wanted[0] - off, scene.wanted[1] + off)
    marks = [tallest.skull_y + d * scene.mean_head for d in ends if math.isfinite(d)]
    for person in scene.people:
        marks += [person.skull_y + end * person.head for end in house.NECK_HEADS]
    joints = {
        y + sign * house.JOINT_ROOM_HEADS * limb.head
        for limb in scene.limbs
        for _, y, _ in limb.joints
        for sign in (-1, 1)
    }
    highest, lowest = scene.eyes_y[1], scene.corner[1] + scene.size.height
    return [*marks, *sorted(y for y in joints if highest < y <= lowest)]


def marks_across(scene: Scene) -> Many:
    """The x0 at which some rule begins, ends or is best met."""
    first = scene.seen[0]
    (left_frame, left), (right_frame, right) = _shares(first, first.x0, first.x1)
    middle = scene.eyes_middle[0]
    least, most = band_of_u(scene)
    more = COUNTS_AS_NONE * house.ACROSS_SCALE
    targets = [least - more, (least + most) / 2, most + more]
    fold = scene.destination.gutter
    if fold is not None:
        targets += [1 - u for u in targets]
    marks = [Mark(middle, -u - left_frame, -left) for u in targets]
    for person in scene.people:
        marks += [
            Mark(person.box.x0, -left_frame, -left),
            Mark(person.box.x1, -right_frame, -right),
        ]
        if fold is not None:
            for sign, edge in ((-1, person.box.x1), (1, person.box.x0)):
                at = float(fold.at) + sign * float(fold.margin)
                marks.append(Mark(edge, 0.0, -first.x0 - at * (first.x1 - first.x0)))
    for zone in scene.zones:
        for box in zone.boxes:
            marks += [Mark(box.x0, 0.0, -zone.x1), Mark(box.x1, 0.0, -zone.x0)]
    for box in scene.bystanders:
        for seen in scene.seen:
            for frame, share in _shares(seen, seen.x0, seen.x1):
                marks += [Mark(box.x0, -frame, -share), Mark(box.x1, -frame, -share)]
    return np.array(marks).T
