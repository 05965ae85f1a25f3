"""Crops in the words of open standards, and back, read by programs that are not ours."""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from rdflib import Graph, Namespace

from cropper.deliverable.fragments import fragments
from cropper.deliverable.region_reading import region_faults, regions_from_xmp
from cropper.deliverable.regions import (
    LANDSCAPE,
    PORTRAIT,
    RECOMMENDED,
    SQUARE,
    crops_from_regions,
    region_of,
)
from cropper.deliverable.sidecar import sidecar, untouched
from cropper.destination.destination import Destination, Frame, ShapeRange
from cropper.errors import CropperError
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.adjusting import Drawn, fitted

MASTER = Size(6000, 4000)
BOX = PixelBox(1500, 400, 3900, 3400)
"""The worked example of the reference values, ``one_crop``."""
EXT = Namespace("http://iptc.org/std/Iptc4xmpExt/2008-02-29/")
XMP = Namespace("http://ns.adobe.com/xap/1.0/")


def going(name: str, wide: int = 4, high: int = 5, frame: Frame = Frame.RECTANGLE) -> Destination:
    shape = Fraction(wide, high)
    return Destination(name=name, title=name, shape=ShapeRange(shape, shape), frame=frame)


def wrapped(inner: str) -> str:
    """A packet of somebody else's with one region in it."""
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF'
        ' xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"'
        f' xmlns:Iptc4xmpExt="{EXT}" xmlns:xmp="{XMP}"><rdf:Description rdf:about="">'
        f"<Iptc4xmpExt:ImageRegion><rdf:Bag>{inner}</rdf:Bag></Iptc4xmpExt:ImageRegion>"
        "</rdf:Description></rdf:RDF></x:xmpmeta>"
    )


def exiftool(path: Path) -> list[dict[str, Any]]:
    said = subprocess.run(
        ["exiftool", "-j", "-struct", "-XMP-iptcExt:ImageRegion", path],
        capture_output=True,
        text=True,
        check=True,
    )
    regions: list[dict[str, Any]] = json.loads(said.stdout)[0].get("ImageRegion", [])
    return regions


def test_one_crop_says_the_same_in_every_syntax() -> None:
    """W3C Media Fragments 1.0 and IIIF Image API 3.0: the reference's worked example."""
    said = fragments(Crop(BOX), MASTER, Size(1080, 1350))
    assert said.media_fragment == "xywh=pixel:1500,400,2400,3000"
    assert said.media_fragment_percent == "xywh=percent:25,10,40,75"
    assert said.iiif_region == "1500,400,2400,3000"
    assert said.iiif_request == "1500,400,2400,3000/1080,1350/0/default.jpg"
    assert said.left_out == ""


def test_a_percent_fragment_is_left_out_where_it_would_move_an_edge() -> None:
    assert (
        fragments(Crop(PixelBox(1, 0, 61, 40)), MASTER, Size(60, 40)).media_fragment_percent is None
    )


def test_an_enlargement_is_marked_as_the_image_api_asks() -> None:
    said = fragments(Crop(PixelBox(0, 0, 40, 50)), MASTER, Size(80, 100))
    assert said.iiif_request == "0,0,40,50/^80,100/0/default.jpg"


def test_a_straightened_crop_is_a_polygon_and_the_two_that_cannot_say_it_are_left_out() -> None:
    said = fragments(Crop(BOX, 4.0), MASTER, Size(1080, 1350))
    assert (said.media_fragment, said.iiif_region, said.iiif_request) == (None, None, None)
    assert "straightened" in said.left_out
    polygon = etree.fromstring(said.svg_selector).find("{http://www.w3.org/2000/svg}polygon")
    points = [tuple(map(float, one.split(","))) for one in polygon.get("points").split()]
    # A quarter of the box's own rotation matrix, by complex numbers: corner = centre + half * e^ia.
    turn = complex(0.9975640502598242, 0.0697564737441253)  # cos, sin of 4 degrees (tables)
    corner = complex(2700, 1900) + complex(-1200, -1500) * turn
    assert points[0] == pytest.approx((corner.real, corner.imag), abs=1e-5)
    assert len(points) == 4


