"""The checker against examples worked out by hand from docs/composition.md.

The person of every example, unless changed: head 200 px (skull top y 200, chin y 400), hair top
y 180, hairline y 240, brows y 280, pupils (470, 300) and (530, 300), head box 420..580 x 180..400,
facing; in a master of 1000 x 1000 px. The crop, unless changed: x 300..700, y 150..650, 4:5.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from cropper.destination.destination import (
    Across,
    Band,
    CoveredZone,
    Destination,
    Frame,
    Gutter,
    KeepClear,
    LiveArea,
    ShapeRange,
)
from cropper.destination.shots import Shot
from cropper.geometry import Extent, NormalBox, PixelBox, Point, Size
from cropper.subject.subject import Finding, Joint, Landmark, Subject
from tests.oracle.boxes import greatest_area, sizes
from tests.oracle.brute import least_cost
from tests.oracle.checker import Measured, measure
from tests.strategies import scene

FOUR_FIVE = ShapeRange(Fraction(4, 5), Fraction(4, 5))
SQUARE = ShapeRange(Fraction(1), Fraction(1))
WIDE = ShapeRange(Fraction(2), Fraction(2))
TIERS = ("never", "framing", "crown", "eye_line", "headroom", "joints", "across", "kept")


def person(*, dx: float = 0, dy: float = 0, **changes: Any) -> Subject:
    made: dict[str, Any] = {
        "left_eye": Point(470 + dx, 300 + dy),
        "right_eye": Point(530 + dx, 300 + dy),
        "eye_sigma_px": 2.0,
        "chin": Landmark(Point(500 + dx, 400 + dy), 4.0),
        "skull_top": Landmark(Point(500 + dx, 200 + dy), 4.0),
        "hair_top": Landmark(Point(500 + dx, 180 + dy), 4.0),
        "hairline": Landmark(Point(500 + dx, 240 + dy), 4.0),
        "brows": Landmark(Point(500 + dx, 280 + dy), 4.0),
        "crown_in_frame": True,
        "head_box": Extent(420 + dx, 180 + dy, 580 + dx, 400 + dy),
    }
    return Subject(**{**made, **changes})


def finding(*people: Subject) -> Finding:
    return Finding(size=Size(1000, 1000), subjects=people or (person(),))


def destination(**changes: Any) -> Destination:
    made: dict[str, Any] = {"name": "a", "title": "A", "shape": FOUR_FIVE}
    return Destination(**{**made, **changes})


def box(x0: int = 300, y0: int = 150, w: int = 400, h: int = 500) -> PixelBox:
    return PixelBox(x0, y0, x0 + w, y0 + h)


def normal(x0: str, y0: str, x1: str, y1: str) -> NormalBox:
    return NormalBox(Fraction(x0), Fraction(y0), Fraction(x1), Fraction(y1))


def measured(*people: Subject, crop: PixelBox | None = None, **changes: Any) -> Measured:
    return measure(finding(*people), destination(**changes), crop or box())


def tier(name: str, *people: Subject, crop: PixelBox | None = None, **changes: Any) -> int:
    return measured(*people, crop=crop, **changes).cost[TIERS.index(name)]


def broken(*people: Subject, crop: PixelBox | None = None, **changes: Any) -> tuple[str, ...]:
    return measured(*people, crop=crop, **changes).broken


def test_the_plain_example_costs_one_thousandth_of_eye_line_and_what_is_lost() -> None:
    # d = (650 - 200) / 200 = 2.25 in 1.45..2.6; gap 30 >= max(5, 4); r = 30/500 = .06; u = .5
    # e = 150/500 = .300: (.003 / .087)^2 = .00119 -> 1
    # dn = (650 - 200) / 200 = 2.25: no neck; kept: 1 - 400 x 500 / (800 x 1000) = .75 -> 750
    assert measured().cost == (0, 0, 0, 1, 0, 0, 0, 750)
    assert measured().broken == ()


class TestNever:
    def test_a_crop_past_the_master_is_outside(self) -> None:
        assert "inside" in broken(crop=box(x0=-1))
        assert "inside" in broken(crop=box(y0=-1))
        assert "inside" in broken(crop=box(x0=601))
        assert "inside" in broken(crop=box(y0=501))

    def test_each_broken_rule_counts_a_thousand(self) -> None:
        result = measured(crop=box(x0=601, y0=501))
        assert set(result.broken) == {"inside", "eyes", "chin"}
        assert result.cost[0] == 3000

    def test_enough_pixels_is_a_matter_of_width_and_greatest_enlargement(self) -> None:
        assert broken(delivered=Size(400, 500)) == ()
        assert broken(delivered=Size(401, 501)) == ("pixels",)
        twice = Fraction(2)
        assert broken(delivered=Size(800, 1000), greatest_enlargement=twice) == ()
        assert broken(delivered=Size(801, 1001), greatest_enlargement=twice) == ("pixels",)

    def test_a_long_edge_is_held_against_the_crops_long_side(self) -> None:
        assert broken(long_edge_px=500) == ()
        assert broken(long_edge_px=501) == ("pixels",)
        assert broken(long_edge_px=501, may_be_smaller=True) == ()

    def test_ppi_counts_the_bleed_into_the_width(self) -> None:
        # page 25.4 mm and 6.35 mm of bleed on each side: 38.1 mm = 1.5 in; 400 px / 1.5 = 266.7
        page: dict[str, Any] = {
            "page_mm": (Fraction(254, 10), Fraction(254, 8)),
            "bleed_mm": Fraction(635, 100),
        }
        assert broken(least_ppi=Fraction(266), **page) == ()
        assert broken(least_ppi=Fraction(267), **page) == ("pixels",)

    def test_pupils_stand_eight_hundredths_of_a_head_inside(self) -> None:
        # .08 x 200 = 16 px: the left pupil at 470 allows a left edge of 454, not 455
        assert broken(crop=box(x0=454)) == ()
        assert broken(crop=box(x0=455)) == ("eyes",)
        # and the right one at 530 a right edge of 546
        assert broken(crop=box(x0=146)) == ()
        assert broken(crop=box(x0=145)) == ("eyes",)
        # top edge 284 at most
        assert broken(crop=box(y0=284)) == ()
        assert broken(crop=box(y0=285)) == ("eyes",)

    def test_the_chin_stands_four_hundredths_of_a_head_above_the_bottom(self) -> None:
        # .04 x 200 = 8 px: bottom edge at 408
        assert broken(crop=box(x0=420, y0=108, w=240, h=300)) == ()
        assert broken(crop=box(x0=420, y0=307 - 200, w=240, h=300)) == ("chin",)
        tight = (Shot.EXTREME_CLOSE_UP, Shot.CLOSE_UP)
        assert broken(crop=box(x0=420, y0=107, w=240, h=300), framing=tight) == ()

    def test_in_a_circle_pupils_and_chin_keep_away_from_the_arc(self) -> None:
        # circle of radius 100 about (500, 320): pupils at hypot(30, 20) = 36.06 <= 84;
        # chin 80 below the centre <= 92
        round_one = {"shape": SQUARE, "frame": Frame.CIRCLE}
        assert broken(crop=box(400, 220, 200, 200), **round_one) == ()
        # centre (500, 306): chin 94 > 92
        assert broken(crop=box(400, 206, 200, 200), **round_one) == ("chin",)
        # centre (560, 340): left pupil hypot(90, 40) = 98.5 > 84; chin hypot(60, 60) = 84.9
        assert broken(crop=box(460, 240, 200, 200), **round_one) == ("eyes",)

    def test_live_areas_are_held_to_the_same_rules(self) -> None:
        # the left half of the crop is x 300..500: the right pupil at 530 is out, the chin's
        # x of 500 is just in
        halves = (LiveArea("left", normal("0", "0", "1/2", "1")),)
        assert broken(live_areas=halves) == ("eyes",)

    def test_live_areas_are_fractions_of_the_trim(self) -> None:
        # trim x 350..650; its left 5/6 ends at 600: room for all; of the whole crop it would too;
        # its left 1/2 ends at 500 as well, its left 3/5 at 530 and needs 546
        inner = normal("1/8", "0", "7/8", "1")
        area = (LiveArea("left", normal("0", "0", "3/5", "1")),)
        assert broken(trim=inner, live_areas=area) == ("eyes",)
        wider = (LiveArea("left", normal("0", "0", "2/3", "1")),)  # ends at 550
        assert broken(trim=inner, live_areas=wider) == ()

    def test_no_face_enters_the_fold(self) -> None:
        # crop x 0..400, fold at 1/2 +- 1/20: 180..220; head box 420..580 moved left by 200 px
        # is 220..380: touches only; by 201 px it is in
        fold = Gutter(Fraction(1, 2), Fraction(1, 20))
        crop = box(x0=0)
        assert broken(person(dx=-200), crop=crop, gutter=fold) == ()
        assert broken(person(dx=-201), crop=crop, gutter=fold) == ("gutter",)

    @pytest.mark.parametrize(
        ("keep", "hair", "first_row"),
        [
            (KeepClear.EYES, True, 280),  # brows
            (KeepClear.FACE, True, 240),  # hairline
            (KeepClear.HEAD, True, 240),  # hairline
            (KeepClear.HEAD, False, 180),  # hair top
        ],
    )
    def test_a_zone_may_come_down_to_what_must_stay_clear(
        self,
        keep: KeepClear,
        hair: bool,  # noqa: FBT001 - a column of the table
        first_row: int,
    ) -> None:
        # the crop starts at y 150 and is 500 px high
        touching = CoveredZone("bar", normal("0", "0", "1", f"{first_row - 150}/500"), keep, hair)
        entering = CoveredZone("bar", normal("0", "0", "1", f"{first_row - 149}/500"), keep, hair)
        assert broken(covered=(touching,)) == ()
        assert broken(covered=(entering,)) == ("zones",)

    def test_zones_beside_a_face_end_at_its_breadth(self) -> None:
        # face 500 +- .36 x 200 = 428..572; crop x 300..700: 272/400 ends at 572; eyes end at
        # 530 + .12 x 200 = 554, the head box at 580
        def to_the_right(start: int, keep: KeepClear) -> tuple[CoveredZone, ...]:
            return (CoveredZone("side", normal(f"{start - 300}/400", "0", "1", "1"), keep),)

        for start, keep in ((554, KeepClear.EYES), (572, KeepClear.FACE), (580, KeepClear.HEAD)):
            assert broken(covered=to_the_right(start, keep)) == ()
            assert broken(covered=to_the_right(start - 1, keep)) == ("zones",)

    def test_a_bystander_is_whole_or_absent_and_touching_is_fine(self) -> None:
        def beside(x0: float, x1: float) -> Subject:
            return person(principal=False, head_box=Extent(x0, 200, x1, 300))

        assert broken(person(), beside(620, 700)) == ()  # inside, touching the edge at 700
        assert broken(person(), beside(620, 701)) == ("bystanders",)
        assert broken(person(), beside(700, 800)) == ()  # outside, touching
        assert broken(person(), beside(699, 800)) == ("bystanders",)

    def test_a_circle_holds_a_bystander_by_its_corners(self) -> None:
        # circle of radius 250 about (500, 400)
        def at(x0: float, y0: float, x1: float, y1: float) -> Subject:
            return person(principal=False, head_box=Extent(x0, y0, x1, y1))

        crop, disc = box(250, 150, 500, 500), {"shape": SQUARE, "frame": Frame.CIRCLE}
        # far corner (650, 600): 3-4-5 triangle, exactly 250
        assert broken(person(), at(600, 500, 650, 600), crop=crop, **disc) == ()
        assert broken(person(), at(600, 500, 651, 600), crop=crop, **disc) == ("bystanders",)
        # near corner (700, 550): exactly 250 away, although inside the bounding square
        assert broken(person(), at(700, 550, 740, 640), crop=crop, **disc) == ()
        assert broken(person(), at(699, 550, 740, 640), crop=crop, **disc) == ("bystanders",)

    def test_two_principals_keep_their_heads_whole(self) -> None:
        # second head 70 px to the right: its box ends at 650; crop x 250..650, then 249..649
        two = (person(), person(dx=70))
        assert broken(*two, crop=box(x0=250)) == ()
        assert broken(*two, crop=box(x0=249)) == ("heads whole",)

    def test_in_a_circle_heads_are_whole_at_the_height_of_the_eyes(self) -> None:
        # circle of radius 250 about (545, 300): head boxes 420..580 and 520..680 at y 300
        # reach 125 and 135 px; radius 130 is too small, 135 just right
        two = (person(), person(dx=100))
        round_one = {"shape": SQUARE, "frame": Frame.CIRCLE}
        assert broken(*two, crop=box(410, 165, 270, 270), **round_one) == ()
        assert broken(*two, crop=box(411, 166, 268, 268), **round_one) == ("heads whole",)

    def test_a_principals_head_is_measured_as_far_as_the_master_shows_it(self) -> None:
        # the head box reaches to -20; its sides are cut to the master's
        shown = person(dx=-440)
        two = (shown, person())
        assert broken(*two, crop=box(0, 150, 640, 500), shape=WIDE) == ()

    def test_an_identity_picture_is_of_one_head_within_its_limits(self) -> None:
        # k = 200 / 500 = .4, e = .3
        within, without = Band(0.4, 0.5, 0.39, 0.6), Band(0.45, 0.5, 0.41, 0.6)
        assert broken(head_share=within) == ()
        assert broken(head_share=without) == ("one head",)
        assert broken(head_share=within, eye_line=Band(0.35, 0.4, 0.29, 0.5)) == ()
        assert broken(head_share=within, eye_line=Band(0.35, 0.4, 0.31, 0.5)) == ("one head",)
        assert broken(person(), person(dx=60), head_share=within) == ("one head",)


class TestFraming:
    def test_depth_off_the_band_counts_in_whole_quarter_heads(self) -> None:
        # loosest bust: 2.6 heads, bottom at 200 + 2.6 x 200 = 720; 10 px more are .05 head,
        # counted as .25: (.25 / .5)^2 = .25; 51 px are .255, counted as .5: 1
        assert tier("framing", crop=box(y0=220)) == 0
        assert tier("framing", crop=box(y0=230)) == 250
        assert tier("framing", crop=box(y0=271)) == 1000

    def test_a_step_is_not_climbed_by_rounding(self) -> None:
        # 50 px are .25 head exactly
        assert tier("framing", crop=box(y0=270)) == 250

    def test_too_tight_counts_from_the_tightest_shot(self) -> None:
        # half length from 3.0: d = 2.25, off .75, three steps: (.75 / .5)^2 = 2.25
        framing = (Shot.HALF_LENGTH, Shot.FULL)
        assert tier("framing", framing=framing) == 2250

    def test_a_height_too_great_for_the_shot_is_charged_wherever_it_lies(self) -> None:
        # hair = 20 / 200 = .1; bust may be (2.6 + .1) / .8 = 3.375 heads high; 800 px are 4:
        # .625 too many, three steps; the bottom at 720 (d = 2.6) does not help
        assert tier("framing", person(dy=200), crop=box(180, 120, 640, 800)) == 2250

    def test_a_height_too_small_for_the_shot_is_charged_wherever_it_lies(self) -> None:
        # cut = (280 - 24 - 180) / 200 = .38; bust alone from 2.2: 2.2 + .1 - .38 = 1.92 heads;
        # 300 px are 1.5: .42 too few, two steps: 1; the bottom at 640 (d = 2.2) does not help
        framing = (Shot.BUST, Shot.BUST)
        assert tier("framing", crop=box(380, 340, 240, 300), framing=framing) == 1000

    def test_a_row_of_people_may_be_as_deep_as_its_width_forces(self) -> None:
        # heads 420..580 and 720..880: span 460 + .5 x 200 = 560 px; square: 560 / 200 = 2.8 heads
        # bottom at 200 + 2.8 x 200 = 760 costs nothing, 2 px more one step: .25
        two, square = (person(), person(dx=300)), {"shape": SQUARE}
        assert tier("framing", *two, crop=box(350, 160, 600, 600), **square) == 0
        assert tier("framing", *two, crop=box(350, 162, 600, 600), **square) == 250

    def test_identity_bands_measure_the_head_against_the_height(self) -> None:
        # k = 200 / 500 = .4; target from .5: (.1 / .05)^2 = 4
        share = Band(0.5, 0.6, 0.35, 0.69)
        assert tier("framing", head_share=share) == 4000

    def test_a_full_frame_owes_nothing_but_its_pixels(self) -> None:
        # the head stands in the corner, the eyes 10 px from the master's edge
        whole = box(0, 0, 1000, 1000)
        cornered = person(dx=-460, dy=-150)
        assert measured(cornered, crop=whole, full_frame=True).cost == (0,) * 8
        large = Size(1001, 1001)
        assert broken(cornered, crop=whole, full_frame=True, delivered=large) == ("pixels",)


class TestCrown:
    def test_touching_the_hair_is_short_of_clear_by_two_hundredths_of_the_frame(self) -> None:
        # clear at 170: 180 is 10 px short, 10 / (.1 x 200) = .5, squared .25; 175 is 5 short
        assert tier("crown", crop=box(y0=180)) == 250
        assert tier("crown", crop=box(y0=175)) == 63  # .0625, half up
        assert tier("crown", crop=box(y0=170)) == 0

    def test_in_a_circle_clear_is_four_hundredths_of_its_height(self) -> None:
        # radius 250 about (500, 400) + dy: the arc above the hair top is the square's top;
        # clear at 180 - .04 x 500 = 160
        round_one = {"shape": SQUARE, "frame": Frame.CIRCLE}
        assert tier("crown", crop=box(250, 160, 500, 500), **round_one) == 0
        assert tier("crown", crop=box(250, 165, 500, 500), **round_one) == 63

    def test_clear_asks_for_one_sigma_when_that_is_more(self) -> None:
        unsure = person(hair_top=Landmark(Point(500, 180), 20.0))
        # clear at 160: top 165 is 5 px short -> 63; 160 is clear
        assert tier("crown", unsure, crop=box(y0=165)) == 63
        assert tier("crown", unsure, crop=box(y0=160)) == 0

    def test_a_decided_cut_lies_off_hair_top_hairline_and_brows(self) -> None:
        # from 180 + 16 = 196 on; not within 230..250; brows 280 - 24 = 256 at most
        for top in (196, 230, 250, 256):
            assert tier("crown", crop=box(y0=top)) == 250
        # 240 is 10 px from 230 and 250: (10 / 20)^2 + .25 for the cut
        assert tier("crown", crop=box(y0=240)) == 500
        # 266 is 10 px past 256
        assert tier("crown", crop=box(y0=266)) == 500

    def test_the_lesser_of_clearing_and_cutting_counts(self) -> None:
        # 184: 14 px from clear, (14 / 20)^2 = .49; 12 px from a cut, .36 + .25 = .61
        assert tier("crown", crop=box(y0=184)) == 490
        assert tier("headroom", crop=box(y0=184)) == 226  # r = -4 / 500: (.038 / .08)^2
        # 190: 20 px from clear, 1; 6 px from a cut, .09 + .25: cut
        assert tier("crown", crop=box(y0=190)) == 340
        assert tier("headroom", crop=box(y0=190)) == 1000

    def test_a_cut_that_a_big_close_up_calls_for_is_free(self) -> None:
        big = (Shot.BIG_CLOSE_UP, Shot.BUST)
        assert tier("crown", crop=box(y0=200), framing=big) == 0

    def test_a_crown_the_master_has_cut_is_called_for(self) -> None:
        # everything 200 px higher: hair top -20, hairline 40, brows 80; top 0 is 20 px deep
        gone = person(dy=-200)
        assert tier("crown", gone, crop=box(y0=0)) == 0
        assert tier("headroom", gone, crop=box(y0=0)) == 0

    def test_the_masters_own_edge_is_a_decided_cut_of_a_crown_outside_it(self) -> None:
        # hair top -10, hairline 50, brows 90: a cut starts at -10 + 16 = 6, and the edge up to
        # .05 x 200 = 10; 20 lies within 6 .. 50 - 10 = 40 anyway; 0 does only by the edge
        gone = person(dy=-190)
        assert tier("crown", gone, crop=box(y0=0)) == 0
        # hair top -2, hairline 8, brows 60: cuts from 8 + 10 = 18 to 36, and up to 10; 14 is 4 px
        # from both: (4 / 20)^2 = .04
        edge = person(
            dy=-182,
            hairline=Landmark(Point(500, 8), 4.0),
            brows=Landmark(Point(500, 60), 4.0),
        )
        assert tier("crown", edge, crop=box(y0=10)) == 0
        assert tier("crown", edge, crop=box(y0=14)) == 40

    def test_a_crown_is_called_cut_for_the_person_it_belongs_to(self) -> None:
        # the second person's crown is said to be out of the master; both hair tops are cut by
        # 20 px: only the first one's cut was not called for
        two = (person(), person(dx=90, crown_in_frame=False))
        assert tier("crown", *two, crop=box(y0=200)) == 250

    def test_crowns_add_up(self) -> None:
        # the second hair top at 190: clear at 180 or higher; the first is 10 px short
        two = (person(), person(dx=90, dy=10))
        assert tier("crown", *two, crop=box(y0=180)) == 250
        # both 10 px short when they stand level
        assert tier("crown", person(), person(dx=90), crop=box(y0=180)) == 500


class TestEyeLine:
    def test_a_bust_wants_a_third_give_or_take_three_hundredths(self) -> None:
        # e = .39 (y0 = 105): (.39 - .363) / .087 = .31034, squared .09631 -> 96
        assert tier("eye_line", crop=box(y0=105)) == 96

    def test_the_band_changes_past_two_and_three_quarter_heads(self) -> None:
        # bottom 750 is d = 2.75: e = 50 / 500 = .100, (.203 / .087)^2 = 5.4445
        assert tier("eye_line", crop=box(300, 250, 400, 500)) == 5444
        # bottom 751 is d = 2.755: e = 49 / 500 = .098, (.052 / .05)^2 = 1.0816
        assert tier("eye_line", crop=box(300, 251, 400, 500)) == 1082

    def test_looser_shots_let_the_eyes_rise(self) -> None:
        # bottom 1000: d = 4.0, .12-.30; top 250: e = 50 / 750 = .0667: (.0533 / .05)^2 = 1.1378
        assert tier("eye_line", crop=box(200, 250, 600, 750)) == 1138
        # smaller head beyond six heads: skull top 200, head 120: (1000 - 200) / 120 = 6.67,
        # .08-.25: e = .3 from the top of the master: (.05 / .05)^2 = 1
        small = person(chin=Landmark(Point(500, 320), 4.0))
        assert tier("eye_line", small, crop=box(100, 0, 800, 1000)) == 1000

    def test_a_destinations_own_band_brings_its_own_scale(self) -> None:
        # e = .30, band .40-.45, limits .35-.53: scale max(.05, .08) = .08: (.1 / .08)^2 = 1.5625
        own = Band(0.40, 0.45, 0.35, 0.53)
        assert tier("eye_line", eye_line=own) == 1563
        # no room between band and limit: scale .01: (.1 / .01)^2 = 100
        assert tier("eye_line", eye_line=Band(0.40, 0.45, 0.40, 0.45)) == 100_000

    def test_several_pairs_of_eyes_share_a_wide_band(self) -> None:
        # eyes at 300 and 340, crop y 250..750: e .10 and .18: (.05 / .05)^2 = 1
        two = (person(), person(dx=90, dy=40))
        assert tier("eye_line", *two, crop=box(y0=250)) == 1000
        # crop y 20..520: e .56 and .64: (.09 / .05)^2 = 3.24
        assert tier("eye_line", *two, crop=box(y0=20)) == 3240


class TestHeadroom:
    def test_too_much_costs_more_than_too_little(self) -> None:
        # y0 = 174: r = .012, (.018 / .08)^2 = .0506 -> 51; y0 = 111: r = .138,
        # 1.5 x (.018 / .08)^2 = .0759 -> 76
        assert tier("headroom", crop=box(y0=174)) == 51
        assert tier("headroom", crop=box(y0=111)) == 76

    def test_a_decided_cut_that_nobody_called_for_costs_one(self) -> None:
        assert tier("headroom", crop=box(y0=200)) == 1000
        big = (Shot.BIG_CLOSE_UP, Shot.BUST)
        assert tier("headroom", crop=box(y0=200), framing=big) == 0

    def test_headroom_is_counted_from_a_zone_the_whole_head_must_clear(self) -> None:
        # bar of 5 px along the top: r = 25 / 500 = .05; of 20 px: r = .02, (.01 / .08)^2 = .0156
        def bar(px: int, *, hair: bool) -> tuple[CoveredZone, ...]:
            return (CoveredZone("bar", normal("0", "0", "1", f"{px}/500"), KeepClear.HEAD, hair),)

        assert tier("headroom", covered=bar(5, hair=False)) == 0
        assert tier("headroom", covered=bar(20, hair=False)) == 16
        assert tier("headroom", covered=bar(20, hair=True)) == 0

    def test_a_zone_beside_the_hair_top_does_not_count(self) -> None:
        aside = CoveredZone("corner", normal("0", "0", "1/4", "1/25"), KeepClear.HEAD, False)
        assert tier("headroom", covered=(aside,)) == 0

    def test_in_a_circle_headroom_ends_at_the_arc(self) -> None:
        # circle of radius 250 about (500, 400) and hair top at x 650: the arc stands at
        # 400 - sqrt(250^2 - 150^2) = 200, that is 20 px below the hair top: a decided cut
        round_one = {"shape": SQUARE, "frame": Frame.CIRCLE}
        leaning = person(hair_top=Landmark(Point(650, 180), 4.0))
        crop = box(250, 150, 500, 500)
        assert tier("headroom", leaning, crop=crop, **round_one) == 1000
        assert tier("headroom", crop=crop, **round_one) == 0  # straight above: r = 30 / 500

    def test_a_destinations_own_band_replaces_the_tolerance(self) -> None:
        # r = .06, band .10-.12: (.04 / .08)^2 = .25
        assert tier("headroom", headroom=Band(0.10, 0.12, 0.0, 0.2)) == 250


def limb(*ends: tuple[str, float, float], visibility: float = 1.0) -> tuple[Joint, ...]:
    return tuple(Joint(name, Point(x, y), visibility) for name, x, y in ends)


class TestJoints:
    def test_an_edge_at_the_elbow_costs_one_and_mid_arm_nothing(self) -> None:
        # the bottom edge at 650; elbow on it to within a hair, wrist far below
        at_elbow = limb(("left_elbow", 400, 649.999), ("left_wrist", 400, 850))
        mid_arm = limb(("left_elbow", 400, 600), ("left_wrist", 400, 700))
        assert tier("joints", person(joints=at_elbow)) == 1000
        # 50 px = .25 head from both
        assert tier("joints", person(joints=mid_arm)) == 0

    def test_limbs_add_up(self) -> None:
        # two elbows on the bottom edge
        two = limb(
            ("left_elbow", 400, 649.999),
            ("left_wrist", 400, 850),
            ("right_elbow", 600, 649.999),
            ("right_wrist", 600, 850),
        )
        assert tier("joints", person(joints=two)) == 2000

    def test_distance_runs_along_the_limb_to_the_nearer_joint(self) -> None:
        # crossing 15 px = .075 head from the wrist: ((.15 - .075) / .15)^2 = .25
        near = limb(("left_elbow", 400, 500), ("left_wrist", 400, 665))
        assert tier("joints", person(joints=near)) == 250

    def test_shoulders_hips_and_unseen_joints_do_not_count(self) -> None:
        shoulder = limb(("left_shoulder", 400, 649), ("left_elbow", 400, 750))
        assert tier("joints", person(joints=shoulder)) == 0
        unseen = limb(("left_elbow", 400, 649), ("left_wrist", 400, 850), visibility=0.79)
        assert tier("joints", person(joints=unseen)) == 0

    def test_side_edges_count_too_but_only_along_the_frame(self) -> None:
        # right edge x = 700: crossing 15 px from the wrist
        sideways = limb(("right_elbow", 600, 500), ("right_wrist", 715, 500))
        assert tier("joints", person(joints=sideways)) == 250
        below = limb(("right_elbow", 600, 800), ("right_wrist", 715, 800))
        assert tier("joints", person(joints=below)) == 0

    def test_the_neck_is_not_cut_between_close_up_and_big_close_up(self) -> None:
        # bottom at 200 + 1.30 x 200 = 460: min(.12, .12) / .12 = 1
        assert tier("joints", crop=box(340, 60, 320, 400)) == 1000
        # bottom at 448: dn = 1.24, (.06 / .12)^2 = .25
        assert tier("joints", crop=box(340, 48, 320, 400)) == 250

    def test_joints_count_in_quarters(self) -> None:
        # bottom at 440: dn = 1.20, (.02 / .12)^2 = .0278 -> 0; at 452: 1.26, (.08 / .12)^2 = .444
        # -> .5
        assert tier("joints", crop=box(340, 40, 320, 400)) == 0
        assert tier("joints", crop=box(340, 52, 320, 400)) == 500

    def test_eyes_more_than_a_scale_beside_their_place_cost_here_too(self) -> None:
        # x0 = 400: u = .25, o = (.48 - .25) / .15 = 1.5333: .5333^2 = .2844; 350: o = .7, nothing
        assert tier("joints", crop=box(x0=400)) == 284
        assert tier("joints", crop=box(x0=350)) == 0
        assert tier("joints", crop=box(x0=400), across=Across.FREE) == 0


class TestAcross:
    def test_facing_stands_in_the_middle(self) -> None:
        # x0 = 320: u = 180/400 = .45: (.03 / .15)^2 = .04
        assert tier("across", crop=box(x0=320)) == 40

    @pytest.mark.parametrize(
        ("turn", "free_from", "free_to"),
        [
            (0.25, 0.48, 0.52),
            (0.375, 0.405, 0.46),  # half way: (.48 + .33) / 2, (.52 + .40) / 2
            (0.5, 0.33, 0.40),
            (1.0, 0.33, 0.40),
            (-0.375, 0.54, 0.595),
            (-0.5, 0.60, 0.67),
        ],
    )
    def test_a_turned_head_has_room_in_front(
        self, turn: float, free_from: float, free_to: float
    ) -> None:
        turned = person(turn=turn)

        def cost(u: float) -> int:
            return tier("across", turned, crop=box(x0=round(500 - 400 * u)))

        inside = [u / 400 for u in range(120, 281) if cost(u / 400) == 0]
        assert min(inside) == pytest.approx(free_from, abs=0.0052)  # 1 px, 1 thousandth
        assert max(inside) == pytest.approx(free_to, abs=0.0052)

    def test_centre_and_free_overrule_the_turn(self) -> None:
        turned = person(turn=0.9)
        assert tier("across", turned) == round(1000 * (0.1 / 0.15) ** 2)
        assert tier("across", turned, across=Across.CENTRE) == 0
        assert tier("across", turned, across=Across.FREE, crop=box(x0=180)) == 0

    def test_an_overhanging_head_adds_its_share(self) -> None:
        # left edge 440: 20 of 160 px past: (.125 / .25)^2 = .25; u = 60/400 free
        assert tier("across", across=Across.FREE, crop=box(x0=440)) == 250

    def test_two_people_are_centred_between_the_outer_eyes(self) -> None:
        # midpoints at 500 and 600: 550; x0 = 310: u = .6: (.06 / .15)^2 = .16
        assert tier("across", person(), person(dx=100), crop=box(x0=310)) == 160

    def test_on_a_spread_the_eyes_take_one_page_and_look_across_the_fold(self) -> None:
        fold = {"gutter": Gutter(Fraction(1, 2), Fraction(1, 100)), "shape": WIDE}
        left, right = box(350, 150, 600, 300), box(50, 150, 600, 300)  # u = .25 and .75
        assert tier("across", crop=left, **fold) == 0
        assert tier("across", crop=right, **fold) == 0
        looking = person(turn=0.3)
        assert tier("across", looking, crop=left, **fold) == 0
        assert tier("across", looking, crop=right, **fold) == 250
        assert tier("across", person(turn=-0.3), crop=left, **fold) == 250


class TestSizes:
    def test_the_shorter_side_is_rounded_half_up(self) -> None:
        # 4:5: 5 -> 4, 6 -> 4.8 -> 5, 7 -> 5.6 -> 6; 3:2 of 15 -> 10; 2:1 of 5 -> 2.5 -> 3
        assert (4, 5) in sizes(destination(), Size(10, 10))
        assert (5, 6) in sizes(destination(), Size(10, 10))
        assert (6, 7) in sizes(destination(), Size(10, 10))
        assert (5, 3) in sizes(destination(shape=WIDE), Size(10, 10))
        assert (5, 2) not in sizes(destination(shape=WIDE), Size(10, 10))

    def test_a_range_allows_every_size_between_its_ends(self) -> None:
        between = destination(shape=ShapeRange(Fraction(1, 2), Fraction(3, 2)))
        by_hand = [(w, h) for h in (1, 2, 3) for w in (1, 2, 3) if 0.5 <= w / h <= 1.5]
        assert sizes(between, Size(3, 3)) == by_hand

    def test_the_greatest_area_is_that_of_the_orientation(self) -> None:
        # in 10 x 6: upright 4:5 is 5 x 6 = 30; on its side 8 x 6 (6.4 -> 6) = 48
        upright = destination(turnable=True)
        assert greatest_area(upright, Size(10, 6)) == 30
        assert greatest_area(upright.turned, Size(10, 6)) == 48

    def test_orientations_are_compared_without_what_is_kept(self) -> None:
        # Nothing asked: upright and wide both cost nothing but what is lost. In a wide master
        # the wide one wins, in an upright master the upright one, whatever they keep.
        anywhere: dict[str, Any] = {
            "turnable": True,
            "across": Across.FREE,
            "framing": (Shot.EXTREME_CLOSE_UP, Shot.FULL),
            "eye_line": Band(0, 1, 0, 1),
            "headroom": Band(0, 1, 0, 1),
        }
        small = person(
            left_eye=Point(28, 20),
            right_eye=Point(32, 20),
            chin=Landmark(Point(30, 25), 0.0),
            skull_top=Landmark(Point(30, 15), 0.0),
            hair_top=Landmark(Point(30, 15), 0.0),
            hairline=Landmark(Point(30, 17), 0.0),
            brows=Landmark(Point(30, 19), 0.0),
            head_box=Extent(26, 15, 34, 25),
        )
        for size, wide in ((Size(60, 50), True), (Size(50, 60), False)):
            found = least_cost(Finding(size=size, subjects=(small,)), destination(**anywhere))
            assert found.cost is not None
            assert found.cost[:7] == (0,) * 7
            assert all((w > h) is wide for _, _, w, h in found.boxes)


@pytest.mark.parametrize("seed", range(12))
def test_brute_force_agrees_with_measuring_every_box_one_by_one(seed: int) -> None:
    one = scene(seed, least=9, most=13)
    master, costs = one.finding.size, []
    for each in one.destination.orientations:
        for w, h in sizes(each, master):
            for x0 in range(master.width - w + 1):
                for y0 in range(master.height - h + 1):
                    crop = PixelBox(x0, y0, x0 + w, y0 + h)
                    costs.append(measure(one.finding, one.destination, crop).cost)
    allowed = [cost for cost in costs if cost[0] == 0]
    least = least_cost(one.finding, one.destination)
    assert least.tried == len(costs)
    assert least.cost == min(allowed, default=None)
