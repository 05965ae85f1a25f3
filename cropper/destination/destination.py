"""A destination: everything a crop and a finished file must satisfy in one place it goes to.

Boxes are fractions of the TRIM (what is seen), except ``trim`` itself, which is a fraction of
the whole crop with bleed. Lengths are exact ``Fraction`` millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from typing import Final

from cropper.destination.shots import Shot
from cropper.geometry import MM_PER_INCH, WHOLE, NormalBox, Size


class Frame(StrEnum):
    """What the seen frame's outline is."""

    RECTANGLE = "rectangle"
    CIRCLE = "circle"


class KeepClear(StrEnum):
    """What may not lie under a covered zone."""

    EYES = "eyes"
    FACE = "face"
    HEAD = "head"


class Across(StrEnum):
    """Where the eyes should stand across the frame."""

    MASTER = "as the master"
    LEAD = "lead"
    CENTRE = "centre"
    FREE = "free"


class Medium(StrEnum):
    """What the file is looked at on."""

    SCREEN = "screen"
    CONTINUOUS_TONE = "continuous tone"
    HALFTONE = "halftone"
    CANVAS = "canvas"
    PRESS_HAND_OFF = "press hand-off"


@dataclass(frozen=True, slots=True)
class ShapeRange:
    """Width over height of the whole crop (bleed included), both ends included."""

    least: Fraction
    most: Fraction

    def __post_init__(self) -> None:
        if not 0 < self.least <= self.most:
            message = f"a shape range needs 0 < least <= most, not {self.least}..{self.most}"
            raise ValueError(message)

    @property
    def exact(self) -> bool:
        """Whether only one shape is allowed."""
        return self.least == self.most

    @property
    def turned(self) -> ShapeRange:
        """The range of the same frames on their side."""
        return ShapeRange(1 / self.most, 1 / self.least)


@dataclass(frozen=True, slots=True)
class LiveArea:
    """A part of the trim that is all that some viewers see."""

    name: str
    box: NormalBox


@dataclass(frozen=True, slots=True)
class CoveredZone:
    """A part of the trim that something else may lie over, and what must stay clear of it."""

    name: str
    box: NormalBox
    keep_clear: KeepClear
    hair_may_enter: bool = True


@dataclass(frozen=True, slots=True)
class Gutter:
    """The fold of a spread: its place across the trim, and the half width no face may enter.

    ``strip_mm`` is repeated on both pages at the fold when the printer asks; None: not doubled.
    """

    at: Fraction
    margin: Fraction
    strip_mm: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """A target band with its limits, in fractions of the seen frame."""

    least: float
    most: float
    limit_least: float
    limit_most: float

    def __post_init__(self) -> None:
        if not self.limit_least <= self.least <= self.most <= self.limit_most:
            message = f"a band needs limit <= least <= most <= limit, not {self}"
            raise ValueError(message)


PRESS_PDF: Final = "press-pdf"
"""The format that is pages, not pixels."""


class Wrap(StrEnum):
    """What a canvas shows where it is folded round its bars: outside the composition either way."""

    MASTER = "from the master"
    MIRRORED = "mirrored"


class Surround(StrEnum):
    """What may fill a frame that the master does not."""

    NOTHING = "nothing"
    BORDER = "border"
    BACKDROP = "backdrop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """How the finished file is written. ``quality`` is 1..100 for lossy formats.

    ``intent`` and ``black_point`` count with a profile file only, whose bytes have the SHA-256
    ``profile_sha256``. ``border_px`` is added on every side of the delivered picture, in
    ``border_colour`` ('#rrggbb', sRGB); ``border_mm`` is the same on paper. ``mirror_px`` of the
    picture are mirrored outward on every side, ``mirror_mm`` on paper. ``fill`` is what a crop
    that reaches past the master is filled with. ``pages`` and ``crop_marks`` are a press PDF's.
    """

    format: str = "jpeg"
    quality: int = 90
    chroma: str = "4:4:4"
    byte_cap: int | None = None
    profile: str = "srgb"
    bit_depth: int = 8
    medium: Medium = Medium.SCREEN
    viewing_distance_mm: Fraction | None = None
    sharpen: bool = True
    progressive: bool = False
    intent: str = "relative"
    black_point: bool = True
    profile_sha256: str = ""
    border_px: int = 0
    border_mm: Fraction = Fraction(0)
    border_colour: str = ""
    mirror_px: int = 0
    mirror_mm: Fraction = Fraction(0)
    fill: Surround = Surround.NOTHING
    pages: int = 1
    crop_marks: bool = False

    def __post_init__(self) -> None:
        if min(self.border_px, self.mirror_px) < 0 or self.pages not in {1, 2}:
            message = f"a border or wrap is not below 0, and pages are 1 or 2: {self}"
            raise ValueError(message)

    def with_border(self, size: Size) -> Size:
        """The file's size for a picture of ``size``: with its border, or its mirrored wrap."""
        more = 2 * (self.border_px + self.mirror_px)
        return Size(size.width + more, size.height + more)


