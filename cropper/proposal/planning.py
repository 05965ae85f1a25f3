"""Up to three proposals per destination, best first, that differ in kind; or no crop, and why.

Kinds: the asked framing; tighter or looser; crown whole or cut; the other page of a spread. Same
subjects in, same answer out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from cropper.destination.destination import Destination, Surround
from cropper.destination.shots import DEPTHS, Shot
from cropper.geometry import Crop, PixelBox
from cropper.proposal import graded
from cropper.proposal.composing import (
    Ladder,
    boxes_of,
    cost_of,
)
from cropper.proposal.conflicts import no_crop
from cropper.proposal.filling import filled, unfilled
from cropper.proposal.frames import Look
from cropper.proposal.measuring import judged, measure, shot_of
from cropper.proposal.proposal import Answer, Conflict, Cost, NoCrop, Proposal, Verdict, WayOut
from cropper.proposal.scene import Scene, scene_of
from cropper.proposal.wishes import ANYTHING, Crown, Found, Page, Wish
from cropper.subject.subject import Finding

__all__ = ["measure", "propose", "propose_all"]

MOST: Final = 3
"""Proposals shown at most."""
ALIKE: Final = 0.9
"""House: boxes that overlap more than this are shades of one proposal."""
SHOTS: Final = tuple(Shot)


@dataclass(frozen=True)
class _Candidate:
    """A box on its way to a proposal: its scene, and the search that found it with its wish."""

    scene: Scene
    box: PixelBox
    kind: str
    cost: Cost
    ladder: Ladder
    found: Found
    wish: Wish = ANYTHING

    @cached_property
    def proposal(self) -> Proposal:
        """The box as it is shown."""
        return judged(
            self.scene, Crop(self.box), kind=self.kind, proposed_by="cropper", cost=self.cost
        )


def propose_all(finding: Finding, destinations: Iterable[Destination]) -> tuple[Answer, ...]:
    """An answer for every destination, in order."""
    return tuple(propose(finding, destination) for destination in destinations)


def propose(finding: Finding, destination: Destination) -> Answer:
    """The best crops of one master for one destination, or why there is none.

    A finding without a principal subject gets no proposal: the eyes must be placed by hand first.
    """
    if not finding.principals:
        return _no_eyes(finding, destination)
    scenes = [scene_of(finding, one) for one in destination.orientations]
    best = _best_way_up(scenes)
    if best is None:
        return _nothing_fits(finding, destination, scenes)
    ladder, found = best
    kind = "as asked" if found.cost[1] == 0 else "nearest to what was asked"
    first = _Candidate(ladder.scene, found.box, kind, found.cost, ladder, found)
    chosen = [first, *_others(first)]
    return Answer(
        destination=destination.name,
        proposals=tuple(one.proposal for one in chosen),
    )


def _best_way_up(scenes: list[Scene]) -> tuple[Ladder, Found] | None:
    """The better of the orientations, with the search that found it.

    As the master lies comes first: what costs nothing there no other way up can better.
    """
    best: tuple[Ladder, Found] | None = None
    for scene in sorted(scenes, key=_turned_away):
        if best is not None and not any(best[1].cost[:-1]):
            break
        ladder = Ladder(scene)
        found = ladder.best()
        if found is not None and (best is None or found.cost[:-1] < best[1].cost[:-1]):
            best = ladder, found
    return best


def _nothing_fits(finding: Finding, destination: Destination, scenes: list[Scene]) -> Answer:
    """Why, or the crop past the master that the destination's finish knows how to fill."""
    why = _why(finding, scenes)
    if destination.finish.fill is Surround.NOTHING:
        return Answer(destination=destination.name, no_crop=why)
    ways = (filled(finding, one.destination, why) for one in scenes)
    crop = next((one for one in ways if one is not None), None)
    if crop is None:
        return Answer(destination=destination.name, no_crop=unfilled(why, destination))
    return Answer(destination=destination.name, proposals=(crop,))


def _turned_away(scene: Scene) -> bool:
    """Whether a frame lies otherwise than the master: on a tie the photographer's own way wins."""
    lying = scene.destination.shape.least > 1
    return lying != (scene.size.width > scene.size.height)


