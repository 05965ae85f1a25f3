"""Putting words, profile and density into PNG and TIFF files that an encoder has just written.

Small and exact: PNG chunks are inserted behind the header (PNG specification, 3rd edition, 5.3 and
11.3), and a TIFF gets a new first directory at its end (TIFF 6.0, section 2), because the encoders
at hand lose some of the fields there. Only files made by ``encoding`` come here.
"""

from __future__ import annotations

import struct
import zlib
from typing import Final

from cropper.deliverable.packets import directory

MM_PER_METRE: Final = 1000
TYPE_BYTES: Final = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
"""Bytes of one value by TIFF type (TIFF 6.0, section 2)."""

Entry = tuple[int, int, bytes, int]
"""Tag, type, content, count."""


def png_with(png: bytes, *, profile: bytes, ppi: float | None, exif: bytes, xmp: bytes) -> bytes:
    """The PNG with profile, density, EXIF and XMP behind its header, in place of its own."""
    chunks = _png_chunks(png)
    added = [(b"iCCP", b"icc\0\0" + zlib.compress(profile, 9))]
    if ppi:
        per_metre = round(ppi / 0.0254)
        added.append((b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)))
    added.append((b"eXIf", exif))
    if xmp:
        added.append((b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + xmp))
    replaced = {b"iCCP", b"pHYs", b"eXIf", b"iTXt", b"tEXt", b"zTXt", b"tIME", b"sRGB", b"gAMA"}
    rest = [chunk for chunk in chunks[1:] if chunk[0] not in replaced | {b"cHRM"}]
    return png[:8] + b"".join(_png_chunk(*chunk) for chunk in (chunks[0], *added, *rest))


def _png_chunks(png: bytes) -> list[tuple[bytes, bytes]]:
    """All chunks as (type, content)."""
    chunks, at = [], 8
    while at < len(png):
        length = int.from_bytes(png[at : at + 4], "big")
        chunks.append((png[at + 4 : at + 8], png[at + 8 : at + 8 + length]))
        at += 12 + length
    return chunks


def _png_chunk(name: bytes, content: bytes) -> bytes:
    """Length, type, content, checksum."""
    checked = name + content
    return struct.pack(">I", len(content)) + checked + struct.pack(">I", zlib.crc32(checked))


def tiff_with(tiff: bytes, entries: list[Entry]) -> bytes:
    """The little-endian classic TIFF with these entries added to, or replacing, its first IFD's."""
    if tiff[:4] != b"II*\0":
        raise ValueError("only little-endian classic TIFF, as our encoder writes it")
    merged = {entry[0]: entry for entry in _tiff_entries(tiff)}
    merged.update({entry[0]: entry for entry in entries})
    body = tiff + bytes(len(tiff) % 2)
    placed = directory([merged[tag] for tag in sorted(merged)], len(body))
    return body[:4] + struct.pack("<I", len(body)) + body[8:] + placed


def _tiff_entries(tiff: bytes) -> list[Entry]:
    """The entries of the first directory, contents fetched from where they lie."""
    (at,) = struct.unpack_from("<I", tiff, 4)
    (count,) = struct.unpack_from("<H", tiff, at)
    entries: list[Entry] = []
    for index in range(count):
        tag, kind, values = struct.unpack_from("<HHI", tiff, at + 2 + 12 * index)
        length = TYPE_BYTES[kind] * values
        inline = at + 2 + 12 * index + 8
        start = inline if length <= 4 else struct.unpack_from("<I", tiff, inline)[0]  # noqa: PLR2004
        entries.append((tag, kind, tiff[start : start + length], values))
    return entries
