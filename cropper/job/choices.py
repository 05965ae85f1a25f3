"""Which crop counts: the program's best until the photographer says otherwise, and then theirs.

Hand work is never overwritten. When the ground under it moves (the master, its subjects or the
destination changed) it stays, is measured anew, and is marked ``look again``.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Protocol

from cropper.destination.destination import Destination, Surround
from cropper.errors import MisuseError
from cropper.geometry import Crop, PixelBox, Size, size_for
from cropper.job.plan import CROPPER, PHOTOGRAPHER, Choice, ChoiceState, PlannedMaster
from cropper.proposal.filling import LEAST_PHOTOGRAPHED, may_reach
from cropper.proposal.proposal import Answer, Proposal
from cropper.proposal.rules.pixels import NO_CROP_AT


class Measurer(Protocol):
    """Measures a crop by the destination's rules; its frame is filled as that of ``like``."""

    def __call__(self, crop: Crop, like: Proposal | None = None) -> Proposal:
        """The crop as a proposal."""
        ...


def settled(
    before: Choice | None,
    chosen_before: Proposal | None,
    answer: Answer,
    *,
    moved: bool,
    measure: Measurer,
    now: datetime,
) -> Choice | None:
    """The choice that holds for a new ``answer``; ``moved`` when its basis changed.

    None when there is no crop and nobody made one by hand.
    """
    if before is None or not before.by_hand:
        return _own(before, answer, moved=moved, now=now)
    if not moved or chosen_before is None:
        return before
    same = _place_of(chosen_before.crop, answer)
    if before.hand is None and same is not None:
        return replace(before, index=same, state=ChoiceState.LOOK_AGAIN)
    kept = _measured_anew(chosen_before, measure)
    return replace(before, index=None, hand=kept, state=ChoiceState.LOOK_AGAIN)


def _own(before: Choice | None, answer: Answer, *, moved: bool, now: datetime) -> Choice | None:
    if answer.best is None:
        return None
    if before is not None and not moved:
        return before
    return Choice(index=0, chosen_by=CROPPER, at=now, state=ChoiceState.PROPOSED)


def _place_of(crop: Crop, answer: Answer) -> int | None:
    places = (at for at, one in enumerate(answer.proposals) if one.crop == crop)
    return next(places, None)


def _measured_anew(before: Proposal, measure: Measurer) -> Proposal:
    """The same crop under today's rules."""
    return replace(measure(before.crop, before), proposed_by=PHOTOGRAPHER)


def picked(master: PlannedMaster, destination: str, number: int, now: datetime) -> Choice:
    """The photographer's pick, counted from 1; :class:`MisuseError` if there is none such."""
    answer = master.answer(destination)
    if answer is None:
        raise MisuseError(
            f"'{destination}' is not planned for '{master.version}'",
            way_out="Name it with --for as well",
        )
    count = len(answer.proposals)
    if not 1 <= number <= count:
        have = "no proposal" if count == 0 else f"proposals 1 to {count}"
        raise MisuseError(
            f"'{master.version}' has {have} for '{destination}', not {number}",
            way_out="See the proof sheet, or place one by hand with --crop",
        )
    return Choice(index=number - 1, chosen_by=PHOTOGRAPHER, at=now, state=ChoiceState.CHOSEN)


def frozen(choice: Choice, now: datetime) -> Choice:
    """The choice, frozen by the photographer; the same when it was."""
    if choice.frozen:
        return choice
    return replace(choice, frozen=True, chosen_by=PHOTOGRAPHER, at=now)


def unfrozen(choice: Choice) -> Choice:
    """Not frozen any longer; the program's again where nobody had chosen it."""
    mine = choice.state is not ChoiceState.PROPOSED
    return replace(choice, frozen=False, chosen_by=PHOTOGRAPHER if mine else CROPPER)


def made_by_hand(
    master: PlannedMaster,
    destination: Destination,
    box: PixelBox,
    *,
    measure: Measurer,
    now: datetime,
) -> Choice:
    """A crop drawn by the photographer, measured; raises :class:`MisuseError` if it cannot be."""
    _must_fit(box, destination, Size(master.width, master.height), master.version)
    if not shape_fits(box.size, destination):
        raise MisuseError(
            f"a crop of {box.width} x {box.height} px has not the shape of '{destination.name}' "
            f"({shape_words(destination)})",
            way_out=f"Make it {_nearest(box, destination)}",
        )
    hand = replace(measure(Crop(box)), proposed_by=PHOTOGRAPHER)
    _refuse_far_too_small(hand, destination)
    return Choice(hand=hand, chosen_by=PHOTOGRAPHER, at=now, state=ChoiceState.ADJUSTED)


def _refuse_far_too_small(hand: Proposal, destination: Destination) -> None:
    """Raise for a crop with so few pixels that the planner would propose none."""
    pixels = next((one for one in hand.measures if one.rule == "pixels"), None)
    if pixels is None or pixels.value is None or pixels.value * NO_CROP_AT > 1:
        return
    box = hand.crop.box
    raise MisuseError(
        f"a crop of {box.width} x {box.height} px has far too few pixels for "
        f"'{destination.name}'. {pixels.sentence.removesuffix('.')}",
        way_out="Take a larger crop, another master, or a destination that asks for less",
    )


def _must_fit(box: PixelBox, destination: Destination, size: Size, version: str) -> None:
    if box.inside(size) or may_reach(Crop(box), destination, size):
        return
    fills = destination.finish.fill
    way = "Keep 0 <= x0 < x1 <= width and 0 <= y0 < y1 <= height"
    if fills is not Surround.NOTHING:
        below = ", nothing below" if fills is Surround.BACKDROP else ""
        way = f"At least {float(LEAST_PHOTOGRAPHED):.0%} each way must lie in the master{below}"
    raise MisuseError(
        f"the crop {box.x0},{box.y0},{box.x1},{box.y1} reaches past '{version}', "
        f"which is {size.width} x {size.height} px",
        way_out=way,
    )


def shape_fits(size: Size, destination: Destination) -> bool:
    """Whether ``size`` has a shape the destination takes, its shorter side within one pixel."""
    return any(_off_by(size, one) <= 1 for one in destination.orientations)


def _off_by(size: Size, destination: Destination) -> float:
    """Pixels by which the shorter side misses the nearest allowed shape."""
    least, most = destination.shape.least, destination.shape.most
    across = max(size.height * least - size.width, size.width - size.height * most)
    down = max(size.width / most - size.height, size.height - size.width / least)
    return max(0.0, float(min(across, down)))


def shape_words(destination: Destination) -> str:
    """The shape as people say it: ``4:5``, or ``1:1 to 16:9``."""
    least, most = destination.shape.least, destination.shape.most
    said = f"{least.numerator}:{least.denominator}"
    if least != most:
        said += f" to {most.numerator}:{most.denominator}"
    return f"{said}, either way up" if len(destination.orientations) > 1 else said


def _nearest(box: PixelBox, destination: Destination) -> str:
    """The right size with the same longer side, in words."""
    nearest = min(destination.orientations, key=lambda one: _off_by(box.size, one))
    ratio = box.width / box.height
    shape = nearest.shape.least if ratio < nearest.shape.least else nearest.shape.most
    size = size_for(max(box.width, box.height), shape)
    return f"{size.width} x {size.height} px"
