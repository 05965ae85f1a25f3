"""Words as XMP and EXIF. XMP is written fresh and carries everything; EXIF some, as UTF-8 bytes.

Names of properties: IPTC Photo Metadata Standard 2025.1, Core and Extension, with the rights of
PLUS LDF 2.0.1. The third spelling, for older picture desks, is in :mod:`iim`.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape

from cropper.deliverable.iim import iim
from cropper.deliverable.words import Contributor, Words
from cropper.geometry import Size
from cropper.master.own_words import CONTACT

__all__ = ["directory", "exif", "exif_entries", "iim", "properties", "xmp"]

_HEAD: Final = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
_NAMESPACES: Final = (
    ("x", "adobe:ns:meta/"),
    ("rdf", "http://www.w3.org/1999/02/22-rdf-syntax-ns#"),
    ("dc", "http://purl.org/dc/elements/1.1/"),
    ("photoshop", "http://ns.adobe.com/photoshop/1.0/"),
    ("xmpRights", "http://ns.adobe.com/xap/1.0/rights/"),
    ("Iptc4xmpCore", "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/"),
    ("Iptc4xmpExt", "http://iptc.org/std/Iptc4xmpExt/2008-02-29/"),
    ("plus", "http://ns.useplus.org/ldf/xmp/1.0/"),
)
"""Spelled exactly as the IPTC standard does; where it names a program, so must we."""
DESK: Final = _NAMESPACES[3][0]
"""Prefix of the namespace that the standard keeps headline and credit in."""
RELEASE_ADDRESS: Final = "http://ns.useplus.org/ldf/vocab/"
"""What a PLUS code is an address below."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """What a PDF's XMP says of the file itself, as its document information does. ``made``: ISO."""

    producer: str
    made: str
    trapped: bool

    def properties(self) -> str:
        """As XMP properties (ISO 32000-2, 14.3.2; XMP specification, part 2, 3.1)."""
        return (
            f"<pdf:Producer>{escape(self.producer)}</pdf:Producer>"
            f"<pdf:Trapped>{self.trapped}</pdf:Trapped>"
            f"<xmp:CreateDate>{self.made}</xmp:CreateDate>"
            f"<xmp:ModifyDate>{self.made}</xmp:ModifyDate>"
            f"<xmp:MetadataDate>{self.made}</xmp:MetadataDate>"
        )


_OF_DOCUMENTS: Final = (
    ("pdf", "http://ns.adobe.com/pdf/1.3/"),
    ("xmp", "http://ns.adobe.com/xap/1.0/"),
)


def xmp(words: Words, document: Document | None = None) -> bytes:
    """An XMP packet, UTF-8; empty when there are no words and no document."""
    if words.none and document is None:
        return b""
    named = _NAMESPACES[2:] + (_OF_DOCUMENTS if document else ())
    spaces = " ".join(f'xmlns:{name}="{address}"' for name, address in named)
    about = document.properties() if document else ""
    (_, meta), (_, rdf) = _NAMESPACES[:2]
    packet = (
        f'{_HEAD}<x:xmpmeta xmlns:x="{meta}"><rdf:RDF xmlns:rdf="{rdf}">'
        f'<rdf:Description rdf:about="" {spaces}>{properties(words)}{about}</rdf:Description>'
        '</rdf:RDF></x:xmpmeta><?xpacket end="r"?>'
    )
    whole = packet.encode()
    return whole.replace(b"<?xpacket end", b" <?xpacket end") if len(whole) % 2 else whole


def properties(words: Words) -> str:
    """The words as XMP properties, in the prefixes of the namespaces above."""
    return _told(words) + _rights(words)


def _told(words: Words) -> str:
    """Who made it and what it shows."""
    core, ext = "Iptc4xmpCore", "Iptc4xmpExt"
    parts = (
        _listed("dc:creator", "Seq", words.creators),
        _by_language("dc:description", words.caption),
        _listed("dc:subject", "Bag", words.keywords),
        _simple(f"{DESK}:Headline", words.headline),
        _simple(f"{DESK}:Credit", words.credit),
        _simple(f"{DESK}:DateCreated", words.date_created),
        _simple(f"{DESK}:Instructions", words.instructions),
        _contact(words.contact),
        _by_language(f"{core}:AltTextAccessibility", words.alt_text),
        _by_language(f"{core}:ExtDescrAccessibility", words.extended_description),
        _structures(f"{ext}:Contributor", "Bag", [_contributor(one) for one in words.contributors]),
        _listed(f"{ext}:PersonInImage", "Bag", words.people),
        _simple(f"{ext}:DigitalSourceType", words.source_type),
    )
    return "".join(parts)


