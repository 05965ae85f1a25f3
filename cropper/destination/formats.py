"""The one table of formats: everything the house knows of each, but how its bytes are written.

A new format is one row here and one writer in :data:`cropper.deliverable.ways.WRITERS`. A format
that is in no row is an error, never another format.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cropper.destination.destination import PRESS_PDF
from cropper.errors import DeliveryError


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """One row.

    - ``ending``: of the file's name, without the point. ``media_type``: as registered with IANA.
    - ``depths``: bits a channel that it holds. ``inks``: whether it holds a press's four inks.
    - ``least_quality``: below this a byte cap is not met decently: fewer pixels look better (house;
      AVIF's scale holds detail longer). None: it keeps every pixel, and has no quality.
    - ``chroma``: ways of storing colour that may be asked for, the usual one first.
    - ``progressive``: whether it can be written coarse first.
    - ``pages``: whether it is pages, not pixels. ``browsers``: whether browsers show it.
    """

    name: str
    ending: str
    media_type: str
    depths: tuple[int, ...] = (8,)
    inks: bool = False
    least_quality: int | None = None
    chroma: tuple[str, ...] = ()
    progressive: bool = False
    pages: bool = False
    browsers: bool = False

    @property
    def lossy(self) -> bool:
        """Whether pixels change on the way into it."""
        return self.least_quality is not None

    @property
    def deep(self) -> bool:
        """Whether it holds more than 8 bits a channel."""
        return max(self.depths) > 8  # noqa: PLR2004 - bits


FORMATS: Final[dict[str, Format]] = {
    one.name: one
    for one in (
        Format(
            name="jpeg",
            ending="jpg",
            media_type="image/jpeg",
            inks=True,
            least_quality=50,
            chroma=("4:4:4", "4:2:0"),
            progressive=True,
            browsers=True,
        ),
        Format(name="png", ending="png", media_type="image/png", depths=(8, 16), browsers=True),
        Format(
            name="webp",
            ending="webp",
            media_type="image/webp",
            least_quality=50,
            chroma=("4:2:0",),
            browsers=True,
        ),
        Format(
            name="avif",
            ending="avif",
            media_type="image/avif",
            least_quality=35,
            chroma=("4:4:4", "4:2:0"),
            browsers=True,
        ),
        Format(name="tiff", ending="tif", media_type="image/tiff", depths=(8, 16), inks=True),
        Format(name=PRESS_PDF, ending="pdf", media_type="application/pdf", inks=True, pages=True),
    )
}
"""By the name that a preset's ``finish.format`` uses."""


def format_named(name: str) -> Format:
    """The row of a format; a :class:`DeliveryError` says which there are."""
    if name not in FORMATS:
        raise DeliveryError(
            f"there is no format called '{name}'", way_out=f"Use one of {', '.join(FORMATS)}"
        )
    return FORMATS[name]


def pixel_formats() -> tuple[str, ...]:
    """Names of the formats that are pixels."""
    return tuple(name for name, one in FORMATS.items() if not one.pages)
