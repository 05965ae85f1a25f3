"""Crops that reach past the master: a border round it, or its backdrop carried on.

Both are ready-made proposals beside the others; nothing is filled that nobody chose. The master is
imagined larger, and the crop comes back in pixels of the true master, so that what lies outside
says how much is made and not photographed.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import Final, NamedTuple

from cropper.destination.destination import Destination, Frame, ShapeRange, Surround
from cropper.geometry import Crop, Extent, PixelBox, Size
from cropper.proposal.composing import ROUGH, Search
from cropper.proposal.delivering import lying_as
from cropper.proposal.eyes_delivered import eyes_at
from cropper.proposal.measuring import judged, measure, people_inside, people_outside
from cropper.proposal.proposal import Measure, Proposal, Verdict, worst
from cropper.proposal.scene import scene_of
from cropper.proposal.turning import moved_by
from cropper.subject.subject import Finding

LEAST_PHOTOGRAPHED: Final = Fraction(1, 3)
"""Of the crop's width and of its height (house; the same when the file is made)."""
WHITE: Final = "#ffffff"
"""The border's colour where the destination states none."""
BORDERED: Final = "the whole master with a border"
CARRIED_ON: Final = "the backdrop carried on"


class Past(NamedTuple):
    """Master px by which a crop reaches past each edge of the master; 0 where it does not."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def said(self) -> str:
        """The amounts that are not 0.

        >>> Past(210, 0, 180, 0).said
        '210 px left and 180 px right'
        """
        names = ("left", "above", "right", "below")
        parts = [f"{px} px {name}" for px, name in zip(self, names, strict=True) if px]
        return " and ".join(filter(None, (", ".join(parts[:-1]), *parts[-1:])))


def past_edges(box: PixelBox, size: Size) -> Past:
    """How far a crop's box reaches past a master of ``size``."""
    return Past(
        max(0, -box.x0), max(0, -box.y0), max(0, box.x1 - size.width), max(0, box.y1 - size.height)
    )


def photographed(box: PixelBox, size: Size) -> Fraction:
    """Share of the box's width or height, whichever is less, that lies in the master."""
    across = min(box.x1, size.width) - max(box.x0, 0)
    down = min(box.y1, size.height) - max(box.y0, 0)
    return min(Fraction(across, box.width), Fraction(down, box.height))


def filled_as(destination: Destination, proposal: Proposal) -> Destination:
    """The destination with the fill that a chosen proposal brings along, if it brings one."""
    if proposal.fill is Surround.NOTHING:
        return destination
    colour = proposal.fill_colour or destination.finish.border_colour
    finish = replace(destination.finish, fill=proposal.fill, border_colour=colour)
    return replace(destination, finish=finish)


def may_reach(crop: Crop, destination: Destination, size: Size) -> bool:
    """Whether ``destination`` fills what of ``crop`` lies past the master, as far as places go.

    Whether the backdrop is plain enough only the pixels tell, when the file is made.
    """
    past, fill = past_edges(crop.box, size), destination.finish.fill
    if fill is Surround.NOTHING or crop.straighten_deg:
        return False
    if fill is Surround.BACKDROP and past.bottom:
        return False
    return photographed(crop.box, size) >= LEAST_PHOTOGRAPHED


def measured(finding: Finding, destination: Destination, crop: Crop) -> Proposal:
    """Any crop of the photographer's measured by all rules, as :func:`measure` does.

    One that reaches past the master is measured in the filled frame where ``destination`` fills
    it, and is a problem where it does not.
    """
    if crop.box.inside(finding.size) or not may_reach(crop, destination, finding.size):
        return measure(finding, destination, crop)
    return _filled(finding, destination, crop.box, kind="by hand", proposed_by="photographer")


def bordered(finding: Finding, destination: Destination) -> Proposal | None:
    """The whole master with a border in the destination's colour, or white.

    None where a round frame would cut its corners, or too little would be photographed.
    """
    if destination.frame is Frame.CIRCLE or destination.full_frame:
        return None
    size, trim = finding.size, destination.trim
    across, down = float(trim.x1 - trim.x0), float(trim.y1 - trim.y0)
    wide, high = size.width / across, size.height / down
    ratio = _nearest_ratio(destination.shape, wide / high)
    whole = _round_up(max(wide, high * ratio), ratio)
    x0 = (size.width - whole.width) // 2
    y0 = (size.height - whole.height) // 2
    box = PixelBox(x0, y0, x0 + whole.width, y0 + whole.height)
    if box.inside(size) or photographed(box, size) < LEAST_PHOTOGRAPHED:
        return None
    fill = _with_fill(destination, Surround.BORDER)
    return _filled(finding, fill, box, kind=BORDERED)


