"""Never-rules: what no crop may break, whatever it would gain elsewhere.

Each answers, for one box or many, by how many master pixels the box keeps the rule: 0 or more
holds, less is how much is missing. docs/composition.md says each in words.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Final

from cropper.destination.shots import Shot
from cropper.geometry import Extent
from cropper.proposal import house
from cropper.proposal.arithmetic import Amount, distance, higher, lower, magnitude
from cropper.proposal.frames import (
    Boxes,
    Circle,
    Frame,
    Look,
    circle_of,
    frame_of,
    lid_of,
)
from cropper.proposal.scene import Scene

ALWAYS: Final = math.inf
"""A rule that does not apply is kept by any amount."""
NOWHERE: Final = -math.inf


def inside(scene: Scene, boxes: Boxes) -> Amount:
    """No pixel from outside the master."""
    right = scene.size.width - boxes.x0 - boxes.w
    bottom = scene.size.height - boxes.y0 - boxes.h
    return lower(lower(boxes.x0, right), lower(boxes.y0, bottom))


def pixels(scene: Scene, boxes: Boxes) -> Amount:
    """Enough pixels: enlargement and effective ppi as the destination says."""
    longer = higher(boxes.w, boxes.h)
    return lower(boxes.w - scene.least_width, longer - scene.least_long)


def eyes(scene: Scene, boxes: Boxes) -> Amount:
    """Both pupils of every principal inside every seen frame, with room to spare."""
    slack: Amount = ALWAYS
    for seen in scene.seen:
        frame, ring = frame_of(boxes, seen), circle_of(boxes, seen)
        for person in scene.people:
            room = house.EYE_ROOM_HEADS * person.head
            for x, y in ((person.left_x, person.left_y), (person.right_x, person.right_y)):
                if seen.round:
                    slack = lower(slack, _in_circle(ring, x, y) - room)
                else:
                    slack = lower(slack, lower(x - frame.left, frame.right - x) - room)
                    slack = lower(slack, lower(y - frame.top, frame.bottom - y) - room)
    return slack


def chin(scene: Scene, boxes: Boxes) -> Amount:
    """Every principal's chin inside every seen frame; lifted for an extreme close-up."""
    slack: Amount = ALWAYS
    if scene.destination.framing[0] is Shot.EXTREME_CLOSE_UP:
        return slack
    for seen in scene.seen:
        frame, ring = frame_of(boxes, seen), circle_of(boxes, seen)
        for person in scene.people:
            room = house.CHIN_ROOM_HEADS * person.head
            x, y = person.chin_x, person.chin_y
            if seen.round:
                slack = lower(slack, _in_circle(ring, x, y) - room)
            else:
                slack = lower(slack, lower(x - frame.left, frame.right - x))
                slack = lower(slack, lower(y - frame.top, frame.bottom - y - room))
    return slack


def _in_circle(ring: Circle, x: float, y: float) -> Amount:
    return ring.radius - distance(ring.x - x, ring.y - y)


def gutter(scene: Scene, boxes: Boxes) -> Amount:
    """No principal head within the spine margin."""
    return _least_of(gutter_pairs(scene, boxes))


def zones(scene: Scene, boxes: Boxes) -> Amount:
    """No covered zone meets what it must stay clear of."""
    return _least_of(zone_pairs(scene, boxes))


def bystanders(scene: Scene, boxes: Boxes) -> Amount:
    """No seen edge through another head: each is wholly inside or wholly outside."""
    slack = _least_of(bystander_pairs(scene, boxes))
    for seen in scene.seen:
        if seen.round:
            ring = circle_of(boxes, seen)
            for box in scene.bystanders:
                slack = lower(slack, _whole_or_absent(ring, box))
    return slack


Pairs = Iterator[tuple[Amount, Amount]]
"""What a rule asks, as pairs of px to spare across and down, of which one in each must hold.

Across depends on the size and x0 alone, down on the size and y0 alone: many boxes are judged by
their places on each axis.
"""


