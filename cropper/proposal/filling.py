"""When nothing fits and the destination fills its frame: a crop that reaches past the master.

The photographer opts in by the preset. The master is imagined larger on the side where room is
short, and the same search is asked again; the crop comes back in pixels of the true master, so that
what lies outside it says how much is made and not photographed.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Final

from cropper.destination.destination import Destination, Surround
from cropper.geometry import Crop, PixelBox, Size
from cropper.proposal.composing import Ladder
from cropper.proposal.conflicts import AROUND, SIDE_WORDS
from cropper.proposal.measuring import judged
from cropper.proposal.proposal import NoCrop, Proposal, Verdict, WayOut
from cropper.proposal.scene import scene_of
from cropper.proposal.turning import moved_by
from cropper.subject.subject import Finding

MORE_ROOM: Final = (4, 2, 1)
"""House: more than the room that is short is looked at first, for a framing better than the
least."""
LEAST_PHOTOGRAPHED: Final = Fraction(1, 3)
"""Of the crop's width and of its height (house; the same when the file is made)."""
NEVER_BELOW: Final = ("bottom", "height", AROUND)
"""A body stands on the lower edge: no backdrop is carried on there."""


def filled(finding: Finding, destination: Destination, no_crop: NoCrop) -> Proposal | None:
    """The crop whose frame is filled as ``destination`` says; None when it may not, or cannot."""
    kind = destination.finish.fill
    way = next((one for one in no_crop.ways_out if one.kind == kind.value and one.px), None)
    if way is None or (kind is Surround.BACKDROP and way.side in NEVER_BELOW):
        return None
    found = (_in_larger(finding, destination, way, times) for times in MORE_ROOM)
    return next((one for one in found if one is not None), None)


def _in_larger(
    finding: Finding, destination: Destination, way: WayOut, times: int
) -> Proposal | None:
    """The best crop of a master that is so much larger on the side that lacks room."""
    px = way.px * times
    left = {"left": px, "sides": px // 2, AROUND: px // 2}.get(way.side, 0)
    top = {"top": px, "height": px // 2, AROUND: px // 2}.get(way.side, 0)
    across = px if way.side in {"left", "right", "sides", AROUND} else 0
    down = px if way.side in {"top", "bottom", "height", AROUND} else 0
    larger = replace(
        finding,
        size=Size(finding.size.width + across, finding.size.height + down),
        subjects=tuple(moved_by(one, left, top) for one in finding.subjects),
    )
    scene = scene_of(larger, destination)
    best = Ladder(scene).best()
    if best is None:
        return None
    box = best.box
    there = PixelBox(box.x0 - left, box.y0 - top, box.x1 - left, box.y1 - top)
    if photographed(there, finding.size) < LEAST_PHOTOGRAPHED:
        return None
    made = judged(scene, Crop(box), kind=_kind(destination), proposed_by="cropper", cost=best.cost)
    return _told(replace(made, crop=Crop(there)), destination, way)


def photographed(box: PixelBox, size: Size) -> Fraction:
    """Share of the box's width or height, whichever is less, that lies in the master."""
    across = min(box.x1, size.width) - max(box.x0, 0)
    down = min(box.y1, size.height) - max(box.y0, 0)
    return min(Fraction(across, box.width), Fraction(down, box.height))


def _kind(destination: Destination) -> str:
    backdrop = destination.finish.fill is Surround.BACKDROP
    return "backdrop carried on" if backdrop else "with a border"


def _told(made: Proposal, destination: Destination, way: WayOut) -> Proposal:
    """The proposal with the reason first; a backdrop is for the photographer's eye to judge."""
    where = SIDE_WORDS[way.side]
    if destination.finish.fill is Surround.BORDER:
        said = f"The master is too small {where}: a border in {destination.finish.border_colour}."
        return replace(made, reasons=(said, *made.reasons))
    said = (
        f"The master is too small {where}: the backdrop is carried on, not photographed,"
        " and only if it is measurably plain there."
    )
    verdict = made.verdict if made.verdict is Verdict.BREAKS else Verdict.UNCERTAIN
    return replace(made, reasons=(said, *made.reasons), verdict=verdict)
