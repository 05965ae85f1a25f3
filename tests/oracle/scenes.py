"""Scenes to hold the planner against: those of :mod:`tests.strategies`, and the rarer ones.

To those come bodies without a found head, masters in which nobody is known, the states of eyes
and mouth that an identity picture asks for, shape ranges that hold the square, and crowns that
the master has cut though the hair's top lies inside.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

from cropper.destination.destination import Across, Destination, ShapeRange
from cropper.geometry import Extent, Size
from cropper.subject.subject import EyesState, Finding, Origin, Subject
from tests.strategies import Scene, some_destination, some_finding


def rare_scene(seed: int, *, least: int = 24, most: int = 64, ranges: bool = True) -> Scene:
    """The scene of ``seed``: a master with sides of least..most px, people, a destination."""
    rng = random.Random(seed)  # noqa: S311 - scenes, not secrets
    size = Size(rng.randint(least, most), rng.randint(least, most))
    finding = some_finding(rng, size)
    destination = some_destination(rng, size, ranges=ranges)
    return Scene(seed, _rarer_people(rng, finding), _rarer_place(rng, destination, ranges=ranges))


def _rarer_people(rng: random.Random, finding: Finding) -> Finding:
    people = tuple(_rarer_person(rng, one) for one in finding.subjects)
    kind = rng.random()
    if kind < 0.06:  # nobody is known, though somebody may stand there
        people = tuple(one.as_principal(principal=False, why="") for one in people[1:])
    elif kind > 0.85:  # one sitter, the rest stands by
        people = tuple(
            one.as_principal(principal=number == 0, why="") for number, one in enumerate(people)
        )
    bodies = tuple(
        _some_body(rng, finding.size) for _ in range(rng.choice([0, 0, 0, 0, 0, 0, 0, 1, 1, 2]))
    )
    return replace(finding, subjects=people, bodies=bodies)


def _rarer_person(rng: random.Random, one: Subject) -> Subject:
    state = rng.choice([EyesState.OPEN] * 12 + list(EyesState))
    origin = rng.choice([Origin.FOUND] * 12 + list(Origin))
    mouth = rng.choice([None, None, rng.random()])
    crown = one.crown_in_frame and rng.random() > 0.05
    return replace(one, eyes_state=state, eyes_from=origin, mouth_open=mouth, crown_in_frame=crown)


def _some_body(rng: random.Random, size: Size) -> Extent:
    x0, y0 = rng.uniform(-0.1, 0.9) * size.width, rng.uniform(-0.1, 0.9) * size.height
    return Extent(
        x0,
        y0,
        x0 + rng.uniform(0.05, 0.3) * size.width,
        y0 + rng.uniform(0.1, 0.9) * size.height,
    )


def _rarer_place(rng: random.Random, made: Destination, *, ranges: bool) -> Destination:
    if made.full_frame:  # presets may say no more about a whole master than its pixels
        return Destination(
            name=made.name,
            title=made.title,
            shape=made.shape,
            full_frame=True,
            long_edge_px=made.long_edge_px,
            may_be_smaller=made.may_be_smaller,
            greatest_enlargement=made.greatest_enlargement,
        )
    if made.head_share is not None and rng.random() < 0.7:
        # As presets ask for identity pictures: the eyes in the middle, one way up.
        return replace(made, across=Across.CENTRE, turnable=False)
    if ranges and rng.random() < 0.05 and not made.turnable:
        shape = ShapeRange(Fraction(rng.randint(6, 9), 10), Fraction(rng.randint(11, 19), 10))
        return replace(made, shape=shape)
    return made
