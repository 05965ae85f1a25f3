"""The words that a master itself carries: who made it, what it shows, who may use it how, when.

Read from XMP, then IIM, then EXIF: the first that says something counts (the order in which the
Metadata Working Group's guidelines 2.0 trust them when they disagree, from memory). Never read:
location, serial numbers, history, thumbnails, faces. Nothing read here is trusted: no entities, no
control characters, bounded lengths.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import IO, TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

MOST_BYTES: Final = 8_000_000
"""A larger packet is passed over (house; one of a hundred crops has 60 kB)."""
LONGEST: Final = 32_000
"""Characters of one text that are taken (house)."""
MOST_KEYWORDS: Final = 200
MOST_CREATORS: Final = 20

_BROKEN: Final = (SyntaxError, ValueError, OSError, KeyError, TypeError, struct.error)
"""What the picture library may say of broken EXIF."""
RDF: Final = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XML: Final = "http://www.w3.org/XML/1998/namespace"
SPACES: Final = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "desk": "http://ns.adobe.com/photoshop/1.0/",
    "rights": "http://ns.adobe.com/xap/1.0/rights/",
    "core": "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/",
    "ext": "http://iptc.org/std/Iptc4xmpExt/2008-02-29/",
    "plus": "http://ns.useplus.org/ldf/xmp/1.0/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
}
"""Namespaces of the properties that are read (IPTC Photo Metadata Standard 2025.1)."""
CONTACT: Final = {
    "address": "CiAdrExtadr",
    "city": "CiAdrCity",
    "region": "CiAdrRegion",
    "postcode": "CiAdrPcode",
    "country": "CiAdrCtry",
    "phone": "CiTelWork",
    "email": "CiEmailWork",
    "web": "CiUrlWork",
}
"""Parts of the creator's contact, and their names in the standard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnWords:
    """Empty where the master says nothing.

    ``captured``: when the picture was taken, ISO 8601, with the time and its offset from UTC where
    the master has them. ``contact``: of the creator, (part, text) in the order of CONTACT.
    """

    creator: tuple[str, ...] = ()
    credit: str = ""
    copyright: str = ""
    headline: str = ""
    caption: str = ""
    alt_text: str = ""
    extended_description: str = ""
    usage_terms: str = ""
    web_statement: str = ""
    source_type: str = ""
    data_mining: str = ""
    captured: str = ""
    keywords: tuple[str, ...] = ()
    contact: tuple[tuple[str, str], ...] = ()

    @property
    def none(self) -> bool:
        """Whether it says nothing."""
        return self == NO_OWN_WORDS


NO_OWN_WORDS: Final = OwnWords()


def read_own_words(*, xmp: bytes = b"", iim: bytes = b"", exif: Any = None) -> OwnWords:
    """The words of a master; ``exif`` as :func:`exif_of` gives it, ``iim`` bare or as JPEG has it.

    What cannot be read counts as not there: a master with broken metadata is still a picture.
    """
    sources = (_from_xmp(xmp), _from_iim(iim), _from_exif(exif))
    chosen: dict[str, Any] = {}
    for one in fields(OwnWords):
        chosen[one.name] = next((s[one.name] for s in sources if s.get(one.name)), one.default)
    times = [s["captured"] for s in (sources[2], sources[0], sources[1]) if s.get("captured")]
    chosen["captured"] = max(times, key=len, default="")  # the one that knows most, EXIF first
    return OwnWords(**chosen)


def exif_of(block: bytes) -> Any:
    """An EXIF block as the picture library reads it; None when it cannot."""
    from PIL import Image  # noqa: PLC0415 - loads the picture library

    if not block or len(block) > MOST_BYTES:
        return None
    exif = Image.Exif()
    try:
        exif.load(block)
    except _BROKEN:
        return None
    return exif


def exif_directory(exif: Any, which: int) -> Mapping[int, Any]:
    """A directory below the first; empty when there is none that can be read."""
    try:
        return dict(exif.get_ifd(which)) if exif is not None else {}
    except (*_BROKEN, AttributeError):
        return {}


def _plain(text: object) -> str:
    r"""One text, without control characters but line ends, at most LONGEST characters."""
    said = str(text).replace("\r\n", "\n").replace("\r", "\n")
    return "".join(c for c in said if c == "\n" or c.isprintable())[:LONGEST].strip()


# --- XMP


