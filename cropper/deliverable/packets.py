"""Words as XMP, IIM and EXIF: the three spellings that readers of picture files look for.

XMP is written fresh and carries everything (IPTC Photo Metadata Standard: dc,
Iptc4xmpCore). IIM is for older picture desks, within its limits of bytes, cut at a whole character.
EXIF carries artist, copyright and description, as UTF-8 bytes.
"""

from __future__ import annotations

import struct
from typing import Final
from xml.sax.saxutils import escape

from cropper.deliverable.words import Words
from cropper.geometry import Size

_HEAD: Final = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
_NAMESPACES: Final = (
    ("x", "adobe:ns:meta/"),
    ("rdf", "http://www.w3.org/1999/02/22-rdf-syntax-ns#"),
    ("dc", "http://purl.org/dc/elements/1.1/"),
    ("photoshop", "http://ns.adobe.com/photoshop/1.0/"),
    ("xmpRights", "http://ns.adobe.com/xap/1.0/rights/"),
    ("Iptc4xmpCore", "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/"),
)
"""Spelled exactly as the IPTC standard does; where it names a program, so must we."""
DESK: Final = _NAMESPACES[3][0]
"""Prefix of the namespace that the standard keeps headline and credit in."""

IIM_FIELDS: Final = (
    (80, "creator", 32),
    (105, "headline", 256),
    (110, "credit", 32),
    (116, "copyright", 128),
    (120, "caption", 2000),
)
"""Record 2 dataset, field, most bytes (IIM 4.2, 2014; reference ``fields``)."""

UTF8_MARK: Final = b"\x1c\x01\x5a\x00\x03\x1b%G"
"""Dataset 1:90: what follows is UTF-8 (ISO 2022 escape)."""


def xmp(words: Words) -> bytes:
    """An XMP packet, UTF-8; empty when there are no words."""
    if words.none:
        return b""
    parts = [
        _list("dc:creator", "Seq", words.creator),
        _by_language("dc:rights", words.copyright),
        _by_language("dc:description", words.caption),
        _simple(f"{DESK}:Headline", words.headline),
        _simple(f"{DESK}:Credit", words.credit),
        "<xmpRights:Marked>True</xmpRights:Marked>" if words.copyright else "",
        _by_language("Iptc4xmpCore:AltTextAccessibility", words.alt_text),
    ]
    spaces = " ".join(f'xmlns:{name}="{address}"' for name, address in _NAMESPACES[2:])
    (_, meta), (_, rdf) = _NAMESPACES[:2]
    packet = (
        f'{_HEAD}<x:xmpmeta xmlns:x="{meta}"><rdf:RDF xmlns:rdf="{rdf}">'
        f'<rdf:Description rdf:about="" {spaces}>{"".join(parts)}</rdf:Description>'
        '</rdf:RDF></x:xmpmeta><?xpacket end="r"?>'
    )
    whole = packet.encode()
    return whole.replace(b"<?xpacket end", b" <?xpacket end") if len(whole) % 2 else whole


def _simple(name: str, text: str) -> str:
    return f"<{name}>{escape(text)}</{name}>" if text else ""


def _list(name: str, kind: str, text: str) -> str:
    inner = f"<rdf:{kind}><rdf:li>{escape(text)}</rdf:li></rdf:{kind}>"
    return f"<{name}>{inner}</{name}>" if text else ""


def _by_language(name: str, text: str) -> str:
    item = f'<rdf:li xml:lang="x-default">{escape(text)}</rdf:li>'
    return f"<{name}><rdf:Alt>{item}</rdf:Alt></{name}>" if text else ""


def iim(words: Words) -> bytes:
    """IIM records; empty when there are no words for it."""
    records = b""
    for dataset, field, most in IIM_FIELDS:
        text = _cut(getattr(words, field), most)
        if text:
            records += b"\x1c\x02" + bytes([dataset]) + struct.pack(">H", len(text)) + text
    version = b"\x1c\x02\x00" + struct.pack(">HH", 2, 4)
    return UTF8_MARK + version + records if records else b""


def _cut(text: str, most: int) -> bytes:
    """At most so many bytes of UTF-8, never half a character."""
    return text.encode()[:most].decode(errors="ignore").encode()


ASCII: Final = 2
SHORT: Final = 3
LONG: Final = 4
RATIONAL: Final = 5


def exif_entries(words: Words, ppi: float | None) -> list[tuple[int, int, bytes, int]]:
    """IFD0 entries (tag, type, content, count), sorted by tag (CIPA DC-008)."""
    entries = [(0x0112, SHORT, struct.pack("<H", 1), 1)]
    if ppi:
        density = struct.pack("<II", round(ppi * 1000), 1000)
        entries += [(0x011A, RATIONAL, density, 1), (0x011B, RATIONAL, density, 1)]
        entries.append((0x0128, SHORT, struct.pack("<H", 2), 1))
    for tag, text in (
        (0x010E, words.caption),
        (0x013B, words.creator),
        (0x8298, words.copyright),
    ):
        if text:
            content = text.encode() + b"\0"
            entries.append((tag, ASCII, content, len(content)))
    return sorted(entries)


def exif(words: Words, ppi: float | None, *, colour_space: int, size: Size) -> bytes:
    """A little-endian EXIF block: orientation 1, density, artist, copyright, ColorSpace."""
    inner = [
        (0x9000, 7, b"0232", 4),
        (0x9101, 7, b"\1\2\3\0", 4),
        (0xA000, 7, b"0100", 4),
        (0xA001, SHORT, struct.pack("<H", colour_space), 1),
        (0xA002, LONG, struct.pack("<I", size.width), 1),
        (0xA003, LONG, struct.pack("<I", size.height), 1),
    ]
    entries = sorted([*exif_entries(words, ppi), (0x0213, SHORT, struct.pack("<H", 1), 1)])
    length = len(directory(sorted([*entries, (0x8769, LONG, bytes(4), 1)]), 8))
    pointer = (0x8769, LONG, struct.pack("<I", 8 + length), 1)
    first = directory(sorted([*entries, pointer]), 8)
    return b"II*\0" + struct.pack("<I", 8) + first + directory(inner, 8 + len(first))


def directory(entries: list[tuple[int, int, bytes, int]], at: int) -> bytes:
    """A directory placed at offset ``at``, its long contents behind it."""
    body_at = at + 2 + 12 * len(entries) + 4
    table, body = struct.pack("<H", len(entries)), b""
    for tag, kind, content, count in entries:
        value = content.ljust(4, b"\0")
        if len(content) > 4:  # noqa: PLR2004 - longer than the entry's own field
            value = struct.pack("<I", body_at + len(body))
            body += content + bytes(len(content) % 2)
        table += struct.pack("<HHI", tag, kind, count) + value
    return table + bytes(4) + body
