"""Which page of a TIFF is the picture: its directories, read before any decoder sees the file.

A TIFF may begin with a thumbnail, a reduced copy or a mask, and raw files are TIFFs whose first
page is a preview. Tags: TIFF 6.0 (sections 2 and 8), TIFF/EP (ISO 12234-2) and the DNG
specification 1.7; NewSubfileType bit 0 marks a reduced copy, bit 2 a mask.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final

from cropper.errors import MasterError

MOST_PAGES: Final = 1000
"""Pages of a TIFF (house: layered files of retouchers have tens)."""
MOST_ENTRIES: Final = 4096
"""Entries of one directory that are read (house: a picture has some thirty)."""

WIDTH, HEIGHT, PHOTOMETRIC, KIND, OLD_KIND, SUB_DIRECTORIES = 256, 257, 262, 254, 255, 330
RAW_VERSION: Final = 50706
"""The tag that makes a TIFF a DNG."""
SENSOR: Final = frozenset({32803, 34892})
"""PhotometricInterpretation of sensor values: colour filter array, linear raw."""
SENSOR_PATTERN: Final = 33422
"""The colour filter array's pattern (TIFF/EP)."""
_REDUCED, _MASK, _OLD_REDUCED = 1, 4, 2
_SIZES: Final = {1: "B", 3: "H", 4: "I", 13: "I", 16: "Q", 18: "Q"}
"""Whole-number types and how they are unpacked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One directory of the chain. ``reduced``: a small copy or a mask of another page."""

    number: int
    width: int
    height: int
    reduced: bool

    @property
    def area(self) -> int:
        """Its pixels."""
        return self.width * self.height


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The page to open, counted from 0, and what is to be said of the others."""

    number: int
    notes: tuple[str, ...]


def choose_page(path: Path, stream: IO[bytes]) -> Choice:
    """The largest page that is a picture of its own; the first of several equal ones.

    Raises :class:`MasterError` for raw files, which are to be developed first, for files of more
    than :data:`MOST_PAGES` pages, and for those that hold reduced copies only.
    """
    pages = []
    for number, tags in enumerate(_directories(path, stream)):
        _refuse_raw(path, tags)
        pages.append(_page(number, tags))
    whole = [one for one in pages if not one.reduced and one.area]
    if not whole and any(one.area for one in pages):
        raise MasterError(
            f"{path}: it holds only reduced copies of a picture",
            way_out="Export the whole picture as a TIFF of one page",
        )
    if not whole:  # no directory that makes sense: the decoder says what is wrong
        return Choice(number=0, notes=())
    chosen = max(whole, key=lambda one: (one.area, -one.number))
    return Choice(number=chosen.number, notes=tuple(_said(chosen, pages, whole)))


def _said(chosen: Page, pages: list[Page], whole: list[Page]) -> Iterator[str]:
    if len(whole) > 1:
        yield (
            f"only page {chosen.number + 1} of its {len(pages)} pages is used "
            f"({chosen.width} x {chosen.height} px, the largest)"
        )
    if len(whole) < len(pages):
        few = len(pages) - len(whole)
        yield f"{few} reduced {'copy' if few == 1 else 'copies'} inside the file not used"


def _page(number: int, tags: dict[int, tuple[int, ...]]) -> Page:
    kind, old = _first(tags, KIND), _first(tags, OLD_KIND)
    return Page(
        number=number,
        width=_first(tags, WIDTH),
        height=_first(tags, HEIGHT),
        reduced=bool(kind & (_REDUCED | _MASK)) or old == _OLD_REDUCED,
    )


def _refuse_raw(path: Path, tags: dict[int, tuple[int, ...]]) -> None:
    """A raw file's pages are previews; what its sensor saw needs a developer's hand."""
    raw = RAW_VERSION in tags or SENSOR_PATTERN in tags or _first(tags, PHOTOMETRIC) in SENSOR
    if raw:
        raise MasterError(
            f"{path}: this is a raw file; what it shows at once is only its preview",
            way_out="Develop it first, and export it as a 16-bit TIFF or a JPEG",
        )


def _first(tags: dict[int, tuple[int, ...]], tag: int) -> int:
    return next(iter(tags.get(tag, ())), 0)


def _directories(path: Path, stream: IO[bytes]) -> Iterator[dict[int, tuple[int, ...]]]:
    """The chain's directories; those below the first (SubIFDs) are looked at for raw only."""
    reader = _Reader(stream)
    place, seen = reader.first, set[int]()
    while 0 < place < reader.size:
        if len(seen) >= MOST_PAGES or place in seen:
            what = "its pages run in a circle" if place in seen else f"more than {MOST_PAGES} pages"
            raise MasterError(
                f"{path}: it cannot be read ({what})", way_out="Export the one page as a TIFF"
            )
        seen.add(place)
        tags, following = reader.directory(place)
        for below in tags.get(SUB_DIRECTORIES, ())[:16]:
            if 0 < below < reader.size:
                _refuse_raw(path, reader.directory(below)[0])
        yield tags
        place = following


class _Reader:
    """Whole-number tags of directories, classic or big TIFF."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._stream = stream
        self.size = stream.seek(0, 2)
        stream.seek(0)
        head = stream.read(16)
        self._order = "<" if head[:2] == b"II" else ">"
        self._big = head[2:4] in {b"+\0", b"\0+"}
        self._at, self._count, self._entry = ("Q", "Q", 20) if self._big else ("I", "H", 12)
        self.first = self._number(self._at, head[8 if self._big else 4 :])

    def directory(self, place: int) -> tuple[dict[int, tuple[int, ...]], int]:
        """Its tags of whole numbers, and the place of the next directory (0: none)."""
        self._stream.seek(place)
        count = self._number(self._count, self._stream.read(struct.calcsize(self._count)))
        start = self._stream.tell()
        body = self._stream.read(min(count, MOST_ENTRIES) * self._entry)
        self._stream.seek(min(self.size, start + count * self._entry))
        following = self._number(self._at, self._stream.read(struct.calcsize(self._at)))
        tags: dict[int, tuple[int, ...]] = {}
        for at in range(0, len(body) - self._entry + 1, self._entry):
            tag, values = self._values(body[at : at + self._entry])
            tags.setdefault(tag, values)
        return tags, following

    def _values(self, entry: bytes) -> tuple[int, tuple[int, ...]]:
        """A tag and its first values; none where they are no whole numbers."""
        tag, kind = struct.unpack_from(f"{self._order}HH", entry)
        count = self._number(self._at, entry[4:])
        held, letter = entry[12:] if self._big else entry[8:], _SIZES.get(kind)
        if letter is None:
            return tag, ()
        wanted = min(count, 16)
        length = struct.calcsize(letter) * count
        if length > len(held):
            self._stream.seek(min(self.size, self._number(self._at, held)))
            held = self._stream.read(struct.calcsize(letter) * wanted)
        fitting = min(wanted, len(held) // struct.calcsize(letter))
        return tag, struct.unpack_from(f"{self._order}{fitting}{letter}", held)

    def _number(self, letter: str, data: bytes) -> int:
        """The number that the bytes begin with; 0 where the file has ended."""
        size = struct.calcsize(letter)
        return int(struct.unpack(self._order + letter, data[:size])[0]) if len(data) >= size else 0