def _from_xmp(packet: bytes) -> dict[str, Any]:
    root = _parsed(packet)
    if root is None:
        return {}
    found = _properties(root)

    def text(space: str, name: str) -> str:
        return next(iter(found.get(f"{{{SPACES[space]}}}{name}", ())), "")

    contact = found.get(f"{{{SPACES['core']}}}CreatorContactInfo")
    parts = _contact(root) if contact is not None else ()
    times = [
        text("exif", "DateTimeOriginal"),
        text("desk", "DateCreated"),
        text("xmp", "CreateDate"),
    ]
    return {
        "creator": tuple(found.get(f"{{{SPACES['dc']}}}creator", ()))[:MOST_CREATORS],
        "credit": text("desk", "Credit"),
        "copyright": text("dc", "rights"),
        "headline": text("desk", "Headline"),
        "caption": text("dc", "description"),
        "alt_text": text("core", "AltTextAccessibility"),
        "extended_description": text("core", "ExtDescrAccessibility"),
        "usage_terms": text("rights", "UsageTerms"),
        "web_statement": text("rights", "WebStatement"),
        "source_type": text("ext", "DigitalSourceType"),
        "data_mining": text("plus", "DataMining"),
        "captured": next((day for one in times if (day := moment(one))), ""),
        "keywords": tuple(dict.fromkeys(found.get(f"{{{SPACES['dc']}}}subject", ())))[
            :MOST_KEYWORDS
        ],
        "contact": parts,
    }


def _parsed(packet: bytes) -> Element | None:
    from xml.etree.ElementTree import ParseError  # noqa: PLC0415 - only where there is XMP

    from defusedxml import DefusedXmlException  # noqa: PLC0415
    from defusedxml.ElementTree import fromstring  # noqa: PLC0415

    begin, end = packet.find(b"<"), packet.rfind(b">")
    if not 0 <= begin < end or len(packet) > MOST_BYTES:
        return None
    try:
        return fromstring(packet[begin : end + 1], forbid_dtd=True)
    except (ParseError, DefusedXmlException, ValueError, RecursionError):
        return None


def _properties(root: Element) -> dict[str, list[str]]:
    """Texts by property, attributes and elements alike; x-default before other languages."""
    found: dict[str, list[str]] = {}
    for description in root.iter(f"{{{RDF}}}Description"):
        for name, value in description.attrib.items():
            if not name.startswith((f"{{{RDF}}}", f"{{{XML}}}")):
                found.setdefault(name, [_plain(value)])
        for child in description:
            found.setdefault(child.tag, [text for text in map(_plain, _texts(child)) if text])
    return found


def _texts(element: Element) -> list[str]:
    items = sorted(
        element.iter(f"{{{RDF}}}li"),
        key=lambda one: one.get(f"{{{XML}}}lang", "x-default") != "x-default",
    )
    resource = element.get(f"{{{RDF}}}resource")
    return [one.text or "" for one in items] if items else [resource or element.text or ""]


def _contact(root: Element) -> tuple[tuple[str, str], ...]:
    core = SPACES["core"]
    holder = next(root.iter(f"{{{core}}}CreatorContactInfo"), None)
    if holder is None:
        return ()
    told = {one.tag: " ".join(_texts(one)) for one in holder.iter()}
    for one in holder.iter():
        told.update(one.attrib)
    pairs = ((part, _plain(told.get(f"{{{core}}}{name}", ""))) for part, name in CONTACT.items())
    return tuple((part, text) for part, text in pairs if text)


# --- IIM

_IIM_TEXTS: Final = {105: "headline", 110: "credit", 116: "copyright", 120: "caption"}
_RESOURCE: Final = b"8BIM\x04\x04"
"""What IIM is wrapped in inside JPEG."""


def _from_iim(block: bytes) -> dict[str, Any]:
    records = list(_records(_unwrapped(block[:MOST_BYTES])))
    utf8 = (1, 90, b"\x1b%G") in records
    told: dict[int, list[str]] = {}
    for record, dataset, content in records:
        if record == 2:  # noqa: PLR2004 - the application record
            told.setdefault(dataset, []).append(_plain(_decoded(content, utf8=utf8)))
    day, hour = (next(iter(told.get(one, ())), "") for one in (55, 60))
    chosen: dict[str, Any] = {
        name: next(iter(told.get(dataset, ())), "") for dataset, name in _IIM_TEXTS.items()
    }
    chosen["creator"] = tuple(one for one in told.get(80, ()) if one)[:MOST_CREATORS]
    chosen["keywords"] = tuple(dict.fromkeys(one for one in told.get(25, ()) if one))[
        :MOST_KEYWORDS
    ]
    chosen["captured"] = _iim_moment(day, hour)
    return chosen


