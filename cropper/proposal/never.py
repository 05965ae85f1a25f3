"""Never-rules: what no crop may break, whatever it would gain elsewhere.

Each answers, for many boxes at once, by how many master pixels the box keeps the rule: 0 or more
holds, less is how much is missing. docs/composition.md says each in words.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from cropper.destination.shots import Shot
from cropper.geometry import Extent
from cropper.proposal import house
from cropper.proposal.frames import (
    Boxes,
    Circle,
    Floats,
    Frame,
    Look,
    circle_of,
    frame_of,
)
from cropper.proposal.scene import Scene, Seen

ALWAYS: Final = np.array(np.inf)
"""A rule that does not apply is kept by any amount."""


def inside(scene: Scene, boxes: Boxes) -> Floats:
    """No pixel from outside the master."""
    right = scene.size.width - boxes.x0 - boxes.w
    bottom = scene.size.height - boxes.y0 - boxes.h
    return np.minimum(np.minimum(boxes.x0, right), np.minimum(boxes.y0, bottom))


def pixels(scene: Scene, boxes: Boxes) -> Floats:
    """Enough pixels: enlargement and effective ppi as the destination says."""
    longer = np.maximum(boxes.w, boxes.h)
    return np.minimum(boxes.w - scene.least_width, longer - scene.least_long)


def eyes(scene: Scene, boxes: Boxes) -> Floats:
    """Both pupils of every principal inside every seen frame, with room to spare."""
    slack: Floats = ALWAYS
    for seen in scene.seen:
        frame = frame_of(boxes, seen)
        for person in scene.people:
            room = house.EYE_ROOM_HEADS * person.head
            for x, y in ((person.left_x, person.left_y), (person.right_x, person.right_y)):
                if seen.round:
                    slack = np.minimum(slack, _in_circle(circle_of(frame), x, y) - room)
                else:
                    slack = np.minimum(slack, np.minimum(x - frame.left, frame.right - x) - room)
                    slack = np.minimum(slack, np.minimum(y - frame.top, frame.bottom - y) - room)
    return slack


def chin(scene: Scene, boxes: Boxes) -> Floats:
    """Every principal's chin inside every seen frame; lifted for an extreme close-up."""
    slack: Floats = ALWAYS
    if scene.destination.framing[0] is Shot.EXTREME_CLOSE_UP:
        return slack
    for seen in scene.seen:
        frame = frame_of(boxes, seen)
        for person in scene.people:
            room = house.CHIN_ROOM_HEADS * person.head
            x, y = person.chin_x, person.chin_y
            if seen.round:
                slack = np.minimum(slack, _in_circle(circle_of(frame), x, y) - room)
            else:
                slack = np.minimum(slack, np.minimum(x - frame.left, frame.right - x))
                slack = np.minimum(slack, np.minimum(y - frame.top, frame.bottom - y - room))
    return slack


def _in_circle(ring: Circle, x: float, y: float) -> Floats:
    return np.asarray(ring.radius - np.hypot(ring.x - x, ring.y - y))


def gutter(scene: Scene, boxes: Boxes) -> Floats:
    """No principal head within the spine margin."""
    slack: Floats = ALWAYS
    fold = scene.destination.gutter
    if fold is None:
        return slack
    frame = frame_of(boxes, scene.seen[0])
    at = frame.left + float(fold.at) * frame.width
    margin = float(fold.margin) * frame.width
    for person in scene.people:
        beside = np.maximum(at - margin - person.box.x1, person.box.x0 - at - margin)
        slack = np.minimum(slack, beside)
    return slack


def zones(scene: Scene, boxes: Boxes) -> Floats:
    """No covered zone meets what it must stay clear of."""
    slack: Floats = ALWAYS
    for zone in scene.zones:
        lid = frame_of(boxes, Seen(zone.name, zone.x0, zone.y0, zone.x1, zone.y1))
        for box in zone.boxes:
            slack = np.minimum(slack, _apart(lid, box))
    return slack


def bystanders(scene: Scene, boxes: Boxes) -> Floats:
    """No seen edge through another head: each is wholly inside or wholly outside."""
    slack: Floats = ALWAYS
    for seen in scene.seen:
        frame = frame_of(boxes, seen)
        for box in scene.bystanders:
            if seen.round:
                slack = np.minimum(slack, _whole_or_absent(circle_of(frame), box))
            else:
                within_x = np.minimum(box.x0 - frame.left, frame.right - box.x1)
                within_y = np.minimum(box.y0 - frame.top, frame.bottom - box.y1)
                whole = np.minimum(within_x, within_y)
                slack = np.minimum(slack, np.maximum(whole, _apart(frame, box)))
    return slack


def _apart(frame: Frame, box: Extent) -> Floats:
    """How far a frame and a box stand apart, px; negative: how far they overlap."""
    across = np.maximum(frame.left - box.x1, box.x0 - frame.right)
    down = np.maximum(frame.top - box.y1, box.y0 - frame.bottom)
    return np.maximum(across, down)


def _whole_or_absent(ring: Circle, box: Extent) -> Floats:
    far_x = np.maximum(np.abs(box.x0 - ring.x), np.abs(box.x1 - ring.x))
    far_y = np.maximum(np.abs(box.y0 - ring.y), np.abs(box.y1 - ring.y))
    near_x = np.maximum(0, np.maximum(box.x0 - ring.x, ring.x - box.x1))
    near_y = np.maximum(0, np.maximum(box.y0 - ring.y, ring.y - box.y1))
    whole = ring.radius - np.hypot(far_x, far_y)
    absent = np.hypot(near_x, near_y) - ring.radius
    return np.asarray(np.maximum(whole, absent))


def heads_whole(scene: Scene, boxes: Boxes) -> Floats:
    """In a group every principal head stands whole between the seen sides."""
    slack: Floats = ALWAYS
    if not scene.group:
        return slack
    for seen in scene.seen:
        frame = frame_of(boxes, seen)
        for person in scene.people:
            if seen.round:
                ring = circle_of(frame)
                for x in (person.box.x0, person.box.x1):
                    slack = np.minimum(slack, _in_circle(ring, x, person.eye_y))
                continue
            sides = np.minimum(person.box.x0 - frame.left, frame.right - person.box.x1)
            slack = np.minimum(slack, sides)
    return slack


def one_head(scene: Scene, boxes: Boxes) -> Floats:
    """An identity picture: one person, head share and eyes inside the template's limits."""
    share, eye_band = scene.destination.head_share, scene.destination.eye_line
    if share is None:
        return ALWAYS
    if scene.group:
        return np.array(-1.0)
    look = Look(scene, boxes)
    k = scene.mean_head / look.height
    slack = np.minimum(k - share.limit_least, share.limit_most - k)
    if eye_band is not None:
        e = look.eye_line
        slack = np.minimum(slack, np.minimum(e - eye_band.limit_least, eye_band.limit_most - e))
    return np.asarray(slack * look.height)


NEVER: Final[dict[str, Callable[[Scene, Boxes], Floats]]] = {
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


def rules_for(scene: Scene) -> dict[str, Callable[[Scene, Boxes], Floats]]:
    """The never-rules that a scene's destination knows: an uncropped frame only counts pixels."""
    if scene.destination.full_frame:
        return {"pixels": pixels}
    return NEVER
