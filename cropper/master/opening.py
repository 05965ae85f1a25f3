"""Opening a master: what it is, whether it is sound, and its pixels for the eye and the finder.

Everything here is stated of the **upright** picture. A master is read, never written.
Opening reads the header first and refuses what is too large *before* a pixel is decoded, then
hashes the bytes, then decodes once, strictly: a file that opens is a file that can be delivered.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

import numpy as np
import numpy.typing as npt

from cropper.disk import plain, sha256_of
from cropper.errors import MasterError
from cropper.geometry import Size
from cropper.master import decoding, formats, profiles
from cropper.master.affording import refuse_unaffordable
from cropper.master.declared import NOTHING, Declared, by_exif, high_range_of
from cropper.master.decoding import LAST, Pixels
from cropper.master.inside import look_inside
from cropper.master.own_words import (
    NO_OWN_WORDS,
    OwnWords,
    exif_directory,
    exif_of,
    exif_of_tiff,
    read_own_words,
)
from cropper.master.seeing import seen_in_srgb
from cropper.master.stored import at_hand
from cropper.master.tiff_pages import choose_page

MOST_MEGAPIXELS: Final = 400.0
"""Larger pictures are refused from the header (house: four times the largest studio masters of
100 MP; 400 MP of 16-bit RGB are 2.4 GB decoded)."""

PROVENANCE_MARK: Final = b"jumdc2pa"
"""A JUMBF description box whose type begins with ``c2pa``: how a provenance manifest starts in
every container (C2PA specification, from memory)."""

_CHUNK: Final = 1 << 20
_CHANNELS: Final = {1: 1, 2: 1, 3: 3, 4: 3}
_FORMATS: Final = {"uchar": 8, "ushort": 16}


@dataclass(frozen=True, slots=True, kw_only=True)
class Master:
    """One opened picture. ``size`` is upright, ``bands`` as stored (alpha counted)."""

    path: Path
    size: Size
    sha256: str
    format: str
    bit_depth: int
    bands: int
    colour_channels: int
    icc: bytes | None
    profile_name: str
    orientation: int
    notes: tuple[str, ...] = ()
    own_words: OwnWords = NO_OWN_WORDS

    @property
    def name(self) -> str:
        """The file's name without its ending."""
        return self.path.stem

    @property
    def has_profile(self) -> bool:
        """Whether a usable profile is embedded."""
        return self.icc is not None

    def pixels(self) -> Pixels:
        """Upright (rows, columns, 1 | 3 | 4), 8 or 16 bit, in the master's own colours; read only.

        Decodes again when another master was looked at in between, and refuses when the file has
        been changed since it was opened.
        """
        kept = LAST.get(self.sha256)
        if kept is not None:
            return kept
        with _reading(self.path) as path:
            if master_digest(path) != self.sha256:
                raise MasterError(
                    f"{path}: the file was changed after it was opened",
                    way_out="Plan it again, so that the crops belong to the picture as it is now",
                )
            return _keep(path, self.sha256, self.orientation, self.colour_channels)

    def srgb8(self, longest: int | None = None) -> npt.NDArray[np.uint8]:
        """(rows, columns, 3) uint8 in sRGB, long side at most ``longest`` px (never enlarged)."""
        return seen_in_srgb(self.pixels(), self.icc, longest)


def open_master(path: Path, *, most_megapixels: float = MOST_MEGAPIXELS) -> Master:
    """The master at ``path``, checked whole; a ``MasterError`` says what is wrong with it."""
    with _reading(path) as near:
        with near.open("rb") as stream:
            kind = formats.recognised(near, stream)
            image = formats.opened(near, stream, kind)
            facts = _facts(near, image, kind, most_megapixels)
            inside = _inside(near, stream, kind, image)
        digest, provenance = _read_through(near)
        master = _master(path, facts, inside, digest, provenance=provenance)
        _keep(near, digest, master.orientation, master.colour_channels)
    return master


