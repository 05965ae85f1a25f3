"""The planner's answer: the best crop first, then a few that are different answers.

There is always an answer as long as there are pixels: a poor crop is shown and named as such, with
the ways out beside it as ready-made proposals. Same subjects in, same answer out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final

from cropper.destination.destination import Destination, Surround
from cropper.geometry import Crop, PixelBox
from cropper.proposal.composing import ROUGH, Search
from cropper.proposal.delivering import lying_as
from cropper.proposal.filling import bordered, carried_on
from cropper.proposal.groups import best_part, other_part
from cropper.proposal.measuring import judged, measure, people_outside
from cropper.proposal.proposal import Answer, Conflict, NoCrop, Proposal, Verdict, WayOut
from cropper.proposal.rules.face_kept import too_low
from cropper.proposal.rules.pixels import NO_CROP_AT
from cropper.proposal.scene import Scene, least_long_px, least_width_px
from cropper.proposal.sizes import largest
from cropper.subject.subject import Finding

__all__ = ["measure", "propose", "propose_all"]

MOST: Final = 4
"""Proposals shown at most, the first included."""
ALIKE: Final = 0.7
ALMOST_SAME: Final = 0.95
"""House: boxes that overlap more than this are shades of one proposal [composition]."""
MIDDLE: Final = 0.5
ALIKE_WITH_TYPE: Final = 0.85
"""House: room for type is another answer to another wish, though the frame moved less."""
ROOM_FOR_TYPE: Final = ("room for type at the left", "room for type at the right")
LOSES: Final = 0.62
"""House: where the first crop keeps less of the master than this, the whole of it is offered."""
SHOULDERS_SHARE: Final = 0.45
FACE_SHARE: Final = 0.62
"""House: skull height over frame height of a head-and-shoulders crop, and of a face; the median of
[squares] is .59."""
LOOSER_STEP: Final = 1.25
TYPE_SPACE_FROM: Final = 1.4
"""House: frames at least so wide are offered with room for type beside the head."""
TYPE_SPACE_U: Final = 0.32
TYPE_SPACE_NEAR: Final = 0.08
"""House: eyes at .32 or .68 across leave room for type; a place so near still does."""


@dataclass(frozen=True, slots=True)
class _Chosen:
    """A box on its way to a proposal."""

    scene: Scene
    box: PixelBox
    cost: float


def propose_all(finding: Finding, destinations: Iterable[Destination]) -> tuple[Answer, ...]:
    """An answer for every destination, in order."""
    return tuple(propose(finding, destination) for destination in destinations)


def propose(finding: Finding, destination: Destination) -> Answer:
    """The best crop of one master for one destination, and different ones beside it.

    No crop remains for three times too few pixels, and for identity pictures that no template
    holds.
    """
    refused = _too_few_pixels(finding, destination) or _no_identity(finding, destination)
    if refused is not None:
        return Answer(destination=destination.name, no_crop=refused)
    first = _first(finding, destination)
    made = _proposal(finding, first, "proposed")
    if destination.full_frame:
        return Answer(destination=destination.name, proposals=(made,))
    if destination.head_share is not None:
        return _identity_answer(destination, made)
    others = _different(made, _alternatives(finding, destination, first, made))
    proposals = (made, *others)
    if _poor(first, made) and destination.finish.fill is not Surround.NOTHING:
        proposals = _filled_first(proposals, destination.finish.fill)
    return Answer(destination=destination.name, proposals=proposals[:MOST])


def _first(finding: Finding, destination: Destination) -> _Chosen:
    """The best of both ways up; the sum itself prefers the master's own."""
    parts = [best_part(finding, lying) for lying in destination.orientations]
    scene, found = min(parts, key=lambda one: one[1].cost)
    return _Chosen(scene, found.box, found.cost)


def _proposal(finding: Finding, chosen: _Chosen, kind: str) -> Proposal:
    return judged(chosen.scene, Crop(chosen.box), kind=kind, proposed_by="cropper", finding=finding)


def _poor(first: _Chosen, made: Proposal) -> bool:
    """Whether the ways out come before other crops: a problem, people left out, a cut face."""
    return made.verdict is Verdict.BREAKS or made.leaves_out > 0 or too_low(first.scene)


