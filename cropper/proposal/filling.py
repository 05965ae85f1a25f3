"""When nothing fits and the destination fills its frame: a crop that reaches past the master.

The photographer opts in by the preset. The master is imagined larger on the side where room is
short, and the same search is asked again; the crop comes back in pixels of the true master, so that
what lies outside it says how much is made and not photographed.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Final, NamedTuple

from cropper.destination.destination import Destination, Surround
from cropper.geometry import Crop, PixelBox, Size
from cropper.proposal.composing import Ladder
from cropper.proposal.conflicts import AROUND, SIDE_WORDS
from cropper.proposal.delivering import lying_as
from cropper.proposal.measuring import judged, measure
from cropper.proposal.proposal import Measure, NoCrop, Proposal, Verdict, WayOut
from cropper.proposal.scene import scene_of
from cropper.proposal.turning import moved_by
from cropper.subject.subject import Finding

MORE_ROOM: Final = (4, 8, 12, 2, 1)
"""House: so many times the room that is short is looked at, for a framing better than the least;
the first that breaks no rule is taken, else the first that there is."""
LEAST_PHOTOGRAPHED: Final = Fraction(1, 3)
"""Of the crop's width and of its height (house; the same when the file is made)."""
NEVER_BELOW: Final = ("bottom", "height", AROUND)
"""A body stands on the lower edge: no backdrop is carried on there."""


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


def filled(finding: Finding, destination: Destination, no_crop: NoCrop) -> Proposal | None:
    """The crop whose frame is filled as ``destination`` says; None when it may not, or cannot."""
    kind = destination.finish.fill
    way = next((one for one in no_crop.ways_out if one.kind == kind.value and one.px), None)
    if way is None or (kind is Surround.BACKDROP and way.side in NEVER_BELOW):
        return None
    first = None
    for times in MORE_ROOM:
        found = _in_larger(finding, destination, way, times)
        if found is not None and found.verdict is not Verdict.BREAKS:
            return found
        first = first or found
    return first


def unfilled(why: NoCrop, destination: Destination) -> NoCrop:
    """Why there is no crop although ``destination`` may be filled, said among the ways out."""
    kind = destination.finish.fill
    ways = tuple(
        replace(one, sentence=_refused(kind, one)) if one.kind == kind.value and one.px else one
        for one in why.ways_out
    )
    return replace(why, ways_out=ways)


def _refused(kind: Surround, way: WayOut) -> str:
    where = f"{way.px} px are short {SIDE_WORDS[way.side]}"
    if kind is Surround.BACKDROP and way.side in NEVER_BELOW:
        return f"No backdrop is carried on below a person: {where}."
    least = f"{float(LEAST_PHOTOGRAPHED):.0%}"
    return f"Filling would leave less than {least} of the frame photographed: {where}."


def measured(finding: Finding, destination: Destination, crop: Crop) -> Proposal:
    """Any crop of the photographer's measured by all rules, as :func:`measure` does.

    One that reaches past the master is measured in the filled frame where ``destination`` fills
    it, and breaks the rule "inside" where it does not. Raises ValueError without a principal.
    """
    past = past_edges(crop.box, finding.size)
    if not any(past) or not may_reach(crop, destination, finding.size):
        return measure(finding, destination, crop)
    scene = scene_of(_larger(finding, past), lying_as(destination, crop.box.size))
    moved = Crop(_moved(crop.box, past.left, past.top))
    made = judged(scene, moved, kind="by hand", proposed_by="photographer")
    why = "The crop reaches past the master"
    return _told(replace(made, crop=crop), destination, why, finding.size)


def _in_larger(
    finding: Finding, destination: Destination, way: WayOut, times: int
) -> Proposal | None:
    """The best crop of a master that is so much larger on the side that lacks room."""
    room = _room(way, way.px * times)
    scene = scene_of(_larger(finding, room), destination)
    best = Ladder(scene).best()
    if best is None:
        return None
    there = _moved(best.box, -room.left, -room.top)
    if photographed(there, finding.size) < LEAST_PHOTOGRAPHED:
        return None
    kind = _kind(destination)
    made = judged(scene, Crop(best.box), kind=kind, proposed_by="cropper", cost=best.cost)
    why = f"The master is too small {SIDE_WORDS[way.side].partition(',')[0]}"
    return _told(replace(made, crop=Crop(there)), destination, why, finding.size)


def _room(way: WayOut, px: int) -> Past:
    """Where ``px`` more go, for the side that lacks them."""
    left = {"left": px, "sides": px // 2, AROUND: px // 2}.get(way.side, 0)
    top = {"top": px, "height": px // 2, AROUND: px // 2}.get(way.side, 0)
    across = px if way.side in {"left", "right", "sides", AROUND} else 0
    down = px if way.side in {"top", "bottom", "height", AROUND} else 0
    return Past(left, top, across - left, down - top)


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
    )


def _moved(box: PixelBox, across: int, down: int) -> PixelBox:
    return PixelBox(box.x0 + across, box.y0 + down, box.x1 + across, box.y1 + down)


def _kind(destination: Destination) -> str:
    backdrop = destination.finish.fill is Surround.BACKDROP
    return "backdrop carried on" if backdrop else "with a border"


def _told(made: Proposal, destination: Destination, why: str, size: Size) -> Proposal:
    """The proposal with the reason first; a backdrop is for the photographer's eye to judge."""
    past = past_edges(made.crop.box, size)
    finish, share = destination.finish, photographed(made.crop.box, size)
    measures = tuple(_truly(one, finish.fill, share, past) for one in made.measures)
    if finish.fill is Surround.BORDER:
        said = f"{why}: a border in {finish.border_colour}, {past.said} (px of the master)."
        return replace(made, reasons=(said, *made.reasons), measures=measures)
    said = (
        f"{why}: the backdrop is carried on, {past.said} (px of the master), not photographed,"
        " and only if it is measurably plain there."
    )
    verdict = made.verdict if made.verdict is Verdict.BREAKS else Verdict.UNCERTAIN
    return replace(made, reasons=(said, *made.reasons), measures=measures, verdict=verdict)


def _truly(one: Measure, fill: Surround, share: Fraction, past: Past) -> Measure:
    """The rule "inside" as it stands: the frame is filled, and so much of it is photographed."""
    if one.rule != "inside":
        return one
    least = (float(LEAST_PHOTOGRAPHED), None)
    how = "a border" if fill is Surround.BORDER else "the backdrop carried on"
    return replace(
        one,
        value=float(share),
        unit="of the frame photographed",
        target=least,
        limit=least,
        source="house; the destination's finish",
        sentence=f"The crop reaches past the master, {past.said}: {how} fills the frame there.",
    )
