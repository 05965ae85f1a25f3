"""Hand work is never overwritten, whatever is proposed later."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.destination import Destination, ShapeRange
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.choices import settled, shape_fits, shape_words
from cropper.job.plan import Choice, ChoiceState
from cropper.proposal.planning import propose
from cropper.proposal.proposal import Answer, NoCrop, Proposal
from tests.strategies import scene

NOW = datetime(2026, 3, 4, tzinfo=UTC)
LATER = NOW + timedelta(days=1)


def answer_of(seed: int) -> Answer:
    found = (scene(number) for number in range(seed, seed + 200))
    answers = (propose(one.finding, one.destination) for one in found)
    return next(one for one in answers if len(one.proposals) > 1)


ANSWER = answer_of(0)
BEST = ANSWER.proposals[0]
EMPTY = Answer(
    destination=ANSWER.destination,
    no_crop=NoCrop(destination=ANSWER.destination, conflicts=(), ways_out=(), sentence="No."),
)


def same(crop: Crop, like: Proposal | None = None) -> Proposal:
    del like
    return replace(BEST, crop=crop)


def settle(
    before: Choice | None, chosen: Proposal | None, answer: Answer, *, moved: bool
) -> Choice | None:
    return settled(before, chosen, answer, moved=moved, measure=same, now=LATER)


def test_the_first_proposal_counts_until_somebody_chooses() -> None:
    choice = settle(None, None, ANSWER, moved=True)
    assert choice is not None
    assert (choice.index, choice.chosen_by, choice.state) == (0, "cropper", ChoiceState.PROPOSED)


def test_where_nothing_fits_nothing_is_chosen() -> None:
    assert settle(None, None, EMPTY, moved=True) is None


def test_an_unmoved_choice_keeps_even_its_time() -> None:
    before = Choice(index=0, at=NOW)
    assert settle(before, BEST, ANSWER, moved=False) is before


def test_a_hand_s_choice_stands_still_on_unmoved_ground() -> None:
    before = Choice(index=1, chosen_by="photographer", at=NOW, state=ChoiceState.CHOSEN)
    assert settle(before, ANSWER.proposals[1], ANSWER, moved=False) is before


def test_a_pick_follows_its_crop_to_its_new_place() -> None:
    before = Choice(index=1, chosen_by="photographer", at=NOW, state=ChoiceState.CHOSEN)
    turned = replace(ANSWER, proposals=tuple(reversed(ANSWER.proposals)))
    choice = settle(before, ANSWER.proposals[1], turned, moved=True)
    assert choice is not None
    assert choice.index == len(ANSWER.proposals) - 2
    assert choice.state is ChoiceState.LOOK_AGAIN


@pytest.mark.parametrize("answer", [EMPTY, replace(ANSWER, proposals=(BEST,))])
def test_a_pick_that_is_proposed_no_longer_becomes_a_crop_by_hand(answer: Answer) -> None:
    picked = ANSWER.proposals[1]
    before = Choice(index=1, chosen_by="photographer", at=NOW, state=ChoiceState.CHOSEN)
    choice = settle(before, picked, answer, moved=True)
    assert choice is not None
    assert choice.hand is not None
    assert choice.hand.crop == picked.crop
    assert choice.by_hand
    assert choice.at == NOW


def test_a_crop_by_hand_is_measured_anew_on_moved_ground_and_looked_at_again() -> None:
    before = Choice(hand=BEST, chosen_by="photographer", at=NOW, state=ChoiceState.ADJUSTED)
    choice = settle(before, BEST, EMPTY, moved=True)
    assert choice is not None
    assert choice.hand is not None
    assert choice.hand.crop == BEST.crop
    assert choice.state is ChoiceState.LOOK_AGAIN


def shaped(least: Fraction, most: Fraction, *, turnable: bool = False) -> Destination:
    return Destination(name="a", title="A", shape=ShapeRange(least, most), turnable=turnable)


@given(st.integers(2, 60), st.integers(2, 60), st.integers(60, 4000))
def test_a_size_rounded_from_the_shape_always_fits_it(wide: int, high: int, longer: int) -> None:
    from cropper.geometry import size_for  # noqa: PLC0415

    shape = Fraction(wide, high)
    assert shape_fits(size_for(longer, shape), shaped(shape, shape))


def test_two_pixels_off_do_not_fit_and_the_other_way_up_only_if_turnable() -> None:
    upright = shaped(Fraction(4, 5), Fraction(4, 5))
    assert not shape_fits(Size(1084, 1350), upright)
    assert not shape_fits(Size(1350, 1080), upright)
    either = shaped(Fraction(4, 5), Fraction(4, 5), turnable=True)
    assert shape_fits(Size(1350, 1080), either)
    assert shape_words(either) == "4:5, either way up"


def test_a_choice_is_one_thing_or_the_other() -> None:
    with pytest.raises(ValueError, match="either"):
        Choice(at=NOW)
    with pytest.raises(ValueError, match="either"):
        Choice(index=0, hand=BEST, at=NOW)
    with pytest.raises(ValueError, match="chosen by"):
        Choice(index=0, chosen_by="somebody", at=NOW)


def test_a_box_must_not_be_empty() -> None:
    with pytest.raises(ValueError, match="empty"):
        PixelBox(3, 3, 3, 9)