def _different(first: Proposal, options: Iterable[Proposal | None]) -> list[Proposal]:
    """Those that are another answer than all before them."""
    chosen: list[Proposal] = []
    for one in options:
        if one is None or len(chosen) == MOST - 1:
            continue
        if all(_unlike(one, other) for other in (first, *chosen)):
            chosen.append(one)
    return chosen


def _unlike(one: Proposal, other: Proposal) -> bool:
    if one.fill is not other.fill:
        return True
    if one.leaves_out != other.leaves_out or one.orientation != other.orientation:
        return one.crop.box.overlap(other.crop.box) < ALMOST_SAME
    alike = ALIKE_WITH_TYPE if one.kind in ROOM_FOR_TYPE else ALIKE
    return one.crop.box.overlap(other.crop.box) < alike


def _filled_first(proposals: tuple[Proposal, ...], fill: Surround) -> tuple[Proposal, ...]:
    """The destination fills its frame by its own finish: that comes before a crop that breaks."""
    return tuple(sorted(proposals, key=lambda one: one.fill is not fill))


def _alternatives(
    finding: Finding, destination: Destination, first: _Chosen, made: Proposal
) -> Iterator[Proposal | None]:
    """Different answers in the order in which a photographer wants them."""
    poor = _poor(first, made)
    if poor:
        yield from _ways_out(finding, destination)
    if not first.scene.people:
        return
    yield _looser(finding, first)
    yield _tighter(finding, first)
    if not poor and _keeps(finding, made.crop.box) < LOSES:
        yield from _ways_out(finding, destination)
    yield from _room_for_type(finding, first)
    if len(finding.principals) > 1:
        yield _other_part(finding, first)
    yield _turned(finding, destination, first)


def _ways_out(finding: Finding, destination: Destination) -> Iterator[Proposal | None]:
    """The whole master with a border, and with its backdrop carried on if it may be plain."""
    nearest = lying_as(destination, finding.size)
    yield bordered(finding, nearest)
    carried = carried_on(finding, nearest)
    if carried is not None and carried.verdict is not Verdict.BREAKS:
        yield carried


def _keeps(finding: Finding, box: PixelBox) -> float:
    return box.width * box.height / (finding.size.width * finding.size.height)


def _looser(finding: Finding, first: _Chosen) -> Proposal | None:
    """The loosest crop that still holds together, where the first left room."""
    biggest = largest(first.scene.size, first.scene.destination.shape)
    most = max(biggest.width, biggest.height)
    longer = max(first.box.width, first.box.height)
    if most < longer * LOOSER_STEP:
        return None
    return _sized(finding, first, (longer * LOOSER_STEP, math.inf), "looser")


def _tighter(finding: Finding, first: _Chosen) -> Proposal | None:
    """Head and shoulders, or the face, whichever is the next step in."""
    scene, high = first.scene, first.box.height
    if scene.group:
        return None  # nearer, it would cut the outer heads
    share = scene.mean_head / high
    longer = max(first.box.width, first.box.height)
    for wanted, kind in ((SHOULDERS_SHARE, "head and shoulders"), (FACE_SHARE, "face")):
        if share * LOOSER_STEP <= wanted:
            at = longer * share / wanted
            return _sized(finding, first, (at * 0.93, at * 1.07), kind)
    return None


def _sized(
    finding: Finding, first: _Chosen, between: tuple[float, float], kind: str
) -> Proposal | None:
    """The best crop whose longer side lies between two, px; none if it is a problem."""
    found = Search(first.scene, between=between).best(ROUGH)
    made = _proposal(finding, _Chosen(first.scene, found.box, found.cost), kind)
    return None if made.verdict is Verdict.BREAKS else made