@dataclass(frozen=True, slots=True, kw_only=True)
class Destination:
    """One place a picture goes to. See docs/reference/presets.md for the TOML of each field.

    ``delivered`` is the pixel size of the picture, bleed included, its border not (None:
    ``long_edge_px`` decides, and if that is None too, the crop's own pixels). ``page_mm`` is the
    trim in millimetres, inside the border if there is one, and ``bleed_mm`` what is added on
    each side of it; None and 0 for screens. A canvas's wrap from the master is its bleed, and a
    mirrored one is added by ``finish``.
    ``may_be_smaller``: ``long_edge_px`` is a ceiling, and a smaller crop keeps its pixels.
    ``framing`` is (tightest, loosest) shot, where one is demanded. ``head_height`` is the band of
    hair top to chin as a share of the seen height, for places that ask for a head.
    ``eye_line`` and ``headroom`` of None mean the house's own. ``turnable``: the photographer's
    choice of upright or on its side.
    """

    name: str
    title: str
    description: str = ""
    groups: tuple[str, ...] = ()
    shape: ShapeRange
    full_frame: bool = False
    turnable: bool = False
    delivered: Size | None = None
    long_edge_px: int | None = None
    may_be_smaller: bool = False
    page_mm: tuple[Fraction, Fraction] | None = None
    bleed_mm: Fraction = Fraction(0)
    ppi: Fraction | None = None
    least_ppi: Fraction | None = None
    greatest_enlargement: Fraction = Fraction(1)
    frame: Frame = Frame.RECTANGLE
    trim: NormalBox = WHOLE
    live_areas: tuple[LiveArea, ...] = ()
    covered: tuple[CoveredZone, ...] = ()
    safe: NormalBox = WHOLE
    gutter: Gutter | None = None
    framing: tuple[Shot, Shot] | None = None
    head_height: tuple[float, float] | None = None
    eye_line: Band | None = None
    headroom: Band | None = None
    across: Across = Across.MASTER
    head_share: Band | None = None
    finish: Finish = field(default_factory=Finish)
    recipient: str = ""
    naming: str = "{version}_{destination}_{width}x{height}"
    caution: str = ""
    preset_file: str = ""

    @property
    def turned(self) -> Destination:
        """The same destination on its side (only the frame turns; zones are refused with it)."""
        page = (self.page_mm[1], self.page_mm[0]) if self.page_mm else None
        flipped = NormalBox(self.trim.y0, self.trim.x0, self.trim.y1, self.trim.x1)
        safe = NormalBox(self.safe.y0, self.safe.x0, self.safe.y1, self.safe.x1)
        areas = tuple(
            LiveArea(area.name, NormalBox(area.box.y0, area.box.x0, area.box.y1, area.box.x1))
            for area in self.live_areas
        )
        return replace(
            self,
            shape=self.shape.turned,
            delivered=self.delivered.turned if self.delivered else None,
            page_mm=page,
            trim=flipped,
            safe=safe,
            live_areas=areas,
        )

    @property
    def orientations(self) -> tuple[Destination, ...]:
        """Itself, and on its side when it may be turned and is not square."""
        if not self.turnable or self.shape == self.shape.turned:
            return (self,)
        return (self, self.turned)

    def width_in_inches(self) -> Fraction | None:
        """Width of the whole crop in print, bleed included; None for screens."""
        if self.page_mm is None:
            return None
        return (self.page_mm[0] + 2 * self.bleed_mm) / MM_PER_INCH
