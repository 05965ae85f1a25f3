"""The search: one box and many cost the same, and no size or place is left out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cropper.destination.destination import Frame, ShapeRange
from cropper.geometry import PixelBox, Point, Size
from cropper.proposal import arithmetic, graded, never
from cropper.proposal.composing import best_box, boxes_of, cost_of
from cropper.proposal.frames import Boxes, Look
from cropper.proposal.places import Places, Rungs, marks_across, marks_down, sizes_of
from cropper.proposal.places import span_across as across
from cropper.proposal.places import span_down as down
from cropper.proposal.rows import FIRST_TIERS, LAST_TIERS
from cropper.proposal.scene import Scene, scene_of
from cropper.proposal.sizes import ALL_SIDES_UP_TO, allowed, heights_of
from cropper.subject.subject import SIDES, Joint, Subject
from tests.strategies import Scene as Invented
from tests.strategies import scenes
from tests.unit.proposal.people import destination, found, person

numbers = st.floats(-1e4, 1e4)


@given(first=numbers, second=numbers)
def test_arithmetic_on_one_number_is_that_on_many(first: float, second: float) -> None:
    one, two = np.array([first]), np.array([second])
    for alone, many in (
        (arithmetic.higher(first, second), arithmetic.higher(one, two)),
        (arithmetic.lower(first, second), arithmetic.lower(one, two)),
        (arithmetic.beyond(first, -10.0, second), arithmetic.beyond(one, -10.0, two)),
        (arithmetic.either(first > 0, first, second), arithmetic.either(one > 0, one, two)),
        (arithmetic.floored(first), arithmetic.floored(one)),
        (arithmetic.ceiled(first), arithmetic.ceiled(one)),
        (arithmetic.squared(first), arithmetic.squared(one)),
        (arithmetic.root(abs(first)), arithmetic.root(np.abs(one))),
        (arithmetic.magnitude(first), arithmetic.magnitude(one)),
        (arithmetic.distance(first, second), arithmetic.distance(one, two)),
    ):
        assert float(alone) == float(np.asarray(many)[0])


def scene_in(one: Invented) -> Scene:
    return scene_of(one.finding, one.destination)


@settings(max_examples=60, deadline=None)
@given(one=scenes(), seed=st.integers(0, 2**16))
def test_a_box_alone_costs_to_the_last_bit_what_it_costs_among_many(
    one: Invented, seed: int
) -> None:
    """The rules take one box as floats and many as arrays; both must say the same."""
    scene, rng = scene_in(one), np.random.default_rng(seed)
    boxes = [some_box(rng, scene.size) for _ in range(8)]
    sides = np.array([(box.x0, box.y0, box.width, box.height) for box in boxes], dtype=float)
    many = Boxes(*(sides[:, at : at + 1] for at in range(4)))
    for rule in (*FIRST_TIERS, *LAST_TIERS, graded.polish):
        together = np.broadcast_to(rule(scene, Look(scene, many)), (8, 1))[:, 0]
        alone = [float(rule(scene, Look(scene, boxes_of(box)))) for box in boxes]
        # a group's costs are summed in another order than one by one
        assert together == pytest.approx(alone, rel=1e-12, abs=1e-12)
    for check in never.NEVER.values():
        together = np.broadcast_to(check(scene, many), (8, 1))[:, 0]
        assert list(together) == [float(check(scene, boxes_of(box))) for box in boxes]


def some_box(rng: np.random.Generator, size: Size) -> PixelBox:
    xs = sorted(rng.choice(size.width + 1, 2, replace=False))
    ys = sorted(rng.choice(size.height + 1, 2, replace=False))
    return PixelBox(int(xs[0]), int(ys[0]), int(xs[1]), int(ys[1]))


@settings(max_examples=100, deadline=None)
@given(
    width=st.integers(2, 40),
    height=st.integers(2, 40),
    ends=st.tuples(st.integers(1, 30), st.integers(1, 30), st.integers(1, 30)),
)
def test_every_size_of_a_range_is_tried_on_a_small_master(
    width: int, height: int, ends: tuple[int, int, int]
) -> None:
    a, b, c = ends
    shape = ShapeRange(*sorted((Fraction(a, c), Fraction(b, c))))
    widths, heights = allowed(
        Size(width, height),
        shape,
        between=(1, 128),
        most=ALL_SIDES_UP_TO,
        stretch=ALL_SIDES_UP_TO,
    )
    if shape.exact:
        return
    every = {
        (w, h)
        for w in range(1, width + 1)
        for h in range(heights_of(w, shape, height)[0], heights_of(w, shape, height)[1] + 1)
    }
    told = list(zip(widths.tolist(), heights.tolist(), strict=True))
    assert set(told) == every
    assert len(told) == len(every)


@settings(max_examples=60, deadline=None)
@given(one=scenes(), grid=st.integers(2, 12))
def test_every_place_tried_is_whole_and_inside_its_span(one: Invented, grid: int) -> None:
    scene = scene_in(one)
    if scene.destination.full_frame:
        return
    sides = allowed(scene.size, scene.destination.shape, between=(1, 10**6), most=20, stretch=4)
    sizes = sizes_of(scene, *sides)
    spans = down(scene, sizes), across(scene, sizes)
    fits = (spans[0].least <= spans[0].most) & (spans[1].least <= spans[1].most)
    rungs = Rungs(
        sizes.pick(fits), spans[0].pick(fits), spans[1].pick(fits), np.zeros(int(fits.sum()))
    )
    marks = marks_down(scene, 0), marks_across(scene)
    for chosen in (Places(marks, grid), Places(marks, grid, round_place=(20.0, 20.0))):
        for places, span in ((chosen.y0(rungs), rungs.down), (chosen.x0(rungs), rungs.across)):
            assert (places == np.rint(places)).all()
            assert (places >= span.least[:, None]).all()
            assert (places <= span.most[:, None]).all()


LIMBS = {
    "shoulder": (0.95, 1.45),
    "elbow": (1.15, 2.8),
    "wrist": (0.9, 3.9),
    "fingers": (0.85, 4.4),
    "hip": (0.45, 4.0),
    "knee": (0.4, 5.45),
    "ankle": (0.4, 7.25),
}


def with_limbs(one: Subject) -> Subject:
    head, top = one.head_height_px, one.skull_top.at
    joints = tuple(
        Joint(f"{side}_{name}", Point(top.x + sign * aside * head, top.y + below * head), 1.0)
        for side, sign in zip(SIDES, (-1, 1), strict=True)
        for name, (aside, below) in LIMBS.items()
    )
    return replace(one, joints=joints)


PEOPLE = {
    "one": (person(700, 500, 300),),
    "turned": (person(820, 460, 260, turn=0.8),),
    "with limbs": (with_limbs(person(700, 400, 200)),),
    "three": tuple(with_limbs(person(300 + 350 * n, 480 + 30 * n, 220)) for n in range(3)),
}


@pytest.mark.parametrize("who", PEOPLE)
@pytest.mark.parametrize("frame", list(Frame))
def test_what_a_search_says_its_box_costs_is_what_the_box_costs(who: str, frame: Frame) -> None:
    shape = "1" if frame is Frame.CIRCLE else "3/2"
    scene = scene_of(found(1400, 1300, *PEOPLE[who]), destination(shape, frame=frame))
    best = best_box(scene)
    assert best is not None
    assert best.cost == cost_of(scene, best.box)


@pytest.mark.parametrize("who", PEOPLE)
@pytest.mark.parametrize("frame", list(Frame))
def test_no_box_a_few_pixels_away_is_better(who: str, frame: Frame) -> None:
    """To the pixel: of every size and place within two pixels none costs less."""
    shape = "1" if frame is Frame.CIRCLE else "3/2"
    scene = scene_of(found(1400, 1300, *PEOPLE[who]), destination(shape, frame=frame))
    best = best_box(scene)
    assert best is not None
    box, longer = best.box, max(best.box.width, best.box.height)
    widths, heights = allowed(
        scene.size,
        scene.destination.shape,
        between=(longer - 2, longer + 2),
        most=5,
        stretch=5,
    )
    for w, h in zip(widths.tolist(), heights.tolist(), strict=True):
        for x0 in range(box.x0 - 2, box.x0 + 3):
            for y0 in range(box.y0 - 2, box.y0 + 3):
                near = PixelBox(x0, y0, x0 + w, y0 + h)
                if near.inside(scene.size):
                    assert cost_of(scene, near) >= best.cost
