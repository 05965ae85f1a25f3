"""Invented people and destinations for the proposal tests; points by plain proportions."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from cropper.destination.destination import Destination, ShapeRange
from cropper.geometry import Extent, Point, Size
from cropper.subject.subject import Finding, Landmark, Subject


def person(
    x: float,
    eye_y: float,
    head: float,
    *,
    hair: float = 0.06,
    turn: float = 0.0,
    sigma: float = 0.01,
) -> Subject:
    """A facing person: eyes half way down the head, hair ``hair`` heads above the skull."""
    skull, chin = eye_y - 0.5 * head, eye_y + 0.5 * head

    def mark(at_x: float, at_y: float) -> Landmark:
        return Landmark(Point(at_x, at_y), sigma * head)

    return Subject(
        left_eye=Point(x - 0.14 * head, eye_y),
        right_eye=Point(x + 0.14 * head, eye_y),
        eye_sigma_px=0.005 * head,
        chin=mark(x, chin),
        skull_top=mark(x, skull),
        hair_top=mark(x, skull - hair * head),
        hairline=mark(x, skull + 0.2 * head),
        brows=mark(x, skull + 0.4 * head),
        crown_in_frame=skull - hair * head >= 0,
        head_box=Extent(x - 0.38 * head, skull - hair * head, x + 0.38 * head, chin),
        turn=turn,
    )


def found(width: int, height: int, *people: Subject) -> Finding:
    """A finding of these people."""
    return Finding(size=Size(width, height), subjects=people)


def bystander(one: Subject) -> Subject:
    """The same person, not principal."""
    return replace(one, principal=False)


def destination(shape: str = "4/5", **changes: Any) -> Destination:
    """A plain screen destination; ``changes`` replace its fields."""
    fields: dict[str, Any] = {
        "name": "post",
        "title": "Post",
        "shape": ShapeRange(Fraction(shape), Fraction(shape)),
    }
    return Destination(**(fields | changes))
