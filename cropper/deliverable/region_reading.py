"""Image regions out of XMP, whoever wrote it: elements or attributes, nested or abbreviated.

What comes in is not trusted: no entities, no document type, and no more than a few megabytes. A
region that makes no sense is left out and said; it never hides the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from cropper.deliverable.regions import Outline, Region, Unit
from cropper.deliverable.sidecar import EXT, RDF, XMP
from cropper.errors import CropperError

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

MOST_BYTES: Final = 8_000_000
"""More is no sidecar (house: a hundred crops take 60 kB)."""
MOST_REGIONS: Final = 10_000
WAY_OUT: Final = "Name an XMP sidecar, or a picture that carries XMP"


def regions_from_xmp(text: str | bytes) -> tuple[Region, ...]:
    """Every region that makes sense; raises :class:`CropperError` if this is no safe XMP."""
    return tuple(one for one in _read(text) if isinstance(one, Region))


def region_faults(text: str | bytes) -> tuple[str, ...]:
    """Why regions of the same text were left out, in sentences."""
    return tuple(one for one in _read(text) if isinstance(one, str))


def _read(text: str | bytes) -> list[Region | str]:
    root = _parsed(text)
    found: list[Region | str] = []
    items = (
        item
        for description in root.iter(f"{{{RDF}}}Description")
        for parent in description.findall(f"{{{EXT}}}ImageRegion")
        for item in _items(parent)
    )
    for number, item in enumerate(items, start=1):
        if number > MOST_REGIONS:
            found.append(f"Only the first {MOST_REGIONS} regions were read.")
            break
        try:
            found.append(_region(item))
        except ValueError as error:
            found.append(f"Region {number} was left out: {error}.")
    return found


def _parsed(text: str | bytes) -> Element:
    from xml.etree.ElementTree import ParseError  # noqa: PLC0415 - only readers pay for it

    from defusedxml import DefusedXmlException  # noqa: PLC0415
    from defusedxml.ElementTree import fromstring  # noqa: PLC0415

    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    if len(data) > MOST_BYTES:
        raise CropperError(f"{len(data)} bytes are no sidecar", way_out=WAY_OUT)
    try:
        root: Element = fromstring(data.strip(b"\0 \r\n\t"), forbid_dtd=True)
    except DefusedXmlException as error:
        raise CropperError(
            "the XMP declares a document type or entities, and is not read", way_out=WAY_OUT
        ) from error
    except (ParseError, ValueError, LookupError) as error:
        raise CropperError(f"this is not XMP ({error})", way_out=WAY_OUT) from error
    return root


def _items(parent: Element) -> Iterator[Element]:
    """The items of a list, or the one value that stands without."""
    lists = [one for kind in ("Bag", "Seq", "Alt") for one in parent.findall(f"{{{RDF}}}{kind}")]
    if not lists:
        yield parent
    for one in lists:
        yield from one.findall(f"{{{RDF}}}li")


def _inner(item: Element) -> Element:
    """Where a structure's fields are: in the element itself, or in a description inside it."""
    found = item.find(f"{{{RDF}}}Description")
    return item if found is None else found


def _text(item: Element, name: str) -> str:
    """A simple field, as element or attribute; of alternatives the first."""
    inner = _inner(item)
    attribute = inner.get(name)
    if attribute is not None:
        return attribute.strip()
    child = inner.find(name)
    if child is None:
        return ""
    first = next(_items(child))
    return (first.text or "").strip()


def _region(item: Element) -> Region:
    boundary = _inner(item).find(f"{{{EXT}}}RegionBoundary")
    if boundary is None:
        raise ValueError("it has no boundary")
    outline, unit = _text(boundary, f"{{{EXT}}}rbShape"), _text(boundary, f"{{{EXT}}}rbUnit")
    points = _inner(boundary).find(f"{{{EXT}}}rbVertices")
    return Region(
        id=_text(item, f"{{{EXT}}}rId"),
        name=_text(item, f"{{{EXT}}}Name"),
        roles=_roles(item),
        outline=Outline(outline.lower()),
        unit=Unit(unit.lower()),
        at=(_number(boundary, "rbX"), _number(boundary, "rbY")),
        width=_number(boundary, "rbW"),
        height=_number(boundary, "rbH"),
        radius=_number(boundary, "rbRx"),
        vertices=()
        if points is None
        else tuple((_number(one, "rbX"), _number(one, "rbY")) for one in _items(points)),
    )


def _number(item: Element, name: str) -> float:
    """A number; 0 where the field is not there."""
    text = _text(item, f"{{{EXT}}}{name}")
    try:
        return float(text) if text else 0.0
    except ValueError:
        raise ValueError(f"{name} is no number") from None


def _roles(item: Element) -> tuple[str, ...]:
    parent = _inner(item).find(f"{{{EXT}}}rRole")
    if parent is None:
        return ()
    return tuple(role for one in _items(parent) for role in _identifiers(one))


def _identifiers(role: Element) -> Iterator[str]:
    found = _inner(role).find(f"{{{XMP}}}Identifier")
    if found is None:
        attribute = _inner(role).get(f"{{{XMP}}}Identifier")
        yield from () if attribute is None else (attribute.strip(),)
        return
    for one in _items(found):
        if one.text:
            yield one.text.strip()
