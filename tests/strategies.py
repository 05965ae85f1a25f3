"""Scenes to try rules on: invented people in invented masters, and destinations of every kind.

Two ways in. ``scene(seed)`` and the ``some_*`` makers draw from a seeded ``random.Random`` and
give the same scene for the same seed on every machine. ``scenes()``, ``subjects()`` and
``destinations()`` are Hypothesis strategies over the same makers. Proportions follow the usual
head (eyes half way down the skull, shoulders a head and a half below the crown), loosened well
beyond what is human, since rules must hold for any points.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace
from fractions import Fraction

from hypothesis import strategies as st

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
from cropper.geometry import WHOLE, Extent, NormalBox, Point, Size
from cropper.subject.subject import Finding, Joint, Landmark, Subject

SHOTS = tuple(Shot)
SHAPES = tuple(
    Fraction(text)
    for text in ("1", "4/5", "9/16", "16/9", "3/1", "191/100", "5/7", "3/2", "2/3", "210/297")
)
JOINT_PLACES = {
    "shoulder": (0.95, 1.45),
    "elbow": (1.15, 2.8),
    "wrist": (0.9, 3.9),
    "fingers": (0.85, 4.4),
    "hip": (0.45, 4.0),
    "knee": (0.4, 5.45),
    "ankle": (0.4, 7.25),
}
"""Where joints stand: heads beside the midline, heads below the crown (cut_lines, loosely)."""


@dataclass(frozen=True, slots=True)
class Scene:
    """One finding and one destination, and the seed they came from."""

    seed: int
    finding: Finding
    destination: Destination


# --- people --------------------------------------------------------------------------------


def some_subject(rng: random.Random, size: Size, *, head: float, principal: bool = True) -> Subject:
    """A person whose head is about ``head`` px, anywhere the eyes still lie in the master."""
    roll = math.radians(rng.choice([0.0, rng.gauss(0, 5), rng.uniform(-35, 35)]))
    centre = Point(rng.uniform(0, size.width), rng.uniform(0, size.height))
    return person_at(rng, centre, head=head, roll=roll, principal=principal)


def person_at(
    rng: random.Random, eyes: Point, *, head: float, roll: float, principal: bool
) -> Subject:
    """A person whose eyes' midpoint is ``eyes``."""

    def place(aside: float, down: float) -> Point:
        """Heads beside and below the eyes, along the head's own axes, as a place."""
        x, y = aside * head, down * head
        return Point(
            eyes.x + x * math.cos(roll) - y * math.sin(roll),
            eyes.y + x * math.sin(roll) + y * math.cos(roll),
        )

    half, above = rng.uniform(0.1, 0.16), rng.uniform(0.45, 0.54)
    hair = rng.choice([0.0, rng.uniform(0, 0.12), rng.uniform(0, 0.5)])
    lean = rng.uniform(-0.2, 0.2)
    pupils = sorted((place(-half, 0), place(half, 0)), key=lambda at: (at.x, at.y))
    chin, skull = place(0, 1 - above), place(0, -above)
    hair_top = Point(skull.x + lean * head, skull.y - hair * head)
    sigma = head * rng.choice([0.005, 0.02, 0.08])
    wide = rng.uniform(0.34, 0.7)
    return Subject(
        left_eye=pupils[0],
        right_eye=pupils[1],
        eye_sigma_px=head * 0.01,
        chin=Landmark(chin, sigma),
        skull_top=Landmark(skull, sigma),
        hair_top=Landmark(hair_top, sigma),
        hairline=Landmark(place(0, -above * rng.uniform(0.5, 0.8)), sigma),
        brows=Landmark(place(0, -above * rng.uniform(0.2, 0.35)), sigma),
        crown_in_frame=hair_top.y >= 0,
        head_box=Extent(
            eyes.x - wide * head,
            min(hair_top.y, chin.y - 0.5 * head),
            eyes.x + (wide + rng.uniform(-0.1, 0.1)) * head,
            max(chin.y, eyes.y) + rng.choice([0.0, 0.1]) * head,
        ),
        turn=rng.choice([0.0, rng.uniform(-0.25, 0.25), rng.uniform(-1, 1)]),
        principal=principal,
        joints=_some_joints(rng, eyes, head, above) if rng.random() < 0.6 else (),
    )


