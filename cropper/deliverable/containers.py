"""Putting words, profile and density into files that an encoder has just written.

Small and exact: JPEG segments behind the header (ITU-T T.81 B.1.1; ICC.1:2022 B.4), PNG chunks
likewise (PNG specification, 3rd edition, 5.3 and 11.3), and for TIFF a new first directory at the
end (TIFF 6.0, section 2), because the encoders at hand lose some of the fields there. Only files
made by ``encoding`` come here.
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


EXIF_POINTER: Final = 0x8769
"""Where a first directory says that the EXIF one is (CIPA DC-008, 4.6.3)."""
SEGMENT_BYTES: Final = 65533
"""What a JPEG segment can carry (T.81 B.1.1.4: a length of 65535 counts itself)."""
PROFILE_PART: Final = 65519
"""Bytes of a profile per segment (ICC.1:2022 B.4)."""


def jpeg_with(
    jpeg: bytes, *, profile: bytes, ppi: float | None, exif: bytes, xmp: bytes, iim: bytes
) -> bytes:
    """The JPEG with EXIF, XMP, IIM and profile behind its JFIF header.

    The encoder leaves the JFIF header out; it is written for grey and YCbCr, which JFIF is (a CMYK
    file has its own marker instead).
    """
    at = 4 + int.from_bytes(jpeg[4:6], "big") if jpeg[2:4] == b"\xff\xe0" else 2
    added = [(0xE1, b"Exif\0\0" + exif)]
    if jpeg[2:4] not in {b"\xff\xe0", b"\xff\xee"}:
        density = round(ppi) if ppi else 1
        jfif = b"JFIF\0\1\2" + struct.pack(">BHHBB", 1 if ppi else 0, density, density, 0, 0)
        added.insert(0, (0xE0, jfif))
    if xmp:
        added.append((0xE1, b"http://ns.adobe.com/xap/1.0/\0" + xmp))
    if iim:  # the signature is the container's, whatever program reads it (IIM in JPEG)
        block = b"8BIM\x04\x04\0\0" + len(iim).to_bytes(4, "big") + iim + bytes(len(iim) % 2)
        added.append((0xED, b"Photoshop 3.0\0" + block))
    parts = [profile[i : i + PROFILE_PART] for i in range(0, len(profile), PROFILE_PART)]
    for number, part in enumerate(parts, 1):
        added.append((0xE2, b"ICC_PROFILE\0" + bytes([number, len(parts)]) + part))
    return jpeg[:at] + b"".join(_segment(*one) for one in added) + jpeg[at:]


def _segment(marker: int, content: bytes) -> bytes:
    """Marker, length, content."""
    if len(content) > SEGMENT_BYTES:
        raise ValueError(f"{len(content)} bytes do not fit one JPEG segment")
    return bytes([0xFF, marker]) + (len(content) + 2).to_bytes(2, "big") + content


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


def tiff_with(tiff: bytes, entries: list[Entry], exif: list[Entry]) -> bytes:
    """The little-endian classic TIFF with these entries added to, or replacing, its first IFD's.

    ``exif`` are the entries of an EXIF directory, which the first then points to.
    """
    if tiff[:4] != b"II*\0":
        raise ValueError("only little-endian classic TIFF, as our encoder writes it")
    merged = {entry[0]: entry for entry in _tiff_entries(tiff)}
    merged.update({entry[0]: entry for entry in entries})
    body = tiff + bytes(len(tiff) % 2)
    if exif:
        merged[EXIF_POINTER] = (EXIF_POINTER, 4, struct.pack("<I", len(body)), 1)
        body += directory(exif, len(body))
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
