"""A change of a crop in words does what the words say, and stays in the master."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.presets import load_presets
from cropper.geometry import Crop, PixelBox, Point, Size
from cropper.job.adjustment import Adjustment, adjusted, eyes_in, place_of
from cropper.job.choices import shape_fits
from cropper.proposal.planning import propose
from cropper.subject.by_hand import by_hand
from cropper.subject.subject import Finding

SIZE = Size(2400, 3000)
EYES = (Point(1110, 1080), Point(1290, 1080))
FINDING = Finding(size=SIZE, subjects=(by_hand(SIZE, *EYES),))
NOBODY = Finding(size=SIZE, problem="Nobody was found.")
(STORY, COVER, POST) = load_presets().choose(("story", "cover-a4", "square-post"))
CROP = Crop(PixelBox(600, 400, 1800, 1600))
"""A square in the middle of the master, with room on every side."""


def down(crop: Crop, destination: object = POST) -> float:
    eyes = eyes_in(FINDING, crop)
    assert eyes is not None
    return place_of(eyes, crop, destination).down  # type: ignore[arg-type]


def test_tighter_by_a_tenth_makes_both_sides_a_tenth_shorter_round_the_eyes() -> None:
    done = adjusted(CROP, Adjustment(sides=0.9), POST, FINDING)
    assert done.crop.box.size == Size(1080, 1080)
    assert down(done.crop) == pytest.approx(down(CROP), abs=0.001)
    assert done.whole


def test_eyes_higher_moves_them_up_in_the_frame_and_the_frame_down_over_the_master() -> None:
    done = adjusted(CROP, Adjustment(eyes_down=-0.03), POST, FINDING)
    assert done.crop.box == PixelBox(600, 436, 1800, 1636)
    assert down(done.crop) == pytest.approx(down(CROP) - 0.03)


def test_eyes_left_moves_the_frame_to_the_right() -> None:
    done = adjusted(CROP, Adjustment(eyes_right=-0.05), POST, FINDING)
    assert done.crop.box == PixelBox(660, 400, 1860, 1600)


def test_shares_are_of_what_is_seen_not_of_the_bleed() -> None:
    crop = propose(FINDING, COVER).proposals[-1].crop
    small = adjusted(crop, Adjustment(sides=0.8), COVER, FINDING).crop
    done = adjusted(small, Adjustment(eyes_down=-0.05), COVER, FINDING).crop
    seen = small.box.height * float(COVER.trim.y1 - COVER.trim.y0)
    assert done.box.y0 - small.box.y0 == pytest.approx(0.05 * seen, abs=0.5)


@pytest.mark.parametrize("turn", [0.0, 4.0, -7.5])
def test_eyes_on_the_third_stand_there_straightened_or_not(turn: float) -> None:
    wish = Adjustment(sides=0.9, eyes_on_third=True, straighten_deg=turn)
    done = adjusted(CROP, wish, POST, FINDING)
    assert done.crop.straighten_deg == turn
    assert down(done.crop) == pytest.approx(1 / 3, abs=0.001)
    assert done.whole


def test_straightening_turns_about_the_eyes() -> None:
    eyes = EYES[0].midway(EYES[1])
    done = adjusted(CROP, Adjustment(straighten_deg=5), POST, FINDING)
    before, after = place_of(eyes, CROP, POST), place_of(eyes, done.crop, POST)
    assert after == pytest.approx(before, abs=0.001)


def test_what_the_master_s_edge_does_not_allow_is_done_as_far_as_it_goes_and_said() -> None:
    done = adjusted(CROP, Adjustment(sides=9), POST, FINDING)
    assert done.crop.box.size == Size(2400, 2400)
    assert not done.whole
    done = adjusted(CROP, Adjustment(eyes_down=0.9), POST, FINDING)
    assert done.crop.box.y0 == 0
    assert done.crop.box.size == Size(900, 900)
    assert not done.whole


def test_a_crop_that_cannot_move_becomes_as_much_tighter_as_the_eyes_need() -> None:
    """A story is as high as its master, so that its frame cannot move down by a pixel."""
    start = Crop(PixelBox(356, 0, 2044, 3000))
    before = place_of(EYES[0].midway(EYES[1]), start, STORY)
    done = adjusted(start, Adjustment(eyes_down=-0.03), STORY, FINDING)
    after = place_of(EYES[0].midway(EYES[1]), done.crop, STORY)
    assert after.down == pytest.approx(before.down - 0.03, abs=0.001)
    assert done.crop.box.y1 == SIZE.height  # not tighter than it must be
    assert done.whole
    assert done.gave_way


def test_where_only_a_size_is_wished_the_place_gives_way() -> None:
    corner = Crop(PixelBox(900, 900, 1500, 1500))
    done = adjusted(corner, Adjustment(sides=3), POST, FINDING)
    assert done.crop.box.size == Size(1800, 1800)


def test_where_nobody_is_known_the_middle_of_the_crop_stays_in_place() -> None:
    assert eyes_in(NOBODY, CROP) is None
    done = adjusted(CROP, Adjustment(sides=0.5), POST, NOBODY)
    assert done.crop.box == PixelBox(900, 700, 1500, 1300)
    higher = adjusted(CROP, Adjustment(eyes_down=-0.1), POST, NOBODY)
    assert higher.crop.box == PixelBox(600, 520, 1800, 1720)


def test_eyes_outside_the_crop_do_not_pull_it() -> None:
    foot = Crop(PixelBox(600, 1800, 1800, 3000))
    assert eyes_in(FINDING, foot) is None
    assert adjusted(foot, Adjustment(sides=0.5), POST, FINDING).crop.box.centre == foot.box.centre


def test_of_a_pair_the_middle_of_both_is_kept() -> None:
    other = by_hand(SIZE, Point(1510, 1180), Point(1690, 1180))
    pair = replace(FINDING, subjects=(*FINDING.subjects, other))
    assert eyes_in(pair, CROP) == Point(1400, 1130)


@given(
    sides=st.floats(0.2, 3),
    right=st.floats(-0.5, 0.5),
    eyes_down=st.floats(-0.5, 0.5),
    turn=st.one_of(st.none(), st.floats(-15, 15)),
)
def test_whatever_is_wished_the_crop_has_the_shape_and_lies_in_the_master(
    sides: float, right: float, eyes_down: float, turn: float | None
) -> None:
    wish = Adjustment(sides=sides, eyes_right=right, eyes_down=eyes_down, straighten_deg=turn)
    start = propose(FINDING, STORY).proposals[0].crop
    done = adjusted(start, wish, STORY, FINDING)
    assert done.crop.box.inside(SIZE)
    assert shape_fits(done.crop.box.size, STORY)


def test_a_wish_for_two_places_is_refused() -> None:
    with pytest.raises(ValueError, match="one place"):
        Adjustment(eyes_on_third=True, eyes_down=0.1)