def _why(finding: Finding, scenes: list[Scene]) -> NoCrop:
    """Of two orientations, the one that lacks the least."""
    told = [no_crop(finding, scene) for scene in scenes]
    return min(told, key=lambda one: one.conflicts[0].short_px or float("inf"))


def _no_eyes(finding: Finding, destination: Destination) -> Answer:
    sentence = finding.problem or "nobody was found in this picture"
    return Answer(
        destination=destination.name,
        no_crop=NoCrop(
            destination=destination.name,
            conflicts=(
                Conflict(
                    first="a crop is led by the eyes",
                    second="no eyes are known",
                    short_px=0,
                    side="",
                    sentence=sentence,
                ),
            ),
            ways_out=(WayOut(kind="eyes", sentence="Place the eyes by hand: --eyes X,Y X,Y."),),
            sentence=f"Nothing proposed: {sentence}",
        ),
    )


def _others(first: _Candidate) -> list[_Candidate]:
    """Up to two more that differ in kind, by cost under the destination's own wishes."""
    if first.scene.destination.full_frame:
        return []
    options = sorted(_options(first), key=lambda one: one.cost)
    chosen: list[_Candidate] = []
    for one in options:
        if len(chosen) == MOST - 1:
            break
        earlier = [first, *chosen]
        if one.kind in {other.kind for other in chosen}:
            continue
        if any(one.box.overlap(other.box) > ALIKE for other in earlier):
            continue
        settled = _settled(one)
        if _worth_showing(settled.proposal):
            chosen.append(settled)
    return chosen


def _settled(one: _Candidate) -> _Candidate:
    """The candidate one round finer: alternatives need not be the optimum to the pixel."""
    found = one.ladder.refined(one.found, one.wish, rounds=1)
    own = one.ladder.scene is one.scene
    cost = found.cost if own else cost_of(one.scene, found.box)
    return replace(one, box=found.box, cost=cost)


def _worth_showing(one: Proposal) -> bool:
    """Another framing may leave the asked band, but no other rule's limit."""
    return not any(
        rule.verdict is Verdict.BREAKS and rule.rule != "framing" for rule in one.measures
    )


def _options(first: _Candidate) -> Iterator[_Candidate]:
    scene, ladder = first.scene, first.ladder
    for kind, wish in _wishes(first):
        found = ladder.rough(wish)
        if found is not None:
            yield _Candidate(scene, found.box, kind, found.cost, ladder, found, wish)
    for kind, band in _bands(first):
        other = Ladder(scene.wanting(band), like=ladder)
        found = other.rough(well_framed_only=True) if other.least_framing == 0 else None
        if found is not None and _reached(found):
            yield _Candidate(scene, found.box, kind, cost_of(scene, found.box), other, found)


def _reached(found: Found) -> bool:
    """Whether the other framing was reached: else it is no kind of its own."""
    return found.cost[1] == 0


def _wishes(first: _Candidate) -> Iterator[tuple[str, Wish]]:
    scene, look = first.scene, Look(first.scene, boxes_of(first.box))
    to_clear, _ = graded.crown_state(look, scene.tallest_crown)
    if scene.destination.head_share is None:
        if float(to_clear) <= 0:
            yield "crown cut", Wish(crown=Crown.CUT)
        else:
            yield "crown whole", Wish(crown=Crown.CLEAR)
    if scene.destination.gutter is not None and not scene.group:
        left = float(look.eyes_across) < 1 / 2
        page = Page.RIGHT if left else Page.LEFT
        yield f"on the {page.value}-hand page", Wish(page=page)


def _bands(first: _Candidate) -> Iterator[tuple[str, tuple[float, float]]]:
    """The next shot tighter and the next looser than the first proposal's."""
    if first.scene.destination.head_share is not None:
        return
    look = Look(first.scene, boxes_of(first.box))
    at = SHOTS.index(shot_of(float(look.depth)))
    if at > SHOTS.index(Shot.BIG_CLOSE_UP):
        band = DEPTHS[SHOTS[at - 1]]
        yield "tighter", (band.least, band.most)
    if at + 1 < len(SHOTS):
        band = DEPTHS[SHOTS[at + 1]]
        yield "looser", (band.least, band.most)
