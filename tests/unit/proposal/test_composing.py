"""The search: what it says a box costs is what it costs, and no box near it costs less."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cropper.destination.destination import CoveredZone, Frame, KeepClear, ShapeRange
from cropper.geometry import NormalBox, PixelBox, Point, Size
from cropper.proposal.composing import Search
from cropper.proposal.look import Look
from cropper.proposal.scene import Scene, scene_of
from cropper.proposal.sizes import all_sizes, exact_size, largest, longest_side
from cropper.subject.subject import SIDES, Joint, Subject
from tests.strategies import JOINT_PLACES, scenes
from tests.strategies import Scene as Invented
from tests.unit.proposal.people import bystander, destination, found, person


def with_limbs(one: Subject) -> Subject:
    head, top = one.head_height_px, one.skull_top.at
    joints = tuple(
        Joint(f"{side}_{name}", Point(top.x + sign * aside * head, top.y + below * head), 1.0)
        for side, sign in zip(SIDES, (-1, 1), strict=True)
        for name, (aside, below) in JOINT_PLACES.items()
    )
    return replace(one, joints=joints)


LID = CoveredZone(
    "lid", NormalBox(Fraction(0), Fraction(0), Fraction(1), Fraction(1, 4)), KeepClear.HEAD
)
PEOPLE = {
    "one": (person(700, 500, 300),),
    "turned": (person(820, 460, 260, turn=0.8),),
    "with limbs": (with_limbs(person(700, 400, 200)),),
    "three": tuple(with_limbs(person(300 + 350 * n, 480 + 30 * n, 220)) for n in range(3)),
    "one and a bystander": (person(500, 500, 300), bystander(person(1000, 520, 260))),
    "nobody": (),
}
PLACES = {
    "lying": destination("3/2"),
    "round": destination("1", frame=Frame.CIRCLE, head_height=(0.5, 0.75)),
    "with a lid": destination("9/16", covered=(LID,)),
    "free": destination(shape="1"),
}
PLACES["free"] = replace(PLACES["free"], shape=ShapeRange(Fraction(3, 4), Fraction(4, 3)))


def scene_for(who: str, where: str) -> Scene:
    return scene_of(found(1400, 1300, *PEOPLE[who]), PLACES[where])


@pytest.mark.parametrize("where", PLACES)
@pytest.mark.parametrize("who", PEOPLE)
def test_what_a_search_says_its_box_costs_is_what_the_box_costs(who: str, where: str) -> None:
    search = Search(scene_for(who, where))
    best = search.best()
    assert best.box.inside(search.scene.size)
    assert search.measured(best.box).cost == pytest.approx(best.cost, abs=1e-9)


@pytest.mark.parametrize("where", PLACES)
@pytest.mark.parametrize("who", PEOPLE)
def test_no_box_a_few_pixels_away_is_better_by_what_an_eye_sees(who: str, where: str) -> None:
    scene = scene_for(who, where)
    search = Search(scene)
    best = search.best()
    for near in boxes_near(scene, best.box, 2):
        assert search.measured(near).cost >= best.cost - 0.001  # the gap that the page allows


def boxes_near(scene: Scene, box: PixelBox, reach: int) -> list[PixelBox]:
    shape, steps = scene.destination.shape, range(-reach, reach + 1)
    longer = max(box.width, box.height)
    if shape.exact:
        sizes = {exact_size(longer + step, shape.least) for step in steps}
    else:
        sizes = {Size(box.width + a, box.height + b) for a in steps for b in steps}
        sizes = {one for one in sizes if shape.least <= Fraction(*one_pair(one)) <= shape.most}
    boxes = [
        PixelBox(box.x0 + a, box.y0 + b, box.x0 + a + one.width, box.y0 + b + one.height)
        for one in sizes
        for a in steps[:: reach or 1]
        for b in steps[:: reach or 1]
    ]
    return [one for one in boxes if one.inside(scene.size)]


def one_pair(size: Size) -> tuple[int, int]:
    return size.width, size.height


def test_a_search_between_two_sizes_stays_there() -> None:
    scene = scene_for("one", "lying")
    box = Search(scene, between=(500, 600)).best().box
    assert 500 <= box.width <= 600


def test_a_full_frame_is_the_whole_master_and_nothing_but_pixels_counts() -> None:
    whole = replace(PLACES["free"], full_frame=True, long_edge_px=2000)
    search = Search(scene_of(found(1400, 1300, *PEOPLE["three"]), whole))
    assert search.best().box == PixelBox(0, 0, 1400, 1300)
    assert [rule.name for rule in search.rules] == ["pixels"]


@settings(max_examples=40, deadline=None)
@given(one=scenes(), seed=st.integers(0, 2**16))
def test_a_box_alone_is_measured_as_among_many(one: Invented, seed: int) -> None:
    scene, rng = scene_of(one.finding, one.destination), np.random.default_rng(seed)
    boxes = [some_box(rng, scene.size) for _ in range(6)]
    x0, y0, w, h = (
        np.array(column, dtype=float)[:, None, None]
        for column in zip(*((box.x0, box.y0, box.width, box.height) for box in boxes), strict=True)
    )
    for rule in Search(scene).rules:
        together = np.broadcast_to(rule.excess(Look(scene, x0, y0, w, h)), (6, 1, 1)).ravel()
        alone = [float(rule.excess(Look.of(scene, box)).ravel()[0]) for box in boxes]
        assert list(together) == pytest.approx(alone, rel=1e-12, abs=1e-12)


def some_box(rng: np.random.Generator, size: Size) -> PixelBox:
    xs = sorted(rng.choice(size.width + 1, 2, replace=False))
    ys = sorted(rng.choice(size.height + 1, 2, replace=False))
    return PixelBox(int(xs[0]), int(ys[0]), int(xs[1]), int(ys[1]))


@given(width=st.integers(1, 90), height=st.integers(1, 90), over=st.integers(1, 40))
def test_the_longest_side_is_the_greatest_that_fits(width: int, height: int, over: int) -> None:
    master, shape = Size(width, height), Fraction(over, 13)
    longest = longest_side(master, shape)
    fitting = [
        longer
        for longer in range(1, max(width, height) + 1)
        if fits(exact_size(longer, shape), master)
    ]
    assert longest == max(fitting, default=longest)


def fits(size: Size, master: Size) -> bool:
    return size.width <= master.width and size.height <= master.height


@given(
    width=st.integers(8, 90),
    height=st.integers(8, 90),
    ends=st.tuples(st.integers(5, 15), st.integers(5, 15)),
)
def test_every_size_tried_is_allowed_and_the_largest_is_among_them(
    width: int, height: int, ends: tuple[int, int]
) -> None:
    least, most = sorted(Fraction(end, 10) for end in ends)
    master, shape = Size(width, height), ShapeRange(least, most)
    w, h = all_sizes(master, shape, 4, 12)
    pairs = {(int(a), int(b)) for a, b in zip(w[:, 0], h[:, 0], strict=True)}
    biggest = largest(master, shape)
    assert (biggest.width, biggest.height) in pairs
    for a, b in pairs:
        assert fits(Size(a, b), master)
        if not shape.exact:
            assert least <= Fraction(a, b) <= most
