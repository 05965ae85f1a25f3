"""Small files that ask for a great deal: sizes, pages, scans, profiles, texts out of all measure.

Made by hand from the formats' own rules; none is larger than some megabytes.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable, Mapping
from functools import cache

from PIL import Image

SIDE = 60_000
INFLATED = 120_000_000
"""Bytes that one chunk of a PNG unfolds to."""
SCANS = 65_535
PAGES = 150_000
"""Of the same strip; a decoder that follows them all takes minutes."""


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def _png(*chunks: bytes, side: int = 64) -> bytes:
    rows = zlib.compress(b"\0" * min((3 * side + 1) * side, 1_000_000))
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0))
        + b"".join(chunks)
        + _chunk(b"IDAT", rows)
        + _chunk(b"IEND", b"")
    )


@cache
def _unfolding() -> bytes:
    return zlib.compress(b"\0" * INFLATED)


def _tiff(pages: int, side: int = 64, *, endless: bool = False) -> bytes:
    """Pages that all show the same strip; ``endless``: the last is followed by the first."""
    entries = (
        (256, 4, side), (257, 4, side), (258, 3, 8), (259, 3, 1), (262, 3, 1), (273, 4, 8),
        (277, 3, 1), (278, 4, side), (279, 4, side * side),
    )  # fmt: skip
    strip = b"\x80" * (64 * 64)
    page = struct.pack("<H", len(entries))
    page += b"".join(struct.pack("<HHII", tag, kind, 1, value) for tag, kind, value in entries)
    first, length = 8 + len(strip), len(page) + 4
    after = [first + number * length for number in range(1, pages)]
    after.append(first if endless else 0)
    told = (page + struct.pack("<I", place) for place in after)
    return struct.pack("<2sHI", b"II", 42, first) + strip + b"".join(told)


def _jpeg_of_scans() -> bytes:
    """A progressive JPEG whose last scan is told again and again."""
    file = io.BytesIO()
    Image.new("L", (2048, 2048), 90).save(file, "JPEG", progressive=True)
    data = file.getvalue()
    last = data.rfind(b"\xff\xda")
    return data[:-2] + data[last:-2] * SCANS + data[-2:]


def _jpeg_of_side() -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (64, 64)).save(file, "JPEG")
    data = bytearray(file.getvalue())
    frame = data.find(b"\xff\xc0")
    data[frame + 5 : frame + 9] = struct.pack(">HH", SIDE, SIDE)
    return bytes(data)


def _laughing() -> bytes:
    """Entities of entities: a billion of the first."""
    told = [b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e0 "ha">']
    told += [b'<!ENTITY e%d "%s">' % (at, b"&e%d;" % (at - 1) * 10) for at in range(1, 10)]
    return b"".join(told) + b"]><x>&e9;</x>"


PICTURES: Mapping[str, Callable[[], bytes]] = {
    "sides.png": lambda: _png(side=SIDE),
    "sides.jpg": _jpeg_of_side,
    "sides.tif": lambda: _tiff(1, SIDE),
    "pages.tif": lambda: _tiff(PAGES),
    "endless.tif": lambda: _tiff(3, endless=True),
    "profile.png": lambda: _png(_chunk(b"iCCP", b"bomb\0\0" + _unfolding())),
    "text.png": lambda: _png(_chunk(b"zTXt", b"bomb\0\0" + _unfolding())),
    "scans.jpg": _jpeg_of_scans,
}
SIDECARS: Mapping[str, Callable[[], bytes]] = {
    "laughing.xmp": _laughing,
    "deep.xmp": lambda: b"<a>" * 200_000 + b"</a>" * 200_000,
}