@contextmanager
def _reading(path: Path) -> Iterator[Path]:
    """``path`` where it can be opened at will; what keeps it from being read is told.

    It is read more than once meanwhile, so one that is saved in between is refused.
    """
    try:
        with at_hand(path) as near:
            before = _state(plain(near))
            yield near
            if _state(near) != before:
                LAST.let_go()
                raise MasterError(
                    f"{path}: the file was changed while it was read",
                    way_out="Wait until it is saved, then plan it again",
                )
    except IsADirectoryError as error:
        raise MasterError(f"{path}: this is a folder", way_out="Name the pictures in it") from error
    except FileNotFoundError as error:
        raise MasterError(f"{path}: there is no such file", way_out="Check the name") from error
    except OSError as error:
        raise MasterError(
            f"{path}: it cannot be read ({error.strerror or error})",
            way_out="Check that the disk is there and that you may read the file",
        ) from error


def _state(path: Path) -> tuple[int, ...]:
    """What the system knows of a file; its last value moves with every write, whatever is set."""
    seen = path.stat()
    return (seen.st_ino, seen.st_size, seen.st_mtime_ns, seen.st_ctime_ns)


def master_digest(path: Path) -> str:
    """SHA-256 of the file's bytes in hex: the identity of a master (FIPS 180-4)."""
    try:
        return sha256_of(path)
    except OSError as error:
        raise MasterError(
            f"{path}: it cannot be read ({error.strerror or error})",
            way_out="Check that the file is where it was when it was planned",
        ) from error


def _keep(path: Path, digest: str, orientation: int, colour_channels: int) -> Pixels:
    """Decode, and keep as the last decoded."""
    kept = LAST.get(digest)
    if kept is None:
        LAST.let_go()  # before decoding: never two masters in memory
        kept = decoding.decoded(path, orientation, colour_channels)
        kept.flags.writeable = False
        LAST.put(digest, kept)
    return kept


@dataclass(frozen=True, slots=True, kw_only=True)
class _Facts:
    """What the header says."""

    kind: str
    stored: Size
    bands: int
    colour_channels: int
    bit_depth: int
    icc: bytes | None
    orientation: int
    pages: int


def _facts(path: Path, image: Any, kind: str, most_megapixels: float) -> _Facts:
    """Read the header and refuse what cannot be worked with, before any pixel is decoded."""
    megapixels = image.width * image.height / 1e6
    if megapixels > most_megapixels:
        raise MasterError(
            f"{path}: {image.width} x {image.height} px is {megapixels:.0f} megapixels; "
            f"at most {most_megapixels:g} are opened",
            way_out="If the picture really is that large, raise the limit on megapixels",
        )
    if image.format not in _FORMATS:
        raise MasterError(
            f"{path}: its samples are neither 8 nor 16 bit whole numbers ({image.format})",
            way_out="Export it as 16-bit TIFF",
        )
    size, bit_depth = Size(image.width, image.height), _FORMATS[image.format]
    refuse_unaffordable(path, size, bands=image.bands, bit_depth=bit_depth)
    return _Facts(
        kind=kind,
        stored=size,
        bands=image.bands,
        colour_channels=_colour_channels(path, image),
        bit_depth=bit_depth,
        icc=bytes(image.get("icc-profile-data")) if image.get_typeof("icc-profile-data") else None,
        orientation=_orientation(image),
        pages=int(image.get("n-pages")) if image.get_typeof("n-pages") else 1,
    )


def _colour_channels(path: Path, image: Any) -> int:
    """1, 3 or 4 colour channels, alpha left out; anything else is refused."""
    interpretation, bands = str(image.interpretation), int(image.bands)
    if interpretation == "cmyk" and bands in {4, 5}:
        return 4
    known = interpretation in {"srgb", "rgb", "rgb16", "b-w", "grey16", "multiband"}
    if known and bands in _CHANNELS and not (interpretation == "multiband" and bands == 2):  # noqa: PLR2004
        return _CHANNELS[bands]
    raise MasterError(
        f"{path}: {bands} channels of kind '{interpretation}' are no picture cropper understands",
        way_out="Export it as grey, RGB or CMYK, with or without transparency",
    )