def _some_joints(rng: random.Random, eyes: Point, head: float, above: float) -> tuple[Joint, ...]:
    """A standing body, arms anywhere; visibility on both sides of what counts (.8)."""
    made = []
    for side, sign in (("left", -1), ("right", 1)):
        for name, (aside, down) in JOINT_PLACES.items():
            loose = 0.1 if name in {"shoulder", "hip"} else 0.7
            at = Point(
                eyes.x + (sign * aside + rng.uniform(-loose, loose)) * head,
                eyes.y + (down - above + rng.uniform(-loose, loose)) * head,
            )
            made.append(Joint(f"{side}_{name}", at, rng.choice([0.95, 0.95, 0.85, 0.5])))
    return tuple(made)


def some_finding(rng: random.Random, size: Size) -> Finding:
    """One to five people, one of them principal at least, the rest perhaps bystanders."""
    side = min(size.width, size.height)
    how_many = rng.choice([1, 1, 1, 1, 2, 2, 3, 5])
    largest = 0.6 if how_many == 1 else 0.9 / how_many
    head = side * rng.uniform(0.08, largest)
    row = rng.random() < 0.6
    people = []
    for index in range(how_many):
        principal = index == 0 or rng.random() < 0.5
        one = some_subject(rng, size, head=head * rng.uniform(0.7, 1.2), principal=principal)
        if row:
            at = Point(
                size.width * (index + rng.uniform(0.3, 0.7)) / how_many,
                size.height * rng.uniform(0.25, 0.6),
            )
            roll = math.radians(rng.gauss(0, 6))
            one = person_at(rng, at, head=one.head_height_px, roll=roll, principal=principal)
        people.append(_perhaps_whole_pixels(rng, one))
    return Finding(size=size, subjects=tuple(people))


def _perhaps_whole_pixels(rng: random.Random, one: Subject) -> Subject:
    """Some bystanders stand on whole pixels, so that an edge can exactly touch them."""
    if one.principal or rng.random() < 0.5:
        return one
    box = one.head_box
    whole = Extent(
        math.floor(box.x0), math.floor(box.y0), math.ceil(box.x1) + 1, math.ceil(box.y1) + 1
    )
    return replace(one, head_box=whole)


# --- destinations --------------------------------------------------------------------------


def _some_box(rng: random.Random, *, least: int, parts: int = 20) -> NormalBox:
    """A box with whole twentieths for edges, at least ``least`` of them each way."""
    x0, y0 = rng.randint(0, parts - least), rng.randint(0, parts - least)
    x1, y1 = rng.randint(x0 + least, parts), rng.randint(y0 + least, parts)
    return NormalBox(*(Fraction(edge, parts) for edge in (x0, y0, x1, y1)))


def _some_zone(rng: random.Random, number: int) -> CoveredZone:
    depth = Fraction(rng.randint(1, 6), 20)
    if rng.random() < 0.6:  # a strip along the top or the bottom, as screens lay over pictures
        box = NormalBox(Fraction(0), Fraction(0), Fraction(1), depth)
        if rng.random() < 0.4:
            box = NormalBox(Fraction(0), 1 - depth, Fraction(1), Fraction(1))
    else:
        box = _some_box(rng, least=2)
    return CoveredZone(
        name=f"zone {number}",
        box=box,
        keep_clear=rng.choice(list(KeepClear)),
        hair_may_enter=rng.random() < 0.5,
    )


def _some_band(rng: random.Random, lowest: float, highest: float) -> Band:
    four = sorted(rng.uniform(lowest, highest) for _ in range(4))
    return Band(least=four[1], most=four[2], limit_least=four[0], limit_most=four[3])


def _some_shape(rng: random.Random, *, ranges: bool) -> ShapeRange:
    shape = rng.choice(SHAPES)
    if not ranges or rng.random() < 0.75:
        return ShapeRange(shape, shape)
    return ShapeRange(shape * Fraction(rng.randint(8, 10), 10), shape * Fraction(11, 10))


def some_destination(rng: random.Random, size: Size, *, ranges: bool = True) -> Destination:
    """Any kind of destination a preset can describe; most ask for something that can be had."""
    first = rng.choice([0, 0, 1, 2, 2, 3, 4, 5, 6])
    last = min(6, first + rng.choice([0, 1, 1, 2, 6]))
    made = Destination(
        name="somewhere",
        title="Somewhere",
        shape=_some_shape(rng, ranges=ranges),
        framing=(SHOTS[first], SHOTS[last]) if rng.random() < 0.2 else None,
        across=rng.choice([Across.MASTER, Across.MASTER, Across.LEAD, Across.CENTRE, Across.FREE]),
        trim=rng.choice([WHOLE, WHOLE, _some_box(rng, least=16)]),
        eye_line=_some_band(rng, 0.2, 0.6) if rng.random() < 0.15 else None,
        headroom=_some_band(rng, 0.0, 0.3) if rng.random() < 0.15 else None,
        full_frame=rng.random() < 0.04,
    )
    made = _with_extras(rng, _with_pixels(rng, made, size))
    # A range that holds the square lies neither way there: turning it would mean nothing.
    both_ways = made.shape.least <= 1 <= made.shape.most
    return replace(made, turnable=made.turnable and not both_ways)