def _unwrapped(block: bytes) -> bytes:
    """The records, out of the resource block of a JPEG where they are in one."""
    at = block.find(_RESOURCE)
    if at < 0:
        return block
    name = block[at + 6]
    start = at + 6 + 1 + name + (1 - name % 2)
    length = int.from_bytes(block[start : start + 4], "big")
    return block[start + 4 : start + 4 + length]


def _records(block: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Record, dataset and content (IIM 4.2, 1.5; extended lengths end the reading)."""
    at = 0
    while at + 5 <= len(block) and block[at] == 0x1C:  # noqa: PLR2004 - the tag marker
        length = int.from_bytes(block[at + 3 : at + 5], "big")
        if length >= 0x8000:  # noqa: PLR2004
            return
        yield block[at + 1], block[at + 2], block[at + 5 : at + 5 + length]
        at += 5 + length


def _decoded(content: bytes, *, utf8: bool) -> str:
    """UTF-8 where it says so or could be it, else Latin-1."""
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("utf-8", "replace") if utf8 else content.decode("latin-1")


def _iim_moment(day: str, hour: str) -> str:
    date_ = re.fullmatch(r"(\d{4})(\d\d)(\d\d)", day)
    if date_ is None:
        return ""
    clock = re.fullmatch(r"(\d\d)(\d\d)(\d\d)(?:([+-])(\d\d)(\d\d))?", hour)
    time_ = f"T{clock[1]}:{clock[2]}:{clock[3]}" if clock else ""
    offset = f"{clock[4]}{clock[5]}:{clock[6]}" if clock and clock[4] else ""
    return moment("-".join(date_.groups()) + time_ + offset)


# --- EXIF

_EXIF_DIRECTORY: Final = 0x8769


def _from_exif(exif: Any) -> dict[str, Any]:
    if exif is None:
        return {}
    inner = exif_directory(exif, _EXIF_DIRECTORY)
    artist = _exif_text(exif.get(0x013B))
    taken, offset = _exif_text(inner.get(0x9003)), _exif_text(inner.get(0x9011))
    return {
        "creator": tuple(part for one in artist.split(";") if (part := one.strip())),
        "copyright": _exif_text(exif.get(0x8298)),
        "caption": _described(_exif_text(exif.get(0x010E))),
        "captured": moment(taken.replace(":", "-", 2).replace(" ", "T", 1) + offset),
    }


def _exif_text(value: object) -> str:
    """A text of EXIF; the picture library takes it for Latin-1, many write UTF-8."""
    if isinstance(value, tuple):
        value = value[0] if value else ""
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    if not isinstance(value, str):
        return ""
    value = value.split("\0", 1)[0]
    with suppress(UnicodeDecodeError, UnicodeEncodeError):
        value = value.encode("latin-1").decode("utf-8")
    return _plain(value)


def _described(text: str) -> str:
    """A caption somebody wrote; cameras fill the field with capitals of their own (practice)."""
    return "" if text.isascii() and text.isupper() and len(text) < 40 else text  # noqa: PLR2004


def moment(text: str) -> str:
    """A day or a time of a day in ISO 8601, as far as it makes sense; empty when it is none.

    >>> moment("2026-03-01T10:20:30.25+01:00"), moment("2026-03-01T  :"), moment("2026")
    ('2026-03-01T10:20:30+01:00', '2026-03-01', '')
    """
    match = re.match(
        r"(\d{4}-\d\d-\d\d)(?:T(\d\d:\d\d)(:\d\d)?(?:\.\d+)?(Z|[+-]\d\d:\d\d)?)?", text.strip()
    )
    if match is None:
        return ""
    day, minute, second, offset = match.groups()
    try:
        date.fromisoformat(day)
        if minute is None:
            return day
        whole = f"{day}T{minute}{second or ':00'}{'+00:00' if offset == 'Z' else offset or ''}"
        datetime.fromisoformat(whole)
    except ValueError:
        return day if _is_day(day) else ""
    return whole


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def exif_of_tiff(stream: IO[bytes]) -> Any:
    """The first directory of a TIFF, read as EXIF is; None when it cannot be read."""
    from PIL import Image  # noqa: PLC0415 - loads the picture library

    exif = Image.Exif()
    stream.seek(0)
    try:
        exif.load_from_fp(stream)
        exif.get(0x013B)
    except _BROKEN:
        exif = None  # type: ignore[assignment]
    stream.seek(0)
    return exif