def _orientation(image: Any) -> int:
    """The orientation tag, 1 when there is none or it makes no sense."""
    value = int(image.get("orientation")) if image.get_typeof("orientation") else 1
    return value if 1 <= value <= 8 else 1  # noqa: PLR2004 - CIPA DC-008 knows 1..8


def _read_through(path: Path) -> tuple[str, bool]:
    """Hash of all bytes, and whether a provenance manifest was seen among them; one pass."""
    digest, seen, tail = hashlib.sha256(), False, b""
    with path.open("rb") as stream:
        for chunk in _chunks(stream):
            digest.update(chunk)
            seen = seen or PROVENANCE_MARK in tail + chunk
            tail = chunk[-len(PROVENANCE_MARK) :]
    return digest.hexdigest(), seen


def _chunks(stream: IO[bytes]) -> Any:
    """The file, a megabyte at a time."""
    return iter(lambda: stream.read(_CHUNK), b"")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Inside:
    """What the file holds beside its pixels: colours it declares, its words, what is left aside."""

    colour: Declared
    notes: tuple[str, ...]
    own_words: OwnWords


def _inside(path: Path, stream: IO[bytes], kind: str, image: Any) -> _Inside:
    """Look at it; a picture of high dynamic range is refused."""
    found = look_inside(stream, kind)
    profile = _blob(image, "icc-profile-data")
    declared = found.colour if kind == "png" or not profile else NOTHING
    high_range = declared.high_range or high_range_of(profile)
    if high_range:
        raise MasterError(
            f"{path}: this is a picture of high dynamic range ({high_range}); its codes are not"
            " meant for paper or an ordinary screen",
            way_out="Export it for standard range (SDR), as a 16-bit TIFF with its profile",
        )
    exif = exif_of_tiff(stream) if kind == "tiff" else exif_of(_blob(image, "exif-data"))
    if not profile and declared is NOTHING:
        inner = exif_directory(exif, _EXIF_DIRECTORY)
        crossing = exif_directory(exif, _INTEROPERABILITY)
        declared = by_exif(_whole(inner.get(0xA001)), str(crossing.get(1, "")))
    own = read_own_words(xmp=_blob(image, "xmp-data"), iim=_blob(image, "iptc-data"), exif=exif)
    notes = choose_page(path, stream).notes if kind == "tiff" else found.notes
    return _Inside(colour=declared, notes=notes, own_words=own)


_EXIF_DIRECTORY, _INTEROPERABILITY = 0x8769, 0xA005


def _whole(value: object) -> int:
    return value if isinstance(value, int) else 0


def _blob(image: Any, name: str) -> bytes:
    """Bytes of metadata; empty when the picture has none of that name."""
    return bytes(image.get(name)) if image.get_typeof(name) else b""


def read_words_of(path: Path) -> OwnWords:
    """The words that the master at ``path`` carries; only its header is read.

    Raises :class:`MasterError` when it cannot be opened.
    """
    with _reading(path) as near, near.open("rb") as stream:
        kind = formats.recognised(near, stream)
        image = formats.opened(near, stream, kind)
        return _inside(near, stream, kind, image).own_words


def _master(path: Path, facts: _Facts, inside: _Inside, digest: str, *, provenance: bool) -> Master:
    """The value, with everything worth knowing said in notes."""
    profile = profiles.examined(
        facts.icc, facts.colour_channels, inside.colour, first=facts.kind == "png"
    )
    several = facts.pages > 1 and facts.kind != "tiff"
    sideways = facts.orientation in decoding.SIDEWAYS
    said = (
        profile.note,
        "transparent parts were laid on white" if facts.bands > facts.colour_channels else "",
        f"only the first of its {facts.pages} pages is used" if several else "",
        *inside.notes,
        "the file carried a provenance manifest; finished files do not carry it on"
        if provenance
        else "",
    )
    return Master(
        path=path,
        size=facts.stored.turned if sideways else facts.stored,
        sha256=digest,
        format=facts.kind,
        bit_depth=facts.bit_depth,
        bands=facts.bands,
        colour_channels=facts.colour_channels,
        icc=profile.icc,
        profile_name=profile.name,
        orientation=facts.orientation,
        notes=tuple(note for note in said if note),
        own_words=inside.own_words,
    )
