"""When nothing fits: which demands are in conflict, by how many master pixels, and the ways out.

Found by asking the same search again: what if the master reached further on one side, or a rule
were not there? The least extension that gives a crop is the amount told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from cropper.geometry import Size
from cropper.proposal.composing import fits_somewhere
from cropper.proposal.proposal import Conflict, NoCrop, WayOut
from cropper.proposal.scene import Scene, scene_of
from cropper.proposal.sizes import largest
from cropper.proposal.turning import moved_by
from cropper.subject.subject import Finding

GREATEST_EXTENSION: Final = 4.0
"""House: beyond four times the master's longer side no border is a way out."""
PROBES: Final = 14
"""Halvings of the amount: 1/16000 of the longest extension, below a pixel of most masters."""

SIDES: Final = ("sides", "top", "bottom", "left", "right")
SIDE_WORDS: Final = {
    "top": "above the head",
    "bottom": "below the chin",
    "left": "on the left",
    "right": "on the right",
    "sides": "at the sides, half on each",
}


@dataclass(frozen=True, slots=True)
class _Short:
    side: str
    px: int


def no_crop(finding: Finding, scene: Scene) -> NoCrop:
    """Say why a destination has no crop of a master."""
    destination = scene.destination
    pixels = _pixels_conflict(scene)
    if pixels is not None:
        return _told(scene, (pixels,), (_fewer_pixels(scene), *_other_ways()))
    short = _shortest(finding, scene)
    conflicts: list[Conflict] = []
    ways: list[WayOut] = []
    if short is not None:
        conflicts.append(_room_conflict(scene, short))
        share = short.px / _along(scene.size, short.side)
        ways.append(
            WayOut(
                kind="border",
                sentence=f"A border in a stated colour, {short.px} px {SIDE_WORDS[short.side]}.",
                px=short.px,
                side=short.side,
            )
        )
        ways.append(
            WayOut(
                kind="backdrop",
                sentence="An extended backdrop where the edge strip is measurably plain (opt-in).",
                px=short.px,
                side=short.side,
            )
        )
        ways.append(
            WayOut(
                kind="shoot",
                sentence=(
                    f"Shoot one looser: {100 * share:.0f} % more room {SIDE_WORDS[short.side]}."
                ),
                px=short.px,
                side=short.side,
            )
        )
    else:
        conflicts.append(
            Conflict(
                first=f"{destination.title} of this shape",
                second="eyes and chin of every principal person with room to spare",
                short_px=0,
                side="",
                sentence="No place of any size keeps every person's eyes and chin as it must.",
            )
        )
    return _told(scene, tuple(conflicts), (*ways, *_other_ways()))


def _other_ways() -> tuple[WayOut, ...]:
    return (WayOut(kind="version", sentence="Another version of the set, if one fits."),)


def _told(scene: Scene, conflicts: tuple[Conflict, ...], ways: tuple[WayOut, ...]) -> NoCrop:
    sentence = f"No crop for {scene.destination.title}: {conflicts[0].sentence}"
    return NoCrop(
        destination=scene.destination.name,
        conflicts=conflicts,
        ways_out=ways,
        sentence=sentence,
    )


def _pixels_conflict(scene: Scene) -> Conflict | None:
    biggest = largest(scene.size, scene.destination.shape)
    need_w, need_long = scene.least_width, scene.least_long
    short = max(need_w - biggest.width, need_long - max(biggest.width, biggest.height))
    if short <= 0:
        return None
    amount = round(short)
    return Conflict(
        first=f"{scene.destination.title} needs a crop at least {max(need_w, need_long):.0f} px",
        second=f"the master's largest crop of this shape is {biggest.width} x {biggest.height} px",
        short_px=amount,
        side="width",
        sentence=(
            f"the largest crop of this shape is {biggest.width} x {biggest.height} px,"
            f" {amount} px short of what its pixels and greatest enlargement ask."
        ),
    )


def _fewer_pixels(scene: Scene) -> WayOut:
    biggest = largest(scene.size, scene.destination.shape)
    inches = scene.destination.width_in_inches()
    if inches is not None:
        density = float(biggest.width / inches)
        return WayOut(
            kind="enlarge",
            sentence=(
                f"A smaller print, or a preset of yours that allows {density:.0f} ppi"
                " if the printer agrees."
            ),
        )
    return WayOut(
        kind="enlarge",
        sentence=(
            f"A preset of yours that delivers at most {biggest.width} x {biggest.height} px,"
            " or a larger master."
        ),
    )


def _room_conflict(scene: Scene, short: _Short) -> Conflict:
    title = scene.destination.title
    where = SIDE_WORDS[short.side]
    limited = _what_else(scene)
    return Conflict(
        first=f"{title} (shape {_shape_words(scene)})",
        second=limited,
        short_px=short.px,
        side=short.side,
        sentence=f"{limited} do not fit its shape: it needs {short.px} px more {where}.",
    )


def _what_else(scene: Scene) -> str:
    parts = ["eyes and chin with room to spare"]
    if scene.group:
        parts = [f"{len(scene.people)} heads kept whole"]
    if scene.destination.gutter is not None:
        parts.append("a gutter free of faces")
    if scene.zones:
        parts.append("the covered zones kept clear")
    if len(scene.seen) > 1:
        parts.append("every live area")
    if scene.bystanders:
        parts.append("other heads whole or absent")
    return ", ".join(parts)


def _shape_words(scene: Scene) -> str:
    shape = scene.destination.shape
    least, most = shape.least, shape.most
    if shape.exact:
        return f"{least.numerator}:{least.denominator}"
    return f"{float(least):.2f} to {float(most):.2f}"


def _along(size: Size, side: str) -> int:
    return size.height if side in ("top", "bottom") else size.width


def _shortest(finding: Finding, scene: Scene) -> _Short | None:
    """The side on which the least extension of the master would give a crop."""
    most = int(GREATEST_EXTENSION * max(scene.size.width, scene.size.height))
    best: _Short | None = None
    for side in SIDES:
        reach = most if best is None else best.px - 1
        if reach < 1 or not _fits(finding, scene, side, reach):
            continue
        low, high = 0, reach
        for _ in range(PROBES):
            if high - low <= 1:
                break
            middle = (low + high) // 2
            low, high = (low, middle) if _fits(finding, scene, side, middle) else (middle, high)
        best = _Short(side, high)
    return best


def _fits(finding: Finding, scene: Scene, side: str, px: int) -> bool:
    left = {"left": px, "sides": px // 2}.get(side, 0)
    top = px if side == "top" else 0
    across = px if side in ("left", "right", "sides") else 0
    down = px if side in ("top", "bottom") else 0
    size = Size(finding.size.width + across, finding.size.height + down)
    wider = replace(
        finding,
        size=size,
        subjects=tuple(moved_by(one, left, top) for one in finding.subjects),
    )
    return fits_somewhere(scene_of(wider, scene.destination))