def carried_on(finding: Finding, destination: Destination) -> Proposal | None:
    """A lying frame whose sides go on past an upright master's backdrop, as high as may be.

    None where the master is wide enough, or less than a third would be photographed.
    """
    size, shape = finding.size, destination.shape
    if destination.frame is Frame.CIRCLE or destination.gutter or not shape.exact:
        return None
    ratio = float(shape.least)
    if ratio <= 1 or size.width / size.height >= ratio:
        return None
    high = min(size.height, math.floor(size.width / ratio / float(LEAST_PHOTOGRAPHED)))
    kept = Fraction(size.width, high)
    narrow = replace(destination, shape=ShapeRange(kept, kept), covered=(), live_areas=())
    best = Search(scene_of(finding, replace(narrow, delivered=None))).best(ROUGH).box
    whole = _round_up(best.height * ratio, ratio)
    x0 = best.x0 - (whole.width - best.width) // 2
    y0 = min(best.y0, size.height - whole.height)
    box = PixelBox(x0, y0, x0 + whole.width, y0 + whole.height)
    if box.inside(size) or photographed(box, size) < LEAST_PHOTOGRAPHED:
        return None
    return _filled(finding, _with_fill(destination, Surround.BACKDROP), box, kind=CARRIED_ON)


def _nearest_ratio(shape: ShapeRange, ratio: float) -> float:
    return min(max(ratio, float(shape.least)), float(shape.most))


def _round_up(wide: float, ratio: float) -> Size:
    width = math.ceil(wide - 1e-9)
    return Size(width, max(1, round(width / ratio)))


def _with_fill(destination: Destination, fill: Surround) -> Destination:
    colour = destination.finish.border_colour or WHITE
    finish = replace(destination.finish, fill=fill, border_colour=colour)
    return replace(destination, finish=finish)


def _filled(
    finding: Finding,
    destination: Destination,
    box: PixelBox,
    *,
    kind: str,
    proposed_by: str = "cropper",
) -> Proposal:
    """A crop past the master, measured in the master as large as the fill makes it."""
    past = past_edges(box, finding.size)
    larger = _larger(finding, past)
    moved = _moved(box, past.left, past.top)
    lying = lying_as(destination, box.size)
    scene = scene_of(larger, lying, people_outside(larger, moved))
    made = judged(scene, Crop(moved), kind=kind, proposed_by=proposed_by, finding=larger)
    finish = destination.finish
    share = photographed(box, finding.size)
    measures = (_inside(finish.fill, share, past), *made.measures)
    verdict = made.verdict
    if finish.fill is Surround.BORDER:
        said = f"A border in {finish.border_colour or WHITE}: {past.said} (px of the master)."
    else:
        said = f"The backdrop is carried on, {past.said} (px of the master), where it is plain."
        verdict = worst(verdict, Verdict.UNCERTAIN)
    return replace(
        made,
        crop=Crop(box),
        reasons=(said, made.reasons[0], *eyes_at(people_inside(larger, moved), made.enlargement)),
        measures=measures,
        verdict=verdict,
        fill=finish.fill,
        fill_colour=finish.border_colour if finish.fill is Surround.BORDER else "",
    )


def _larger(finding: Finding, room: Past) -> Finding:
    """The same people in a master with so much more on each side."""
    size = finding.size
    return replace(
        finding,
        size=Size(
            size.width + room.left + room.right,
            size.height + room.top + room.bottom,
        ),
        subjects=tuple(moved_by(one, room.left, room.top) for one in finding.subjects),
        bodies=tuple(
            Extent(box.x0 + room.left, box.y0 + room.top, box.x1 + room.left, box.y1 + room.top)
            for box in finding.bodies
        ),
    )


def _moved(box: PixelBox, across: int, down: int) -> PixelBox:
    return PixelBox(box.x0 + across, box.y0 + down, box.x1 + across, box.y1 + down)


def _inside(fill: Surround, share: Fraction, past: Past) -> Measure:
    """How much of the filled frame is photographed."""
    least = (float(LEAST_PHOTOGRAPHED), None)
    how = "a border" if fill is Surround.BORDER else "the backdrop carried on"
    return Measure(
        rule="inside",
        title="Inside the master",
        value=float(share),
        unit="of the frame photographed",
        target=least,
        limit=least,
        verdict=Verdict.HOLDS,
        excess=0.0,
        weight=0.0,
        source="house; the destination's finish",
        sentence=f"The crop reaches past the master, {past.said}: {how} fills the frame there.",
    )
