"""One record per rule: what it asks, how it is measured, what it costs, and how it is said.

The search, the verdicts, the reasons, `check`, the page and the docs' table all read these
records. To add a rule: a module beside this one with its records in ``RULES``, a row in the table
of docs/composition.md, and its twin in the independent checker (tests/oracle).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from cropper.destination import destination
from cropper.proposal import house
from cropper.proposal.look import Look
from cropper.proposal.people import Many
from cropper.proposal.scene import Scene


class Axis(StrEnum):
    """What a rule depends on besides the size of the crop."""

    SIZE = "size"
    DOWN = "down"
    ACROSS = "across"
    BOTH = "both"


Band = tuple[float | None, float | None]


def always(scene: Scene) -> bool:
    """For rules that speak wherever a person is known and something is cropped."""
    return bool(scene.people) and not scene.destination.full_frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule of a crop.

    ``excess`` measures how far it is missed in its own scale (of a hard rule: in heads), 0 within;
    an array that broadcasts like the look's. ``hard``: a crop that misses it is a problem.
    ``applies`` says in which scenes it speaks. ``easiest`` is the place on its axis (the frame's
    corner: x0 or y0) where the excess is least, for rules whose least lies between the ends of
    the master: what no place can avoid costs nothing. ``told`` false: a weak pull that nobody
    wants to hear of. An excess above ``problem_at`` makes the crop a problem. ``value`` is what
    people are told, in ``unit``; ``sigma`` the uncertainty of the points it rests on, in heads.
    ``words`` says what one sees. ``target`` and ``limit``: bands that a destination states.
    """

    name: str
    title: str
    source: str
    axis: Axis
    excess: Callable[[Look], Many]
    value: Callable[[Look], float]
    unit: str
    words: Callable[[Look, float], str]
    hard: bool = False
    weight: float = 0.0
    cap: float = house.CAP
    linear: bool = False
    applies: Callable[[Scene], bool] = always
    easiest: Callable[[Look], Many] | None = None
    forced_is_free: bool = True
    told: bool = True
    problem_at: float = float("inf")
    sigma: Callable[[Scene], float] = lambda _scene: 0.0
    target: Callable[[Scene], Band] | None = None
    limit: Callable[[Scene], Band] | None = None

    def cost(self, excess: Many) -> Many:
        """What an excess (forced part taken off) adds to the sum."""
        if self.hard:
            return np.where(excess > TOUCH, house.BROKEN * (1 + excess), 0.0)
        return self.weight * np.minimum(excess if self.linear else excess * excess, self.cap)


TOUCH = 1e-9
"""Rounding of floats: an edge that touches is not crossed."""


def target_of(band: destination.Band | None) -> Band:
    """The target that a destination states; open where it states none."""
    return (band.least, band.most) if band else (None, None)


def limit_of(band: destination.Band | None) -> Band:
    """The limits that a destination states; open where it states none."""
    return (band.limit_least, band.limit_most) if band else (None, None)


def over(value: Many) -> Many:
    """What of ``value`` is above 0."""
    return np.maximum(0.0, value)


def worst_person(excess: Many) -> Many:
    """The greatest excess among the persons (first axis)."""
    return np.asarray(excess[0] if len(excess) == 1 else excess.max(axis=0))


def first(value: Many) -> float:
    """The number of a look at one box."""
    return float(value.ravel()[0])


def percent(share: float) -> str:
    """A share as a whole percent.

    >>> percent(0.124)
    '12 %'
    """
    return f"{round(100 * share)} %"
