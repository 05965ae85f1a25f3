"""What kind of picture a file is, told by its first bytes, and how each kind is opened.

Names are never trusted: a picture is recognised by its signature and handed to the one loader that
reads it, through an open file, so that no name is ever parsed for options. Headers only; decoding
is ``decoding.py``.

Why the strictness differs by kind: a JPEG with garbage inside decodes "successfully" to grey or
striped blocks, and the loader only *warns* of it, so there warnings count (and ``decoding`` uses a
stricter decoder still; a single flipped bit that yields another legal code cannot be noticed by
anybody, which is what the content hash is for). TIFF readers warn about private tags of perfectly
sound files, so there only errors count.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import IO, Any, Final

from cropper.errors import MasterError
from cropper.master.tiff_pages import choose_page

SIGNATURE_BYTES: Final = 32
"""Enough of a file's beginning to tell its kind."""

READABLE: Final = "JPEG, PNG, WebP, TIFF or HEIF"

STRICTNESS: Final = {
    "jpeg": "warning",
    "png": "error",
    "webp": "error",
    "tiff": "error",
    "heif": "error",
}
"""From which kind of complaint on a loader is not believed."""

_HEIF_BRANDS: Final = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
_AVIF_BRANDS: Final = (b"avif", b"avis")
_TIFF_STARTS: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")

DEVELOP: Final = "Develop it first, and export it as a 16-bit TIFF or a JPEG"
OTHERS: Final = (
    ((b"8BPS",), "a file of layers, which is not read", "Export it flat, as a 16-bit TIFF"),
    (
        (b"\xff\x0a", b"\0\0\0\x0cJXL \r\n\x87\n"),
        "JPEG XL, which is not read",
        "Export it as a 16-bit TIFF, or as AVIF or JPEG",
    ),
    ((b"II*\0\x10\0\0\0CR", b"IIU\0", b"IIRO", b"IIRS", b"MMOR"), "a raw file", DEVELOP),
    ((b"\0\0\0\x18ftypcrx ",), "a raw file", DEVELOP),
)
"""Kinds that are known by their beginning and refused: beginnings, what it is, the way out."""


def kind_of(beginning: bytes) -> str | None:
    r"""The kind of picture that starts with these bytes; None when it is none we read.

    >>> kind_of(b"\xff\xd8\xff\xe0"), kind_of(b"%PDF-1.7")
    ('jpeg', None)
    """
    if beginning.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if beginning.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    if beginning[:4] == b"RIFF" and beginning[8:12] == b"WEBP":
        return "webp"
    if beginning.startswith(_TIFF_STARTS):
        return "tiff"
    if beginning[4:8] == b"ftyp" and beginning[8:12] in _HEIF_BRANDS + _AVIF_BRANDS:
        return "heif"
    return None


def recognised(path: Path, stream: IO[bytes]) -> str:
    """The kind of the picture in ``stream``, left at its start; refuses anything else."""
    beginning = stream.read(SIGNATURE_BYTES)
    stream.seek(0)
    if not beginning:
        raise MasterError(
            f"{path}: the file is empty",
            way_out="Copy it again from where it came, or leave it out",
        )
    kind = kind_of(beginning)
    for starts, what, way_out in OTHERS:
        if beginning.startswith(starts):
            raise MasterError(f"{path}: this is {what}", way_out=way_out)
    if kind is None:
        raise MasterError(f"{path}: this is not a picture cropper reads", way_out=_other_way(path))
    return kind


def _other_way(path: Path) -> str:
    """What to do with a file that is no picture of ours."""
    ending = path.suffix or "no ending"
    return f"Export it as {READABLE}, a raw file after developing it (its ending is '{ending}')"


def opened(path: Path, stream: IO[bytes], kind: str) -> Any:
    """A pyvips image of the header, read front to back when its pixels are asked for."""
    import pyvips  # noqa: PLC0415 - heavy, only when a picture is opened

    pyvips.cache_set_max(0)  # the cache answers with OLD pixels for a file written over
    if kind == "heif":
        from cropper.master.heif import heif_image  # noqa: PLC0415

        return heif_image(path, stream)
    page = {"page": choose_page(path, stream).number} if kind == "tiff" else {}
    stream.seek(0)
    source = pyvips.Source.new_from_descriptor(stream.fileno())
    loader = getattr(pyvips.Image, f"{kind}load_source")
    try:
        return loader(source, access="sequential", fail_on=STRICTNESS[kind], **page)
    except pyvips.Error as error:
        raise damaged(path, kind, error) from error


def damaged(path: Path, kind: str, error: Exception) -> MasterError:
    """The sentence for a picture whose decoder complained."""
    said = " ".join(str(getattr(error, "detail", "") or error).split())
    if "support is not configured" in said:
        return MasterError(
            f"{path}: its compression is not one that cropper reads ({said[:160]})",
            way_out="Export it once more with LZW or deflate compression, or none",
        )
    deep = re.search(r"data precision (\d+)", said)
    if deep is not None:
        return MasterError(
            f"{path}: a JPEG of {deep[1]} bits is not read",
            way_out="Export it as a 16-bit TIFF, which keeps all of them, or as a JPEG of 8 bits",
        )
    return MasterError(
        f"{path}: the {kind.upper()} is damaged or cut short ({said[:160]})",
        way_out="Copy the file again from its source, or export the picture once more",
    )