def test_an_independent_reader_finds_the_regions(tmp_path: Path) -> None:
    """ExifTool, of Debian: the worked example's corner, [0.25, 0.1, 0.4, 0.75]."""
    rows = [region_of(Crop(BOX), going("tall-post"), MASTER)]
    rows.append(
        region_of(Crop(PixelBox(0, 0, 3000, 3000)), going("avatar", 1, 1, Frame.CIRCLE), MASTER)
    )
    rows.append(region_of(Crop(BOX, -3.0), going("turned"), MASTER))
    path = tmp_path / "one.xmp"
    path.write_text(sidecar(rows, master="Ilse & Marrow <1>.tif"), encoding="utf-8")

    box, circle, turned = exiftool(path)

    edge = box["RegionBoundary"]
    assert [edge[f"Rb{name}"] for name in "XYWH"] == [0.25, 0.1, 0.4, 0.75]
    assert (edge["RbShape"], edge["RbUnit"]) == ("Rectangle", "Relative")
    assert box["RId"] == "crop-tall-post"
    assert [one["Identifier"][0] for one in box["RRole"]] == [RECOMMENDED, PORTRAIT]
    edge = circle["RegionBoundary"]
    assert [edge["RbX"], edge["RbY"], edge["RbRx"]] == [0.25, 0.375, 0.25]
    assert len(turned["RegionBoundary"]["RbVertices"]) == 4


def test_the_sidecar_is_sound_rdf() -> None:
    """rdflib and lxml: independent parsers of RDF/XML and XML."""
    rows = [region_of(Crop(BOX), going(name), MASTER) for name in ("one", "two")]
    tree = etree.fromstring(sidecar(rows, master="Fernhollow\x00\x0b.tif").encode())
    inner = tree.find("{http://www.w3.org/1999/02/22-rdf-syntax-ns#}RDF")
    graph = Graph().parse(data=etree.tostring(inner), format="xml")
    assert sorted(str(one) for one in graph.objects(predicate=EXT.rId)) == ["crop-one", "crop-two"]
    assert {str(one) for one in graph.objects(predicate=EXT.rbShape)} == {"rectangle"}


def test_roles_are_the_vocabulary_s() -> None:
    """IPTC image region role: landscape and portrait only where the picture is not so itself."""
    square, wide = Crop(PixelBox(0, 0, 900, 900)), Crop(PixelBox(0, 0, 900, 500))
    assert region_of(square, going("a"), MASTER).roles == (RECOMMENDED, SQUARE)
    assert region_of(wide, going("a"), MASTER).roles == (RECOMMENDED,)
    assert region_of(wide, going("a"), MASTER.turned).roles == (RECOMMENDED, LANDSCAPE)


@given(
    st.integers(400, 12_000),
    st.integers(400, 12_000),
    st.floats(0, 1),
    st.floats(0, 1),
    st.floats(0.05, 1),
    st.sampled_from([0.0, -14.5, -0.7, 2.0, 9.25]),
    st.sampled_from([(4, 5), (1, 1), (16, 9), (3, 1)]),
)
def test_any_crop_comes_back_from_its_region(  # noqa: PLR0917
    wide: int,
    high: int,
    x: float,
    y: float,
    share: float,
    turn: float,
    shape: tuple[int, int],
) -> None:
    from cropper.geometry import Extent  # noqa: PLC0415

    size, destination = Size(wide, high), going("here", *shape)
    box = Extent(x * wide, y * high, x * wide + share * wide, y * high + share * high)
    crop = fitted(Drawn(box=box, straighten_deg=turn), destination, size)

    text = sidecar([region_of(crop, destination, size)], master="a.tif")
    (back,) = crops_from_regions(regions_from_xmp(text), size, [destination])

    drawn = Drawn(box=back.placed.box, straighten_deg=back.placed.straighten_deg)
    again = fitted(drawn, destination, size)
    assert again.box == crop.box
    assert again.straighten_deg == pytest.approx(crop.straighten_deg, abs=1e-4)


