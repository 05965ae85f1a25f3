"""What else a picture's file holds: declared colours, a gain map, a second picture.

Headers only, before any pixel is decoded; what makes no sense there is passed over, because the
decoder that follows says what is wrong with the file. JPEG: ITU-T T.81, annex B; CIPA DC-007 for
several pictures in one file. PNG: third edition, 5.3. HEIF and AVIF: ISO/IEC 14496-12 and 23008-12.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO, Final

from cropper.master.declared import NOTHING, SRGB, Declared, by_code_points, by_gamma

MOST_HEADER: Final = 8_000_000
"""Bytes of a header that are looked at (house: two profiles and a long XMP take a tenth)."""
GAIN_MAP_SAID: Final = "its gain map for high dynamic range was not used: the standard picture was"
_GAIN_MAP_MARKS: Final = (b"http://ns.adobe.com/hdr-gain-map/1.0/", b"urn:iso:std:iso:ts:21496:-1")
"""How a JPEG says that it has one: in XMP, or by ISO 21496-1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """What was found. ``notes`` are sentences about what is left aside."""

    colour: Declared = NOTHING
    notes: tuple[str, ...] = ()


def look_inside(stream: IO[bytes], kind: str) -> Inside:
    """What the header of a picture of this ``kind`` (``formats.kind_of``) tells."""
    look = {"jpeg": _in_jpeg, "png": _in_png, "heif": _in_heif}.get(kind)
    stream.seek(0)
    try:
        found = look(stream) if look else Inside()
    except (struct.error, IndexError, ValueError):
        found = Inside()
    stream.seek(0)
    return found


def _in_jpeg(stream: IO[bytes]) -> Inside:
    pictures, gain_map = 1, False
    for marker, content in _segments(stream):
        if marker in {0xE1, 0xE2}:
            gain_map = gain_map or any(mark in content for mark in _GAIN_MAP_MARKS)
        if marker == 0xE2 and content.startswith(b"MPF\0"):  # noqa: PLR2004 - APP2
            pictures = max(pictures, _pictures(content[4:]))
    if gain_map:
        return Inside(notes=(GAIN_MAP_SAID,))
    return Inside(notes=_others(pictures - 1))


def _others(more: int) -> tuple[str, ...]:
    if more < 1:
        return ()
    said = "a second picture" if more == 1 else f"{more} more pictures"
    return (f"{said} inside the file {'was' if more == 1 else 'were'} not used",)


def _segments(stream: IO[bytes]) -> Iterator[tuple[int, bytes]]:
    """Marker and content of the segments before the coded pixels."""
    stream.seek(2)
    while stream.tell() < MOST_HEADER:
        head = stream.read(4)
        if len(head) < 4 or head[0] != 0xFF or head[1] == 0xDA:  # noqa: PLR2004 - start of scan
            return
        length = int.from_bytes(head[2:], "big")
        if length < 2:  # noqa: PLR2004 - it counts itself
            return
        yield head[1], stream.read(length - 2)


def _pictures(block: bytes) -> int:
    """How many pictures an index of several tells of (CIPA DC-007, 5.2.3: tag B001)."""
    order = "<" if block[:2] == b"II" else ">"
    (at,) = struct.unpack_from(f"{order}I", block, 4)
    (count,) = struct.unpack_from(f"{order}H", block, at)
    for number in range(min(count, 64)):
        tag, _, _, value = struct.unpack_from(f"{order}HHII", block, at + 2 + 12 * number)
        if tag == 0xB001:  # noqa: PLR2004
            return int(value)
    return 1


def _in_png(stream: IO[bytes]) -> Inside:
    chunks = dict(_chunks(stream))
    if len(chunks.get(b"cICP", b"")) == 4:  # noqa: PLR2004
        primaries, transfer = chunks[b"cICP"][:2]
        return Inside(colour=by_code_points(primaries, transfer))
    if b"iCCP" in chunks:
        return Inside()
    if b"sRGB" in chunks:
        return Inside(colour=SRGB)
    gamma = struct.unpack(">I", chunks[b"gAMA"])[0] / 100_000 if b"gAMA" in chunks else None
    points = None
    if len(chunks.get(b"cHRM", b"")) == 32:  # noqa: PLR2004 - eight numbers
        _, _, rx, ry, gx, gy, bx, by = (v / 1e5 for v in struct.unpack(">8I", chunks[b"cHRM"]))
        points = ((rx, ry), (gx, gy), (bx, by))
    return Inside(colour=by_gamma(gamma, points))


def _chunks(stream: IO[bytes]) -> Iterator[tuple[bytes, bytes]]:
    """The chunks before the pixels."""
    stream.seek(8)
    while stream.tell() < MOST_HEADER:
        head = stream.read(8)
        if len(head) < 8 or head[4:] == b"IDAT":  # noqa: PLR2004
            return
        yield head[4:], stream.read(int.from_bytes(head[:4], "big"))
        stream.read(4)


