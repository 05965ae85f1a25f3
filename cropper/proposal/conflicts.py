"""When nothing fits: which demands are in conflict, by how many master pixels, and the ways out.

Found by asking the same search again: what if the master reached further on one side, or a rule
were not there? The least extension that gives a crop is the amount told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from cropper.geometry import Size
from cropper.proposal.composing import Ladder
from cropper.proposal.proposal import Conflict, NoCrop, WayOut
from cropper.proposal.scene import Scene, scene_of
from cropper.proposal.sizes import largest
from cropper.proposal.turning import moved_by
from cropper.subject.subject import Finding

GREATEST_EXTENSION: Final = 4.0
"""House: beyond four times the master's longer side no border is a way out."""
PROBES: Final = 14
"""Halvings of the amount: 1/16000 of the longest extension, below a pixel of most masters."""

ONE_SIDED: Final = 0.9
"""House: room on one side is the better answer when it is a tenth less than on both."""
SIDES: Final = ("sides", "height", "top", "bottom", "left", "right")
AROUND: Final = "around"
"""Room in width and in height at once: looked at when no side alone gives a crop."""
SIDE_WORDS: Final = {
    "top": "above the head",
    "bottom": "below the chin",
    "left": "on the left",
    "right": "on the right",
    "sides": "at the sides, half on each",
    "height": "in height, half above and half below",
    AROUND: "both in width and in height, half on each side",
}


@dataclass(frozen=True, slots=True)
class _Short:
    side: str
    px: int


def no_crop(finding: Finding, scene: Scene) -> NoCrop:
    """Say why a destination has no crop of a master."""
    destination = scene.destination
    identity = _identity_conflict(scene)
    if identity is not None:
        return _told(scene, (identity,), _other_ways())
    small = _small_head_conflict(scene)
    if small is not None:
        return _told(scene, (small,), (_larger_head(scene, small), *_other_ways()))
    pixels = _pixels_conflict(scene)
    if pixels is not None:
        return _told(scene, (pixels,), (_fewer_pixels(scene), *_other_ways()))
    short = _shortest(finding, scene)
    conflicts: list[Conflict] = []
    ways: list[WayOut] = []
    if short is not None:
        conflicts.append(_room_conflict(scene, short))
        share = math.ceil(100 * short.px / _along(scene.size, short.side))
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
                sentence=(f"Shoot one looser: {share} % more room {SIDE_WORDS[short.side]}."),
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
    if scene.group:
        ways.append(
            WayOut(
                kind="principals", sentence="Name fewer principal persons by hand: --principal N."
            )
        )
    return _told(scene, tuple(conflicts), (*ways, *_other_ways()))


def _identity_conflict(scene: Scene) -> Conflict | None:
    """An identity picture of several people, or of a head the template cannot hold."""
    if scene.destination.head_share is None or not scene.group:
        return None
    return Conflict(
        first=f"{scene.destination.title} shows one person",
        second=f"{len(scene.people)} principal persons are in the picture",
        short_px=0,
        side="",
        sentence=f"An identity picture shows one person, and here are {len(scene.people)}.",
    )


def _small_head_conflict(scene: Scene) -> Conflict | None:
    """An identity picture whose head has fewer pixels than the template's least share needs."""
    share = scene.destination.head_share
    if share is None:
        return None
    shape, head = float(scene.destination.shape.most), scene.mean_head
    widest = head / share.limit_least * shape
    if widest >= scene.least_width:
        return None
    need = math.ceil(scene.least_width / shape * share.limit_least)
    return Conflict(
        first=f"{scene.destination.title} needs a head at least {need} px high",
        second=f"the head is {head:.0f} px high",
        short_px=math.ceil(scene.least_width - widest),
        side="width",
        sentence=(
            f"The head is {head:.0f} px high, and its pixels and least head share ask for {need}."
        ),
    )


def _larger_head(scene: Scene, conflict: Conflict) -> WayOut:
    more = math.ceil(100 * conflict.short_px / (scene.least_width - conflict.short_px))
    return WayOut(
        kind="shoot",
        sentence=f"Shoot one nearer or with more pixels: the head {more} % larger.",
        px=conflict.short_px,
        side=conflict.side,
    )


def _other_ways() -> tuple[WayOut, ...]:
    return (WayOut(kind="version", sentence="Another version of the set, if one fits."),)


def _told(scene: Scene, conflicts: tuple[Conflict, ...], ways: tuple[WayOut, ...]) -> NoCrop:
    told = conflicts[0].sentence
    sentence = f"No crop for {scene.destination.title}: {told[0].lower()}{told[1:]}"
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
    wide = need_w - biggest.width >= short
    asked, along = (need_w, "wide") if wide else (need_long, "on the long side")
    return Conflict(
        first=f"{scene.destination.title} needs a crop at least {max(need_w, need_long):.0f} px",
        second=f"the master's largest crop of this shape is {biggest.width} x {biggest.height} px",
        short_px=amount,
        side="width",
        sentence=(
            f"The largest crop of this shape is {biggest.width} x {biggest.height} px; at least"
            f" {asked:.0f} px {along} are asked, {amount} px short."
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
        sentence=f"{limited.capitalize()} do not fit its shape: {short.px} px are short {where}.",
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
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _shape_words(scene: Scene) -> str:
    shape = scene.destination.shape
    least, most = shape.least, shape.most
    if shape.exact:
        return f"{least.numerator}:{least.denominator}"
    return f"{float(least):.2f} to {float(most):.2f}"


def _along(size: Size, side: str) -> int:
    return size.height if side in ("top", "bottom", "height") else size.width


def _shortest(finding: Finding, scene: Scene) -> _Short | None:
    """The side on which the least extension of the master would give a crop."""
    most = int(GREATEST_EXTENSION * max(scene.size.width, scene.size.height))
    best: _Short | None = None
    ladder = Ladder(scene)
    for side in (*SIDES, AROUND):
        if side == AROUND and best is not None:
            break
        # one-sided room is told only when it is clearly less than room shared by both sides
        reach = most if best is None else int(ONE_SIDED * best.px) - 1
        if reach < 1 or not _fits(finding, ladder, side, reach):
            continue
        low, high = 0, reach
        for _ in range(PROBES):
            if high - low <= 1:
                break
            middle = (low + high) // 2
            low, high = (low, middle) if _fits(finding, ladder, side, middle) else (middle, high)
        best = _Short(side, high)
    return best


def _fits(finding: Finding, ladder: Ladder, side: str, px: int) -> bool:
    scene = ladder.scene
    left = {"left": px, "sides": px // 2, AROUND: px // 2}.get(side, 0)
    top = {"top": px, "height": px // 2, AROUND: px // 2}.get(side, 0)
    across = px if side in ("left", "right", "sides", AROUND) else 0
    down = px if side in ("top", "bottom", "height", AROUND) else 0
    size = Size(finding.size.width + across, finding.size.height + down)
    boxes = [one.head_box for one in finding.principals]
    if all(box.x0 >= 0 and box.x1 <= finding.size.width for box in boxes):
        return Ladder(replace(scene, size=size, corner=(-left, -top)), like=ladder).fits()
    # a head that the master's side cuts has more to show: everybody is looked at anew
    moved = tuple(moved_by(one, left, top) for one in finding.subjects)
    wider = replace(finding, size=size, subjects=moved)
    return Ladder(scene_of(wider, scene.destination)).fits()
