"""What a timeline is drawn with, whatever it is drawn on: lines, boxes, hatching, stamps, words.

Lengths are points, y down from the drawing's top. Inks are names that page and sheet turn into
colours of their own: ``ink``, ``soft``, ``rule``, ``accent``, ``warn``, ``paper``, and ``t0`` ..
``t5`` for versions.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Hatch(StrEnum):
    """How a surface is ruled; told apart without colour."""

    RISING = "rising"
    FALLING = "falling"
    UPRIGHT = "upright"
    CROSSED = "crossed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight line; ``dash`` in points, 0: unbroken."""

    x0: float
    y0: float
    x1: float
    y1: float
    ink: str = "rule"
    wide: float = 0.5
    dash: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box, filled with so much of its ink (0: not at all), edged or not, hatched or not."""

    x0: float
    y0: float
    x1: float
    y1: float
    ink: str
    fill: float = 0.0
    edge: float = 0.0
    dash: float = 0.0
    hatch: Hatch | None = None
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """A version's own shape in its own tone, centred."""

    mark: int
    x: float
    y: float
    r: float = 3.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One line of words whose middle lies at ``y``; ``align`` is start, middle or end."""

    text: str
    x: float
    y: float
    size: float = 7.0
    bold: bool = False
    ink: str = "ink"
    align: str = "start"


Drawn = Line | Box | Stamp | Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """All marks in the order in which they are drawn, and the size they take."""

    wide: float
    high: float
    marks: tuple[Drawn, ...]