def _room_for_type(finding: Finding, first: _Chosen) -> Iterator[Proposal | None]:
    """In lying frames, the head on one side and the other left free."""
    scene = first.scene
    if scene.group or scene.circle or scene.destination.gutter is not None:
        return
    if first.box.width < first.box.height * TYPE_SPACE_FROM:
        return
    for u, kind in zip((1 - TYPE_SPACE_U, TYPE_SPACE_U), ROOM_FOR_TYPE, strict=True):
        aside = replace(scene, eyes_wanted=(u - 0.04, u + 0.04))
        beside = scene.eyes_x / u if u > MIDDLE else (scene.size.width - scene.eyes_x) / (1 - u)
        found = Search(aside, between=(0.0, beside)).best(ROUGH)
        place = (scene.eyes_x - found.box.x0) / found.box.width
        if abs(place - u) <= TYPE_SPACE_NEAR:  # else the master has no such room
            yield _proposal(finding, _Chosen(scene, found.box, found.cost), kind)


def _other_part(finding: Finding, first: _Chosen) -> Proposal | None:
    """A natural part of the group, where the first holds everybody."""
    part = other_part(finding, first.scene.destination, first.scene)
    if part is None:
        return None
    scene, found = part
    kept, of = len(scene.people), len(finding.principals)
    if len(people_outside(finding, found.box)) < of - kept:
        return None  # it holds those left out as well: no other answer
    made = _proposal(finding, _Chosen(scene, found.box, found.cost), f"{kept} of {of} people")
    return None if made.verdict is Verdict.BREAKS else made


def _turned(finding: Finding, destination: Destination, first: _Chosen) -> Proposal | None:
    """The other way up, where the destination leaves it open."""
    for lying in destination.orientations:
        if lying.shape != first.scene.destination.shape:
            scene, found = best_part(finding, lying, ROUGH)
            kind = "on its side" if found.box.width > found.box.height else "upright"
            made = _proposal(finding, _Chosen(scene, found.box, found.cost), kind)
            return None if made.verdict is Verdict.BREAKS else made
    return None


def _identity_answer(destination: Destination, made: Proposal) -> Answer:
    """An identity picture outside its template is no crop; what is in doubt stays a proposal."""
    template = {"head in the template", "eyes in the template"}
    missed = [
        one
        for one in made.measures
        if one.rule in template
        and one.verdict in {Verdict.BREAKS, Verdict.UNCERTAIN}
        and one.excess > one.uncertainty
    ]
    if not missed:
        return Answer(destination=destination.name, proposals=(made,))
    sentence = f"No crop fits the template: {missed[0].sentence[0].lower()}{missed[0].sentence[1:]}"
    return Answer(destination=destination.name, no_crop=_no_crop(destination, sentence))


def _no_identity(finding: Finding, destination: Destination) -> NoCrop | None:
    if destination.head_share is None:
        return None
    count = len(finding.principals)
    if count == 1:
        return None
    if count == 0:
        why = finding.problem or "nobody was found"
        return _no_crop(destination, f"An identity picture needs the eyes, and {_lower(why)}")
    return _no_crop(destination, f"An identity picture shows one person, and here are {count}.")


def _too_few_pixels(finding: Finding, destination: Destination) -> NoCrop | None:
    short = []
    for lying in destination.orientations:
        least_width, least_long = least_width_px(lying), least_long_px(lying)
        biggest = finding.size if lying.full_frame else largest(finding.size, lying.shape)
        long = max(biggest.width, biggest.height)
        times = max(least_width / biggest.width, least_long / long)
        by_width = least_width > least_long
        need, has = (least_width, biggest.width) if by_width else (least_long, long)
        short.append((times, math.ceil(need), has))
    times, need, has = min(short)
    if times < NO_CROP_AT:
        return None
    sentence = f"Far too few pixels: needs {need} px, has {has}."
    return replace(
        _no_crop(destination, sentence),
        conflicts=(
            Conflict(
                first=f"{destination.title} needs {need} px",
                second=f"the largest crop of this shape has {has} px",
                short_px=need - has,
                side="width",
                sentence=f"{need - has} px are missing.",
            ),
        ),
    )


def _no_crop(destination: Destination, sentence: str) -> NoCrop:
    return NoCrop(
        destination=destination.name,
        conflicts=(),
        ways_out=(
            WayOut(kind="eyes", sentence="Place the eyes by hand if they are wrong."),
            WayOut(kind="version", sentence="Take another picture."),
        ),
        sentence=sentence,
    )


def _lower(said: str) -> str:
    return said[:1].lower() + said[1:]