def _with_extras(rng: random.Random, made: Destination) -> Destination:
    """Perhaps a circle, a fold, zones, live areas, or identity-picture bands."""
    kind = rng.choice(["plain", "plain", "circle", "spread", "zones", "zones", "areas", "identity"])
    if kind == "circle":
        inner = (LiveArea("inner", _some_box(rng, least=15)),)
        return replace(
            made,
            frame=Frame.CIRCLE,
            live_areas=inner if rng.random() < 0.2 else (),
            head_height=_some_head_height(rng) if rng.random() < 0.5 else None,
        )
    if kind == "spread":
        at, margin = Fraction(rng.choice([9, 10, 10, 10, 11]), 20), Fraction(rng.randint(1, 4), 100)
        return replace(made, gutter=Gutter(at, margin))
    if kind == "zones":
        covered = tuple(_some_zone(rng, number) for number in range(rng.randint(1, 3)))
        return replace(made, covered=covered)
    if kind == "areas":
        areas = tuple(
            LiveArea(f"area {number}", _some_box(rng, least=12))
            for number in range(rng.randint(1, 2))
        )
        return replace(made, live_areas=areas, turnable=rng.random() < 0.4)
    if kind == "identity":
        return replace(made, head_share=_some_band(rng, 0.4, 0.9))
    height = _some_head_height(rng) if rng.random() < 0.15 else None
    return replace(made, turnable=rng.random() < 0.4, head_height=height)


def _some_head_height(rng: random.Random) -> tuple[float, float]:
    least, most = sorted(rng.uniform(0.2, 0.95) for _ in range(2))
    return least, most


def _with_pixels(rng: random.Random, made: Destination, size: Size) -> Destination:
    """What is delivered, sometimes more than the master can give."""
    longer = max(4, round(max(size.width, size.height) * rng.uniform(0.1, 0.9)))
    shape = made.shape.least
    wide, high = (
        (longer, max(1, round(longer / shape)))
        if shape >= 1
        else (
            max(1, round(longer * shape)),
            longer,
        )
    )
    enlargement = Fraction(rng.choice([100, 100, 125, 200]), 100)
    kind = rng.choice(["nothing", "nothing", "delivered", "long edge", "page"])
    if kind == "delivered":
        return replace(made, delivered=Size(wide, high), greatest_enlargement=enlargement)
    if kind == "long edge":
        smaller = rng.random() < 0.3
        return replace(
            made,
            long_edge_px=longer,
            may_be_smaller=smaller,
            greatest_enlargement=enlargement,
        )
    if kind == "page":
        page = (Fraction(wide * 254, 1000), Fraction(high * 254, 1000))
        return replace(
            made,
            page_mm=page,
            delivered=Size(wide, high),
            ppi=Fraction(100),
            least_ppi=Fraction(rng.choice([50, 70, 90])),
            greatest_enlargement=Fraction(2),
        )
    return made


# --- whole scenes --------------------------------------------------------------------------


def scene(seed: int, *, least: int = 24, most: int = 64, ranges: bool = True) -> Scene:
    """The scene of ``seed``: a master with sides of least..most px, people, a destination."""
    rng = random.Random(seed)  # noqa: S311 - scenes, not secrets
    size = Size(rng.randint(least, most), rng.randint(least, most))
    finding = some_finding(rng, size)
    return Scene(seed, finding, some_destination(rng, size, ranges=ranges))


SEEDS = st.integers(min_value=0, max_value=2**32)


def scenes(*, least: int = 24, most: int = 64, ranges: bool = True) -> st.SearchStrategy[Scene]:
    """Whole scenes."""
    return SEEDS.map(lambda seed: scene(seed, least=least, most=most, ranges=ranges))


def subjects(size: Size) -> st.SearchStrategy[Subject]:
    """People in a master of ``size``."""

    def made(seed: int) -> Subject:
        rng = random.Random(seed)  # noqa: S311 - scenes, not secrets
        head = min(size.width, size.height) * rng.uniform(0.08, 0.5)
        return some_subject(rng, size, head=head)

    return SEEDS.map(made)


def destinations(size: Size, *, ranges: bool = True) -> st.SearchStrategy[Destination]:
    """Destinations that a master of ``size`` may or may not suit."""

    def made(seed: int) -> Destination:
        return some_destination(random.Random(seed), size, ranges=ranges)  # noqa: S311

    return SEEDS.map(made)