def gutter_pairs(scene: Scene, boxes: Boxes) -> Pairs:
    """Each principal's head beside the open band of the spine; down it never helps."""
    fold = scene.destination.gutter
    if fold is None:
        return
    frame = frame_of(boxes, scene.seen[0])
    at = frame.left + float(fold.at) * frame.width
    margin = float(fold.margin) * frame.width
    for person in scene.people:
        yield higher(at - margin - person.box.x1, person.box.x0 - at - margin), NOWHERE


def zone_pairs(scene: Scene, boxes: Boxes) -> Pairs:
    """Each zone apart from each box it must keep clear of, across or down."""
    for zone in scene.zones:
        lid = lid_of(boxes, zone)
        for box in zone.boxes:
            yield _apart(lid, box)


def bystander_pairs(scene: Scene, boxes: Boxes) -> Pairs:
    """Each rectangle apart from each other head, or round it: across or apart, down or apart."""
    for seen in scene.seen:
        if seen.round:
            continue
        frame = frame_of(boxes, seen)
        for box in scene.bystanders:
            across, down = _apart(frame, box)
            within_x = lower(box.x0 - frame.left, frame.right - box.x1)
            within_y = lower(box.y0 - frame.top, frame.bottom - box.y1)
            yield higher(within_x, across), down
            yield across, higher(within_y, down)


def _least_of(pairs: Pairs) -> Amount:
    slack: Amount = ALWAYS
    for across, down in pairs:
        slack = lower(slack, higher(across, down))
    return slack


def _apart(frame: Frame, box: Extent) -> tuple[Amount, Amount]:
    """How far a frame and a box stand apart across and down, px; negative: they overlap."""
    across = higher(frame.left - box.x1, box.x0 - frame.right)
    down = higher(frame.top - box.y1, box.y0 - frame.bottom)
    return across, down


def _whole_or_absent(ring: Circle, box: Extent) -> Amount:
    far_x = higher(magnitude(box.x0 - ring.x), magnitude(box.x1 - ring.x))
    far_y = higher(magnitude(box.y0 - ring.y), magnitude(box.y1 - ring.y))
    near_x = higher(0.0, higher(box.x0 - ring.x, ring.x - box.x1))
    near_y = higher(0.0, higher(box.y0 - ring.y, ring.y - box.y1))
    whole = ring.radius - distance(far_x, far_y)
    absent = distance(near_x, near_y) - ring.radius
    return higher(whole, absent)


def heads_whole(scene: Scene, boxes: Boxes) -> Amount:
    """In a group every principal head stands whole between the seen sides."""
    slack: Amount = ALWAYS
    if not scene.group:
        return slack
    for seen in scene.seen:
        frame = frame_of(boxes, seen)
        for person in scene.people:
            if seen.round:
                ring = circle_of(boxes, seen)
                for x in (person.box.x0, person.box.x1):
                    slack = lower(slack, _in_circle(ring, x, person.eye_y))
                continue
            sides = lower(person.box.x0 - frame.left, frame.right - person.box.x1)
            slack = lower(slack, sides)
    return slack


def one_head(scene: Scene, boxes: Boxes) -> Amount:
    """An identity picture: one person, head share and eyes inside the template's limits."""
    share, eye_band = scene.destination.head_share, scene.destination.eye_line
    if share is None:
        return ALWAYS
    if scene.group:
        return -1.0
    look = Look(scene, boxes)
    k = scene.mean_head / look.height
    slack = lower(k - share.limit_least, share.limit_most - k)
    if eye_band is not None:
        e = look.eye_line
        slack = lower(slack, lower(e - eye_band.limit_least, eye_band.limit_most - e))
    return slack * look.height


NEVER: Final[dict[str, Callable[[Scene, Boxes], Amount]]] = {
    "inside": inside,
    "pixels": pixels,
    "eyes": eyes,
    "chin": chin,
    "gutter": gutter,
    "zones": zones,
    "bystanders": bystanders,
    "heads whole": heads_whole,
    "one head": one_head,
}
"""Never-rules by name, in the order they are told."""


def rules_for(scene: Scene) -> dict[str, Callable[[Scene, Boxes], Amount]]:
    """The never-rules that a scene's destination knows: an uncropped frame only counts pixels."""
    if scene.destination.full_frame:
        return {"pixels": pixels}
    return NEVER
