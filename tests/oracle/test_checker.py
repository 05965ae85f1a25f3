"""The checker against examples worked out by hand from docs/composition.md.

The person of every example, unless moved: head 200 px (skull top y 200, chin y 400), hair top
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
from cropper.subject.subject import EyesState, Finding, Joint, Landmark, Origin, Subject
from tests.oracle.boxes import one_box, sizes
from tests.oracle.case import cases
from tests.oracle.checker import Measured, measure, measure_case
from tests.oracle.optimum import least_sum
from tests.oracle.scenes import rare_scene
from tests.oracle.soft import lead, needed_over_there

FOUR_FIVE = ShapeRange(Fraction(4, 5), Fraction(4, 5))
SQUARE = ShapeRange(Fraction(1), Fraction(1))
ROUND: dict[str, Any] = {"shape": SQUARE, "frame": Frame.CIRCLE}


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


def crop(x0: int = 300, y0: int = 150, w: int = 400, h: int = 500) -> PixelBox:
    return PixelBox(x0, y0, x0 + w, y0 + h)


def normal(x0: str, y0: str, x1: str, y1: str) -> NormalBox:
    return NormalBox(Fraction(x0), Fraction(y0), Fraction(x1), Fraction(y1))


def measured(
    *people: Subject,
    box: PixelBox | None = None,
    nobody: bool = False,
    bodies: tuple[Extent, ...] = (),
    **changes: Any,
) -> Measured:
    subjects = () if nobody else people or (person(),)
    finding = Finding(size=Size(1000, 1000), subjects=subjects, bodies=bodies)
    made: dict[str, Any] = {"name": "a", "title": "A", "shape": FOUR_FIVE}
    return measure(finding, Destination(**{**made, **changes}), box or crop())


def part(name: str, *people: Subject, box: PixelBox | None = None, **changes: Any) -> Any:
    """What the rule ``name`` adds, to be compared within rounding."""
    return pytest.approx(measured(*people, box=box, **changes)[name], abs=1e-9)


def test_the_plain_example() -> None:
    # kept: 1 - 400 x 500 / (800 x 1000) = .75. body: room 250/200 = 1.25, at the top of the
    # master 100/200 = .5: (1.25 - .5)/.3 = 2.5, squared more than 6: .1 x 6. Eye line: e = .3 is
    # .0333/.12 = .27778 off, at y0 = 133 only .00556: .02 x .27222^2 = .001482
    result = measured()
    told = {name: pytest.approx(part) for name, part in result.parts.items() if part}
    assert told == {
        "kept": 0.75,
        "body": 0.6,
        "eye line": 0.02 * (0.1 / 3 - 0.002 / 3) ** 2 / 0.0144,
    }
    assert result.cost == pytest.approx(0.75 + 0.6 + 0.0014821, abs=1e-7)
    assert result.broken == ()


class TestHard:
    def test_pupils_stand_eight_hundredths_of_a_head_inside(self) -> None:
        # .08 x 200 = 16 px; 15 px are .005 heads too few: 100 x 1.005
        assert part("eyes kept down", box=crop(y0=284)) == 0
        assert part("eyes kept down", box=crop(y0=285)) == 100.5
        assert part("eyes kept down", box=crop(y0=15, w=240, h=300)) == 100.5
        assert part("eyes kept across", box=crop(x0=454)) == 0
        assert part("eyes kept across", box=crop(x0=455)) == 100.5
        assert part("eyes kept across", box=crop(x0=145)) == 100.5

    def test_pupils_need_no_more_room_than_the_master_has(self) -> None:
        # the left pupil at 10, the upper ones at 8
        aside, up = person(dx=-460), person(dy=-292)
        assert part("eyes kept across", aside, box=crop(x0=0)) == 0
        assert part("eyes kept across", aside, box=crop(x0=1)) == 100.5
        assert part("eyes kept down", up, box=crop(y0=0)) == 0
        assert part("eyes kept down", up, box=crop(y0=1)) == 100.5

    def test_live_areas_hold_the_eyes_too_as_parts_of_the_trim(self) -> None:
        # trim x 350..650: its left 3/5 ends at 530 and needs 546; its left 2/3 at 550
        trim = normal("1/8", "0", "7/8", "1")
        narrow = (LiveArea("left", normal("0", "0", "3/5", "1")),)
        wide = (LiveArea("left", normal("0", "0", "2/3", "1")),)
        assert part("eyes kept across", trim=trim, live_areas=narrow) == 108
        assert part("eyes kept across", trim=trim, live_areas=wide) == 0

    def test_in_a_circle_the_corner_of_the_farther_pupil_counts(self) -> None:
        # centre (500, 320), radius 100: hypot(30, 20) + 16 is inside.
        # centre (560, 340): across 90, down 40: (98.489 - 100)/200 + .08 = .07244
        assert part("eyes kept in the circle", box=crop(400, 220, 200, 200), **ROUND) == 0
        missed = ((90**2 + 40**2) ** 0.5 - 100) / 200 + 0.08
        result = part("eyes kept in the circle", box=crop(460, 240, 200, 200), **ROUND)
        assert result == 100 * (1 + missed)

    def test_the_face_reaches_from_the_brows_to_the_lower_lip(self) -> None:
        # lower lip at 400 - .2 x 200 = 360
        assert part("face kept", box=crop(y0=280)) == 0
        assert part("face kept", box=crop(y0=281)) == 100.5
        assert part("face kept", box=crop(y0=60, w=240, h=300)) == 0
        assert part("face kept", box=crop(y0=59, w=240, h=300)) == 100.5

    def test_a_face_too_high_for_the_shape_is_let_go(self) -> None:
        # brows to lip 80 px: the greatest crops are 1000 x 100 and 1000 x 50
        strip, thread = (ShapeRange(Fraction(side), Fraction(side)) for side in (10, 20))
        assert part("face kept", box=crop(0, 285, 1000, 100), shape=strip) == 102.5
        assert part("face kept", box=crop(0, 285, 1000, 50), shape=thread) == 0

    def test_half_a_face_and_the_margin_stay_off_the_fold(self) -> None:
        # fold at 500, margin 20, half a face 72
        fold = Gutter(Fraction(1, 2), Fraction(1, 20))
        assert part("gutter", person(dx=92), gutter=fold) == 0
        assert part("gutter", person(dx=-91), gutter=fold) == 100.5
        assert part("gutter", gutter=fold) == 146

    def test_zones_keep_off_the_eyes_by_the_lesser_overlap(self) -> None:
        # the eyes' box is 446..554 x 284..316
        def bar(x1: str, y1: str, **changes: Any) -> Any:
            zone = CoveredZone("bar", normal("0", "0", x1, y1), KeepClear.EYES)
            return part("zones over eyes", covered=(zone,), **changes)

        assert bar("1", "134/500") == 0
        assert bar("1", "135/500") == 100.5
        assert bar("150/400", "1") == 102  # ends at 450: 4 of 200 px
        # from x0 = 540 only 14 px of the box are in, but a full width shares all of it: 32 down
        assert bar("1", "1", box=crop(x0=540)) == 116
        assert bar("1", "1", box=crop(x0=540), trim=normal("0", "0", "7/8", "1")) == 107

    def test_an_identity_picture_fits_its_template(self) -> None:
        # k = 200/500 = .4, .1 outside: .1/.4 = .25. e = .3, .05 outside: .05 x 500/200 = .125
        share = Band(0.55, 0.6, 0.5, 0.7)
        assert part("head in the template", head_share=share) == 125
        line = Band(0.4, 0.45, 0.35, 0.5)
        assert part("eyes in the template", head_share=share, eye_line=line) == 112.5

    @pytest.mark.parametrize(
        "changes",
        [
            {"eyes_state": EyesState.CLOSED},
            {"eyes_from": Origin.ESTIMATED},
            {"turn": -0.16},
            {"mouth_open": 0.6},
            {"right_eye": Point(530, 306)},
        ],
    )
    def test_an_identity_pose_is_open_level_and_straight(self, changes: dict[str, Any]) -> None:
        share = Band(0.3, 0.5, 0.2, 0.6)
        assert part("identity pose", person(**changes), head_share=share) == 150
        assert part("identity pose", person(**changes)) == 0
        assert part("identity pose", person(turn=0.14, mouth_open=0.4), head_share=share) == 0


class TestSize:
    def test_the_shorter_side_is_rounded_half_up(self) -> None:
        found = sizes(Destination(name="a", title="A", shape=FOUR_FIVE), Size(1000, 1000))
        assert {(2, 3), (6, 7), (400, 500), (800, 1000)} <= set(found)  # 2.4, 5.6
        assert len(found) == 1000

    def test_kept_is_linear_in_the_area(self) -> None:
        assert part("kept", box=crop(w=200, h=250)) == 1 - 1 / 16

    def test_orientation_is_that_of_the_master_and_squares_stand(self) -> None:
        lying = crop(x0=200, w=500, h=400)
        assert part("orientation", box=lying, turnable=True) == 0.5
        assert part("orientation", turnable=True) == 0
        assert part("orientation") == 0
        both = ShapeRange(Fraction(4, 5), Fraction(5, 4))
        assert part("orientation", box=lying, shape=both) == 0.5

    def test_pixels_are_graded_up_to_a_cap(self) -> None:
        # 410/400: .025/.05 = .5; 525/500 and 420/400: 1; 600/400: 10, capped
        assert part("pixels", delivered=Size(410, 512)) == 0.05
        assert part("pixels", delivered=Size(820, 1025), greatest_enlargement=Fraction(2)) == 0.05
        assert part("pixels", long_edge_px=525) == 0.2
        assert part("pixels", long_edge_px=525, may_be_smaller=True) == 0
        assert part("pixels", delivered=Size(600, 750)) == 1.2
        # page 25.4 mm and 6.35 mm of bleed on each side: 1.5 in x 280 = 420 px
        page: dict[str, Any] = {
            "page_mm": (Fraction(127, 5), Fraction(127, 4)),
            "bleed_mm": Fraction(635, 100),
        }
        assert part("pixels", delivered=Size(2, 2), least_ppi=Fraction(280), **page) == 0.2

    def test_a_head_that_is_asked_for_is_neither_small_nor_large(self) -> None:
        # k = (400 - 180)/500 = .44
        assert part("head small", head_height=(0.59, 0.8)) == 2
        assert part("head large", head_height=(0.1, 0.29)) == 0.7
        assert part("head on target", head_share=Band(0.45, 0.6, 0.1, 0.9)) == 2


class TestDown:
    def test_the_chin_keeps_room(self) -> None:
        # room 10/200 = .05: (.07/.12)^2 x .12; two: the worst
        low = crop(y0=0, w=328, h=410)
        assert part("chin", box=low) == 0.12 * (0.07 / 0.12) ** 2
        assert part("chin", person(), person(dx=40, dy=-50), box=low) == 0.12 * (0.07 / 0.12) ** 2

    def test_the_body_costs_what_the_top_of_the_master_would_not_show(self) -> None:
        # y0 = 50: (.75 - .5)/.3
        assert part("body", box=crop(y0=50)) == 0.1 * (0.25 / 0.3) ** 2
        assert part("body", box=crop(y0=0)) == 0

    def test_eyes_stand_neither_low_nor_high(self) -> None:
        assert part("eyes low", box=crop(y0=30)) == 0.2  # e = .54
        assert part("eyes high", box=crop(y0=205)) == 0.2  # e = .19
        assert part("eyes high", person(), person(dx=40), box=crop(y0=205)) == 0

    def test_what_the_masters_edge_forces_is_free(self) -> None:
        # moved up 250 px, the eyes at 50: e = .1 at best, .2 above the third
        up = person(dy=-250)
        assert part("eyes high", up, box=crop(y0=0)) == 0
        assert part("eye line", up, box=crop(y0=0)) == 0
        assert part("eyes high", up, box=crop(y0=9)) == 0.2 * 0.2**2  # .018/.09

    def test_an_asked_eye_line_has_its_own_scale(self) -> None:
        # e = .3, .1 off; the limits lie .05 off the target: 2^2
        asked: dict[str, Any] = {"eye_line": Band(0.4, 0.45, 0.35, 0.5)}
        assert part("eye line asked", **asked) == 4
        assert part("eye line", **asked) == 0

    def test_framing_measures_heads_below_the_skull_top(self) -> None:
        # d = 450/200 = 2.25, close-up to 1.8: .45/.5 = .9
        assert part("framing", framing=(Shot.CLOSE_UP, Shot.CLOSE_UP)) == 0.5 * 0.81
        assert part("framing", framing=(Shot.BUST, Shot.BUST)) == 0

    def test_a_whole_crown_is_not_cut(self) -> None:
        assert part("crown cut", box=crop(y0=180)) == 0
        assert part("crown cut", box=crop(y0=181)) == 0.3
        assert part("crown cut", person(crown_in_frame=False), box=crop(y0=181)) == 0

    def test_a_crown_is_clear_or_cut_as_meant(self) -> None:
        # clear up to 180 - .02 x 500 = 170; cuts 196..230 and 250..256; scale 20 px
        for top, off in ((170, 0), (180, 10), (188, 8), (200, 0), (240, 10), (253, 0), (266, 10)):
            assert part("crown", box=crop(y0=top)) == 0.05 * (off / 20) ** 2

    def test_a_crown_that_the_master_has_cut_may_stay_so(self) -> None:
        # any t up to 10, or 196 on; t = 100 would be 90 px off, t = 20 10 px
        cut = person(crown_in_frame=False, dy=-150)  # hair top 30, clear up to 20
        assert part("crown", cut, box=crop(y0=24)) == 0.05 * (4 / 20) ** 2
        above = person(dy=-190)  # hair top -10, cuts 6..40 and 60..66, or up to 10
        assert part("crown", above, box=crop(y0=50)) == 0.05 * (10 / 20) ** 2

    def test_headroom_is_neither_little_nor_much(self) -> None:
        assert part("headroom little", box=crop(y0=170)) == 0.05 * 0.25  # r = .02
        assert part("headroom little", box=crop(y0=181)) == 0
        assert part("headroom little", person(dy=-170), box=crop(y0=5)) == 0.05 * 0.0625
        assert part("headroom", box=crop(y0=65)) == 0.15  # r = .23
        assert part("headroom asked", headroom=Band(0.1, 0.2, 0.0, 0.3)) == 0.3 * 0.25

    def test_air_above_a_cut_figure_is_slack(self) -> None:
        # r = 150/500: .05/.08. A head of 100 px stands whole where 7 of them lie below its skull
        assert part("slack", box=crop(y0=30)) == 0.05 * 0.625**2
        small: dict[str, Any] = {
            "skull_top": Landmark(Point(500, 300), 2.0),
            "hair_top": Landmark(Point(500, 290), 2.0),
        }
        assert part("slack", person(**small), box=crop(0, 0, 800, 1000)) == 0
        r = 290 / 999
        cut = part("slack", person(**small), box=crop(0, 0, 799, 999))
        assert cut == 0.05 * ((r - 0.25) / 0.08) ** 2

    def test_in_a_circle_the_middle_of_the_head_is_the_middle(self) -> None:
        # head box middle (500, 290); circle about (515, 305), radius 100: 15/100/.15 = 1
        box = crop(415, 205, 200, 200)
        assert part("circle across", box=box, **ROUND) == 0.08
        assert part("circle down", box=box, **ROUND) == 0.08

    def test_nobody_known_keeps_four_tenths_of_the_loss_above(self) -> None:
        # .4 x 500 = 200; 75/500/.15 = 1
        assert part("place down", nobody=True, box=crop(y0=275)) == 0.2
        assert part("lateral", nobody=True, box=crop(x0=330)) == 0.2 * 0.25


class TestAcross:
    def test_eyes_keep_their_place_across(self) -> None:
        # u = 170/400 = .425, own .5: .075/.15
        assert part("lateral", box=crop(x0=330)) == 0.05
        assert part("lateral", box=crop(x0=330), across=Across.FREE) == 0

    def test_centre_is_the_heads_middle_and_an_identity_pictures_eyes(self) -> None:
        wide = person(head_box=Extent(420, 180, 640, 400))  # middle 530
        assert part("lateral", wide, box=crop(x0=330), across=Across.CENTRE) == 0
        share: dict[str, Any] = {"across": Across.CENTRE, "head_share": Band(0.3, 0.5, 0.2, 0.6)}
        assert part("lateral", wide, box=crop(x0=300), **share) == 0

    @pytest.mark.parametrize(
        ("own", "turn", "least", "most"),
        [
            (0.5, 0.2, 0.5, 0.5),
            (0.5, 0.375, 0.415, 0.45),
            (0.5, 0.5, 0.33, 0.40),
            (0.5, -1, 0.60, 0.67),
            (0.2, 1, 0.2, 0.40),
            (0.7, -1, 0.60, 0.7),
        ],
    )
    def test_lead_gives_a_turned_head_room_in_front(
        self, own: float, turn: float, least: float, most: float
    ) -> None:
        assert lead(own, turn) == pytest.approx((least, most))

    def test_a_head_that_hangs_out_costs_its_share(self) -> None:
        # 20 of 160 px: .125/.25; a group's weighs 1, and the worst counts
        assert part("sides", box=crop(x0=440)) == 0.4 * 0.25
        two = (person(), person(dx=100))
        assert measured(*two, box=crop(x0=440))["sides of the group"] == pytest.approx(0.25)

    def test_a_live_area_holds_the_face(self) -> None:
        # x 300..500 of the face's 428..572: half is lost: .5/.25 = 2
        half = (LiveArea("left", normal("0", "0", "1/2", "1")),)
        assert part("live area", live_areas=half) == 0.3 * 4
        assert part("live area", live_areas=(LiveArea("all", normal("0", "0", "1", "1")),)) == 0


class TestBoth:
    @pytest.mark.parametrize(
        ("elbow", "seen", "cost"),
        [(649.9, 0.9, 0.25), (635, 0.9, 0.0625), (600, 0.9, 0), (649.9, 0.7, 0)],
    )
    def test_an_edge_near_a_joint_costs_in_quarters(
        self, elbow: float, seen: float, cost: float
    ) -> None:
        # the lower edge, y 650, crosses a forearm 450 px beside it; scale .15 x 200 = 30 px
        arm = (
            Joint("left_elbow", Point(450, elbow), seen),
            Joint("left_wrist", Point(450, 800), 0.9),
        )
        assert part("joints", person(joints=arm)) == cost

    def test_shoulders_do_not_count_and_edges_end_at_the_corners(self) -> None:
        upper = (
            Joint("left_shoulder", Point(450, 649), 0.9),
            Joint("left_elbow", Point(450, 800), 0.9),
        )
        assert part("joints", person(joints=upper)) == 0
        beside = (
            Joint("left_elbow", Point(250, 649), 0.9),
            Joint("left_wrist", Point(250, 800), 0.9),
        )
        assert part("joints", person(joints=beside)) == 0

    def test_zones_over_a_face_add_up(self) -> None:
        # the face is 428..572 x 240..400: below y 380 an eighth of it, .125/.25; the head
        # 420..580 x 180..400: 20/220
        def zone(keep: KeepClear, *, hair: bool = True) -> CoveredZone:
            return CoveredZone("low", normal("0", "230/500", "1", "1"), keep, hair_may_enter=hair)

        face = zone(KeepClear.FACE)
        assert part("covered face", covered=(face,)) == 0.15 * 0.25
        assert part("covered face", covered=(face, face)) == 0.15
        assert part("covered face", covered=(zone(KeepClear.EYES),)) == 0
        head = zone(KeepClear.HEAD, hair=False)
        assert part("covered face", covered=(head,)) == 0.15 * (20 / 220 / 0.25) ** 2

    def test_a_cut_stranger_costs_most_in_the_middle(self) -> None:
        half = person(dx=200, principal=False)  # head box 620..780, the edge at 700
        assert part("bystanders", person(), half) == 0.2
        body = Extent(620, 200, 780, 1000)  # upper quarter 200..400
        assert part("bystanders", bodies=(body,)) == 0.2
        assert part("bystanders", bodies=(Extent(620, 649, 660, 653),)) == 0  # its first row is in


class TestPeople:
    def test_a_group_may_lose_neighbours_for_half_a_point_each(self) -> None:
        # the second head is outside by far: leaving it out costs .5, keeping it a hard rule
        result = measured(person(), person(dx=300))
        assert result.left_out == 1
        assert result["people left out"] == 0.5
        assert result["bystanders"] == 0
        assert result["sides of the group"] == 0

    def test_a_head_that_is_left_out_and_cut_weighs_three(self) -> None:
        # head box 610..770: .5625 of it inside
        result = measured(person(), person(dx=190))
        inside = 90 / 160
        assert result["bystanders"] == pytest.approx(0.2 * 3 * 4 * inside * (1 - inside))

    def test_runs_are_of_neighbours(self) -> None:
        row = tuple(person(dx=dx) for dx in (-200, 200, 0))
        finding = Finding(size=Size(1000, 1000), subjects=row)
        every = cases(finding, Destination(name="a", title="A", shape=FOUR_FIVE))
        found = sorted(tuple(one.eyes.x for one in case.people) for case in every)
        assert found == [(300,), (300, 500), (300, 500, 700), (500,), (500, 700), (700,)]

    def test_a_whole_master_owes_only_its_pixels(self) -> None:
        result = measured(person(dy=-300), box=crop(0, 0, 1000, 1000), full_frame=True)
        assert result.cost == 0
        whole: dict[str, Any] = {"box": crop(0, 0, 1000, 1000), "full_frame": True}
        assert part("pixels", **whole, long_edge_px=1050) == 0.2


@pytest.mark.parametrize("seed", range(600, 605))
def test_the_search_agrees_with_measuring_every_box_one_by_one(seed: int) -> None:
    one = rare_scene(seed, least=6, most=8, ranges=False)
    costs = [
        measure_case(case, crop(x0, y0, w, h)).cost
        for case in cases(one.finding, one.destination)
        for w, h in case.searched
        if needed_over_there(case, one_box(0, 0, w, h))[0] < 3
        for x0 in range(case.master.width - w + 1)
        for y0 in range(case.master.height - h + 1)
    ]
    least = least_sum(one.finding, one.destination)
    assert min(costs, default=float("inf")) == pytest.approx(least.cost, abs=1e-6)