def test_regions_in_attributes_are_read_too() -> None:
    text = wrapped(
        '<rdf:li><rdf:Description Iptc4xmpExt:rId="x"><Iptc4xmpExt:RegionBoundary'
        ' Iptc4xmpExt:rbShape="Rectangle" Iptc4xmpExt:rbUnit="pixel" Iptc4xmpExt:rbX="10"'
        ' Iptc4xmpExt:rbY="20" Iptc4xmpExt:rbW="400" Iptc4xmpExt:rbH="500"/>'
        '<Iptc4xmpExt:rRole><rdf:Bag><rdf:li rdf:parseType="Resource"><xmp:Identifier>'
        "https://cv.iptc.org/newscodes/imageregionrole/cropping</xmp:Identifier></rdf:li>"
        "</rdf:Bag></Iptc4xmpExt:rRole></rdf:Description></rdf:li>"
    )
    (one,) = regions_from_xmp(text)
    assert one.is_crop
    (taken,) = crops_from_regions([one], MASTER, [going("tall"), going("wide", 16, 9)])
    assert taken.destination == "tall"
    assert (taken.placed.box.x0, taken.placed.box.y1) == (10, 520)


def test_what_exiftool_writes_is_read(tmp_path: Path) -> None:
    path = tmp_path / "other.xmp"
    boundary = "{RbShape=rectangle,RbUnit=relative,RbX=0.25,RbY=0.1,RbW=0.4,RbH=0.75}"
    role = "{Identifier=http://cv.iptc.org/newscodes/imageregionrole/cropping}"
    words = f"-XMP-iptcExt:ImageRegion={{RId=r1,RegionBoundary={boundary},RRole=[{role}]}}"
    subprocess.run(["exiftool", words, path], capture_output=True, check=True)
    (taken,) = crops_from_regions(regions_from_xmp(path.read_bytes()), MASTER, [going("tall")])
    drawn = Drawn(box=taken.placed.box)
    assert fitted(drawn, going("tall"), MASTER) == Crop(BOX)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "no XML",
        "<x",
        '<!DOCTYPE a [<!ENTITY b "boom">]><a>&b;</a>',
        '<!DOCTYPE a SYSTEM "file:///etc/passwd"><a/>',
        "<a>" + "x" * 8_000_001 + "</a>",
        b"\xff\xfe\x00",
    ],
)
def test_what_is_no_safe_xmp_is_refused_with_a_sentence(text: str | bytes) -> None:
    with pytest.raises(CropperError):
        regions_from_xmp(text)


def test_a_region_without_sense_is_left_out_and_said() -> None:
    good = "<Iptc4xmpExt:rbX>0</Iptc4xmpExt:rbX><Iptc4xmpExt:rbY>0</Iptc4xmpExt:rbY>"
    inner = "".join(
        '<rdf:li rdf:parseType="Resource"><Iptc4xmpExt:RegionBoundary rdf:parseType="Resource">'
        f"<Iptc4xmpExt:rbShape>{shape}</Iptc4xmpExt:rbShape><Iptc4xmpExt:rbUnit>relative"
        f"</Iptc4xmpExt:rbUnit>{good}<Iptc4xmpExt:rbW>{wide}</Iptc4xmpExt:rbW>"
        "<Iptc4xmpExt:rbH>1</Iptc4xmpExt:rbH></Iptc4xmpExt:RegionBoundary></rdf:li>"
        for shape, wide in [
            ("rectangle", "nan"),
            ("rectangle", "0"),
            ("star", "1"),
            ("rectangle", "wide"),
            ("polygon", "1"),
            ("rectangle", "0.5"),
        ]
    )
    assert [one.width for one in regions_from_xmp(wrapped(inner))] == [0.5]
    assert len(region_faults(wrapped(inner))) == 5


def test_a_sidecar_that_somebody_wrote_to_is_known_for_it() -> None:
    text = sidecar([region_of(Crop(BOX), going("a"), MASTER)], master="a.tif")
    assert untouched(text)
    assert not untouched(text.replace("crop-a", "crop-b"))
    assert not untouched("<x/>")


def test_a_region_of_ours_for_another_destination_is_not_taken_by_its_shape() -> None:
    one = region_of(Crop(BOX), going("gone"), MASTER)
    assert crops_from_regions([one], MASTER, [going("tall")]) == ()
    assert crops_from_regions([replace(one, id="")], MASTER, [going("tall")])


def test_a_crop_that_reaches_past_the_master_is_said_as_a_polygon_alone() -> None:
    said = fragments(Crop(PixelBox(-200, 10, 1200, 360)), Size(1000, 400), Size(1400, 350))
    assert said.media_fragment is None
    assert said.iiif_region is None
    assert said.iiif_request is None
    assert "reaches past the master" in said.left_out
    assert 'points="-200,10 1200,10 1200,360 -200,360"' in said.svg_selector
