"""An XMP sidecar that holds a master's chosen crops as IPTC image regions.

XMP (ISO 16684-1) in RDF/XML; properties as the IPTC Extension schema names them. Numbers are
relative to the **upright** picture. The file carries a digest of itself, so that one which
somebody else has written to is known for such, and never replaced.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from typing import Final
from xml.sax.saxutils import escape

from cropper import __version__
from cropper.deliverable.regions import ROLE_NAMES, Outline, Region
from cropper.deliverable.words import Words, cleaned

EXT: Final = "http://iptc.org/std/Iptc4xmpExt/2008-02-29/"
XMP: Final = "http://ns.adobe.com/xap/1.0/"
MEDIA: Final = "http://ns.adobe.com/xap/1.0/mm/"
RDF: Final = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
META: Final = "adobe:ns:meta/"
DUBLIN_CORE: Final = "http://purl.org/dc/elements/1.1/"
"""Spelled exactly as the standards do; where one names a program, so must we."""

_BLANK: Final = "0" * 64
_SELF: Final = re.compile(r"<xmpMM:InstanceID>sha256:([0-9a-f]{64})</xmpMM:InstanceID>")


def sidecar(regions: Sequence[Region], *, master: str) -> str:
    """The sidecar's text for the file called ``master``."""
    items = "".join(_region(one) for one in regions)
    body = (
        f"   <Iptc4xmpExt:ImageRegion><rdf:Bag>\n{items}   </rdf:Bag></Iptc4xmpExt:ImageRegion>\n"
    )
    blank = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<x:xmpmeta xmlns:x="{META}"><rdf:RDF xmlns:rdf="{RDF}">\n'
        f'  <rdf:Description rdf:about="" xmlns:xmp="{XMP}" xmlns:xmpMM="{MEDIA}"\n'
        f'    xmlns:dc="{DUBLIN_CORE}" xmlns:Iptc4xmpExt="{EXT}">\n'
        f"   <xmp:CreatorTool>cropper {__version__}</xmp:CreatorTool>\n"
        f"   <xmpMM:InstanceID>sha256:{_BLANK}</xmpMM:InstanceID>\n"
        f"   <dc:source>{escape(_plain(master))}</dc:source>\n"
        f"{body if regions else ''}"
        "  </rdf:Description>\n</rdf:RDF></x:xmpmeta>\n"
    )
    return blank.replace(_BLANK, hashlib.sha256(blank.encode()).hexdigest(), 1)


def untouched(text: str) -> bool:
    """Whether the text is a sidecar as :func:`sidecar` made it, and nobody wrote to it since."""
    found = _SELF.search(text)
    if found is None:
        return False
    blank = text.replace(found[1], _BLANK, 1)
    return hashlib.sha256(blank.encode()).hexdigest() == found[1]


def _region(one: Region) -> str:
    roles = "".join(_role(role) for role in one.roles)
    return (
        '    <rdf:li rdf:parseType="Resource">\n'
        f"     <Iptc4xmpExt:rId>{escape(_plain(one.id))}</Iptc4xmpExt:rId>\n"
        f"     <Iptc4xmpExt:Name>{_by_language(one.name)}</Iptc4xmpExt:Name>\n"
        f"     <Iptc4xmpExt:rRole><rdf:Bag>{roles}</rdf:Bag></Iptc4xmpExt:rRole>\n"
        f"{_boundary(one)}"
        "    </rdf:li>\n"
    )


def _role(role: str) -> str:
    name = f"<Iptc4xmpExt:Name>{_by_language(ROLE_NAMES.get(role, ''))}</Iptc4xmpExt:Name>"
    identifier = (
        f"<xmp:Identifier><rdf:Bag><rdf:li>{escape(role)}</rdf:li></rdf:Bag></xmp:Identifier>"
    )
    return f'<rdf:li rdf:parseType="Resource">{name}{identifier}</rdf:li>'


def _by_language(text: str) -> str:
    return f'<rdf:Alt><rdf:li xml:lang="x-default">{escape(_plain(text))}</rdf:li></rdf:Alt>'


def _boundary(one: Region) -> str:
    parts = {"rbShape": str(one.outline), "rbUnit": str(one.unit)}
    if one.outline is not Outline.POLYGON:
        parts |= {"rbX": _number(one.at[0]), "rbY": _number(one.at[1])}
    if one.outline is Outline.RECTANGLE:
        parts |= {"rbW": _number(one.width), "rbH": _number(one.height)}
    if one.outline is Outline.CIRCLE:
        parts |= {"rbRx": _number(one.radius)}
    inner = "".join(
        f"<Iptc4xmpExt:{name}>{value}</Iptc4xmpExt:{name}>" for name, value in parts.items()
    )
    if one.outline is Outline.POLYGON:
        points = "".join(_vertex(x, y) for x, y in one.vertices)
        inner += f"<Iptc4xmpExt:rbVertices><rdf:Seq>{points}</rdf:Seq></Iptc4xmpExt:rbVertices>"
    kind = 'rdf:parseType="Resource"'
    return f"     <Iptc4xmpExt:RegionBoundary {kind}>{inner}</Iptc4xmpExt:RegionBoundary>\n"


def _vertex(x: float, y: float) -> str:
    inner = f"<Iptc4xmpExt:rbX>{_number(x)}</Iptc4xmpExt:rbX>"
    inner += f"<Iptc4xmpExt:rbY>{_number(y)}</Iptc4xmpExt:rbY>"
    return f'<rdf:li rdf:parseType="Resource">{inner}</rdf:li>'


def _number(value: float) -> str:
    """Ten decimals: less than a millionth of a pixel in the largest master."""
    return f"{value:.10f}".rstrip("0").rstrip(".")


def _plain(text: str) -> str:
    """Without what XML cannot carry."""
    return cleaned(Words(headline=text))[0].headline