@dataclass(slots=True)
class _Items:
    """What a HEIF's index says of its items."""

    primary: int = 0
    kinds: dict[int, str] = field(default_factory=dict)
    properties: list[tuple[bytes, bytes]] = field(default_factory=list)
    of_item: dict[int, list[int]] = field(default_factory=dict)
    aside: set[int] = field(default_factory=set)
    """Items that are parts, thumbnails or helpers of another."""


def _in_heif(stream: IO[bytes]) -> Inside:
    items = _items(stream)
    mine = [items.properties[at - 1] for at in items.of_item.get(items.primary, []) if at]
    codes = [body for name, body in mine if name == b"colr" and body[:4] == b"nclx"]
    colour = by_code_points(*struct.unpack_from(">HH", codes[0], 4)) if codes else NOTHING
    helpers = b"".join(body for name, body in items.properties if name == b"auxC")
    notes = []
    if b"gainmap" in helpers or "tmap" in items.kinds.values():
        notes.append(GAIN_MAP_SAID)
    if b":depth" in helpers or b":auxid:2" in helpers:
        notes.append("its depth map was not used")
    pictures = [
        one
        for one, kind in items.kinds.items()
        if kind in {"hvc1", "av01", "grid", "iden", "iovl"}
        and one not in items.aside
        and one != items.primary
    ]
    return Inside(colour=colour, notes=(*notes, *_others(len(pictures))))


def _items(stream: IO[bytes]) -> _Items:
    items = _Items()
    for name, body in _boxes(_meta(stream)):
        if name == b"pitm":
            items.primary = int.from_bytes(body[4:6] if body[0] == 0 else body[4:8], "big")
        elif name == b"iinf":
            for _, entry in _boxes(body[6:] if body[0] == 0 else body[8:]):
                _note_item(items, entry)
        elif name == b"iref":
            _note_references(items, body)
        elif name == b"iprp":
            parts = dict(_boxes(body))
            items.properties = list(_boxes(parts.get(b"ipco", b"")))
            _note_properties(items, parts.get(b"ipma", bytes(8)))
    return items


def _meta(stream: IO[bytes]) -> bytes:
    """The content of the file's meta box, its version and flags left out."""
    stream.seek(0)
    while len(head := stream.read(8)) == 8:  # noqa: PLR2004
        size, header = int.from_bytes(head[:4], "big"), 8
        if size == 1:
            size, header = int.from_bytes(stream.read(8), "big"), 16
        if size < header:
            return b""
        if head[4:] == b"meta":
            return stream.read(min(size - header, MOST_HEADER))[4:]
        stream.seek(size - header, 1)
    return b""


def _boxes(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 0
    while at + 8 <= len(data):
        size = int.from_bytes(data[at : at + 4], "big")
        if size < 8:  # noqa: PLR2004 - a box of one header
            return
        yield data[at + 4 : at + 8], data[at + 8 : at + size]
        at += size


def _note_item(items: _Items, entry: bytes) -> None:
    if entry[0] < 2:  # noqa: PLR2004 - the versions before know no kinds
        return
    wide = 2 if entry[0] == 2 else 4  # noqa: PLR2004 - version 2 has 16 bit
    number = int.from_bytes(entry[4 : 4 + wide], "big")
    items.kinds[number] = entry[6 + wide : 10 + wide].decode("latin-1")
    if entry[3] & 1:  # hidden
        items.aside.add(number)


def _note_references(items: _Items, body: bytes) -> None:
    wide = 2 if body[0] == 0 else 4
    for kind, inner in _boxes(body[4:]):
        source = int.from_bytes(inner[:wide], "big")
        count = int.from_bytes(inner[wide : wide + 2], "big")
        start = wide + 2
        others = [
            int.from_bytes(inner[start + wide * at : start + wide * (at + 1)], "big")
            for at in range(count)
        ]
        if kind in {b"thmb", b"auxl", b"base"}:
            items.aside.add(source)
        elif kind == b"dimg":
            items.aside.update(others)


def _note_properties(items: _Items, body: bytes) -> None:
    wide, long = (2 if body[0] == 0 else 4), body[3] & 1
    (count,) = struct.unpack_from(">I", body, 4)
    at = 8
    for _ in range(min(count, 10_000)):
        number = int.from_bytes(body[at : at + wide], "big")
        many, at = body[at + wide], at + wide + 1
        step = 2 if long else 1
        mask = 0x7FFF if long else 0x7F
        places = [
            int.from_bytes(body[at + step * one : at + step * (one + 1)], "big") & mask
            for one in range(many)
        ]
        items.of_item[number] = places
        at += step * many