def _rights(words: Words) -> str:
    """Who owns it and who may use it how (XMP rights, PLUS)."""
    licensor = _simple("plus:LicensorName", words.licensor)
    licensor += _simple("plus:LicensorURL", words.licensor_url)
    status = f"{RELEASE_ADDRESS}{words.release_status}" if words.release_status else ""
    parts = (
        _by_language("dc:rights", words.copyright),
        "<xmpRights:Marked>True</xmpRights:Marked>" if words.copyright else "",
        _by_language("xmpRights:UsageTerms", words.usage_terms),
        _simple("xmpRights:WebStatement", words.web_statement),
        _structures("plus:Licensor", "Seq", [licensor] if licensor else []),
        _simple("plus:LicenseEndDate", words.licence_until),
        _simple("plus:ModelReleaseStatus", status),
        _simple("plus:DataMining", words.data_mining),
    )
    return "".join(parts)


def _contributor(one: Contributor) -> str:
    """A name and the word for a role.

    The standard asks for a role's identifier, but has none for most roles of a portrait; readers
    show the word that stands there (practice).
    """
    name = _by_language("Iptc4xmpExt:Name", one.name)
    return name + _listed("Iptc4xmpExt:Role", "Bag", (one.role,) if one.role else ())


def _contact(parts: Sequence[tuple[str, str]]) -> str:
    """The creator's contact, one structure (IPTC Core, CreatorContactInfo)."""
    inner = "".join(_simple(f"Iptc4xmpCore:{CONTACT[part]}", text) for part, text in parts)
    name = "Iptc4xmpCore:CreatorContactInfo"
    return f'<{name} rdf:parseType="Resource">{inner}</{name}>' if inner else ""


def _simple(name: str, text: str) -> str:
    return f"<{name}>{escape(text)}</{name}>" if text else ""


def _listed(name: str, kind: str, texts: Sequence[str]) -> str:
    items = "".join(f"<rdf:li>{escape(text)}</rdf:li>" for text in texts)
    return f"<{name}><rdf:{kind}>{items}</rdf:{kind}></{name}>" if items else ""


def _structures(name: str, kind: str, inner: Sequence[str]) -> str:
    items = "".join(f'<rdf:li rdf:parseType="Resource">{one}</rdf:li>' for one in inner)
    return f"<{name}><rdf:{kind}>{items}</rdf:{kind}></{name}>" if items else ""


def _by_language(name: str, text: str) -> str:
    item = f'<rdf:li xml:lang="x-default">{escape(text)}</rdf:li>'
    return f"<{name}><rdf:Alt>{item}</rdf:Alt></{name}>" if text else ""


UNKNOWN_PPI: Final = 72.0
"""What an EXIF block has to say when there is no density (CIPA DC-008, XResolution)."""
ORIENTATION: Final = 0x0112
ASCII: Final = 2
SHORT: Final = 3
LONG: Final = 4
RATIONAL: Final = 5


def exif_entries(words: Words, ppi: float | None) -> list[tuple[int, int, bytes, int]]:
    """IFD0 entries (tag, type, content, count), sorted by tag (CIPA DC-008)."""
    entries = [(ORIENTATION, SHORT, struct.pack("<H", 1), 1)]
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


def taken_entries(words: Words) -> list[tuple[int, int, bytes, int]]:
    """DateTimeOriginal and its offset. Where only the day is known, its hours are written as 0.

    So files sort by the day in readers that know no other date; XMP and IIM say the day alone.
    """
    day, _, clock = words.date_created.partition("T")
    if not day:
        return []
    taken = f"{day.replace('-', ':')} {clock[:8] or '00:00:00'}\0".encode()
    entries = [(0x9003, ASCII, taken, len(taken))]
    if clock[8:]:
        offset = f"{clock[8:]}\0".encode()
        entries.append((0x9011, ASCII, offset, len(offset)))
    return entries


OF_COMPRESSED: Final = frozenset({0x9101, 0xA002, 0xA003})
"""EXIF tags that only compressed pictures have (CIPA DC-008, table 17)."""


def inner_entries(
    words: Words, *, colour_space: int, size: Size
) -> list[tuple[int, int, bytes, int]]:
    """The EXIF directory's entries, sorted by tag."""
    return [
        (0x9000, 7, b"0232", 4),
        *taken_entries(words),
        (0x9101, 7, b"\1\2\3\0", 4),
        (0xA000, 7, b"0100", 4),
        (0xA001, SHORT, struct.pack("<H", colour_space), 1),
        (0xA002, LONG, struct.pack("<I", size.width), 1),
        (0xA003, LONG, struct.pack("<I", size.height), 1),
    ]


def exif(
    words: Words, ppi: float | None, *, colour_space: int, size: Size, orientation: bool = True
) -> bytes:
    """A little-endian EXIF block: orientation 1, density, artist, copyright, ColorSpace.

    ``orientation`` False leaves that tag out, for containers that state it elsewhere (AVIF).
    """
    inner = inner_entries(words, colour_space=colour_space, size=size)
    entries = sorted(
        [*exif_entries(words, ppi or UNKNOWN_PPI), (0x0213, SHORT, struct.pack("<H", 1), 1)]
    )
    entries = [one for one in entries if orientation or one[0] != ORIENTATION]
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
