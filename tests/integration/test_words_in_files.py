"""Words in finished files, told by readers that are not ours.

exiftool, an RDF parser (rdflib), ImageMagick's identify and a PDF library (pypdf). Names of
properties: IPTC Photo Metadata Standard 2025.1 and PLUS LDF 2.0.1.
"""

from __future__ import annotations

import io
import json
import shutil
import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
import rdflib
from hypothesis import given, settings
from hypothesis import strategies as st

from cropper.deliverable.encoding import encode
from cropper.deliverable.packets import xmp
from cropper.deliverable.press_pdf import press_pdf
from cropper.deliverable.rendering import Rendered, render
from cropper.deliverable.words import Contributor, Words, cleaned
from cropper.destination.destination import Destination, Finish, ShapeRange
from cropper.destination.formats import FORMATS, pixel_formats
from cropper.geometry import Crop, PixelBox, Size
from cropper.master.opening import open_master

TONGUES = "ø ü żółć 漢字 羊毛 👩‍👩‍👧 \u200fצמר\u200e"
WORDS = Words(
    creator="R. Quillfeather; Ø. Fernhollow",
    credit=f"Photo: R. Quillfeather / Make-up: Tove Lindqvist-Hale {TONGUES}",
    copyright="© 2026 R. Quillfeather",
    headline=f"Wool & copper <light> {TONGUES}",
    caption=f"Ilse Marrow in a roll-neck.\n=cmd|' /C'!A0 <b>]]></b> &amp; {TONGUES}",
    alt_text=f"A woman in a grey roll-neck {TONGUES}",
    extended_description="Head and shoulders, warm grey backdrop.",
    usage_terms=f"No use without a licence. {TONGUES}",
    web_statement="https://quillfeather.example/terms?a=1&b=2",
    licensor="R. Quillfeather",
    licensor_url="https://quillfeather.example/",
    licence_until="2028-02-28",
    date_created="2026-03-01",
    release_status="MR-LMR",
    contributors=(
        Contributor(name="Tove Lindqvist-Hale", role="makeup"),
        Contributor(name="羊 Ü.", role="hair"),
    ),
    people=("Ilse Marrow",),
)
IPTC_CORE = rdflib.Namespace("http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/")
IPTC_EXT = rdflib.Namespace("http://iptc.org/std/Iptc4xmpExt/2008-02-29/")
PLUS = rdflib.Namespace("http://ns.useplus.org/ldf/xmp/1.0/")
RIGHTS = rdflib.Namespace("http://ns.adobe.com/xap/1.0/rights/")
DC = rdflib.Namespace("http://purl.org/dc/elements/1.1/")


@pytest.fixture(scope="module")
def picture(tmp_path_factory: pytest.TempPathFactory) -> Rendered:
    from PIL import Image  # noqa: PLC0415 - only here

    path = tmp_path_factory.mktemp("words") / "wool.png"
    Image.fromarray(np.full((150, 120, 3), 160, np.uint8)).save(path)
    shape = Fraction(4, 5)
    post = Destination(
        name="post", title="Post", shape=ShapeRange(shape, shape), delivered=Size(80, 100)
    )
    return render(open_master(path), Crop(PixelBox(0, 0, 120, 150)), post)


def files(picture: Rendered, words: Words) -> dict[str, bytes]:
    """One file of every format."""
    made = {kind: encode(picture, Finish(format=kind), words) for kind in pixel_formats()}
    page = (Fraction(80), Fraction(100))
    return {
        **made,
        "press-pdf": press_pdf(picture, page_mm=page, bleed_mm=Fraction(0), words=words),
    }


def exiftool(path: Path, *options: str) -> dict[str, Any]:
    """What exiftool reads, with groups and structures."""
    if shutil.which("exiftool") is None:
        pytest.skip("exiftool is not installed")
    told = subprocess.run(
        ["exiftool", "-j", "-G1", "-struct", *options, str(path)], check=True, capture_output=True
    )
    found: dict[str, Any] = json.loads(told.stdout)[0]
    return found


def graph(packet: bytes) -> rdflib.Graph:
    """The packet as RDF, without its wrapping."""
    start, end = packet.index(b"<rdf:RDF"), packet.index(b"</rdf:RDF>") + len(b"</rdf:RDF>")
    return rdflib.Graph().parse(data=packet[start:end], format="xml")


def listed(told: rdflib.Graph, name: rdflib.URIRef) -> list[Any]:
    """The members of a container, in order."""
    container = next(told.objects(None, name))
    members = [(str(key), value) for key, value in told.predicate_objects(container)]
    return [value for key, value in sorted(members) if "#_" in key]


@pytest.mark.parametrize("kind", [*pixel_formats(), "press-pdf"])
def test_exiftool_finds_every_word_in_every_format(
    picture: Rendered, tmp_path: Path, kind: str
) -> None:
    path = tmp_path / f"a.{FORMATS[kind].ending}"
    path.write_bytes(files(picture, WORDS)[kind])
    found = exiftool(path)
    iptc, ext, plus = "XMP-iptcCore:", "XMP-iptcExt:", "XMP-plus:"
    assert found["XMP-dc:Creator"] == ["R. Quillfeather", "Ø. Fernhollow"]
    assert found["XMP-dc:Description"] == WORDS.caption
    assert found["XMP-dc:Rights"] == WORDS.copyright
    assert found[f"{iptc}AltTextAccessibility"] == WORDS.alt_text
    assert found[f"{iptc}ExtDescrAccessibility"] == WORDS.extended_description
    assert found[f"{ext}Contributor"] == [
        {"Name": "Tove Lindqvist-Hale", "Role": ["makeup"]},
        {"Name": "羊 Ü.", "Role": ["hair"]},
    ]
    assert found[f"{ext}PersonInImage"] == ["Ilse Marrow"]
    assert found["XMP-xmpRights:UsageTerms"] == WORDS.usage_terms
    assert found["XMP-xmpRights:WebStatement"] == WORDS.web_statement
    assert found[f"{plus}Licensor"] == [
        {"LicensorName": "R. Quillfeather", "LicensorURL": "https://quillfeather.example/"}
    ]
    assert found[f"{plus}LicenseEndDate"] == "2028:02:28"
    assert found[f"{plus}ModelReleaseStatus"] == "Limited or Incomplete Model Releases"
    desk = {key.split(":")[1]: value for key, value in found.items() if key.startswith("XMP-ph")}
    assert desk == {
        "Headline": WORDS.headline,
        "Credit": WORDS.credit,
        "DateCreated": "2026:03:01",
    }


@pytest.mark.parametrize("kind", pixel_formats())
def test_exif_says_who_and_what_in_utf8(picture: Rendered, tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"a.{FORMATS[kind].ending}"
    path.write_bytes(files(picture, WORDS)[kind])
    found = exiftool(path, "-charset", "exif=utf8")
    assert found["IFD0:Artist"] == WORDS.creator  # Exif: several artists with "; " between
    assert found["IFD0:Copyright"] == WORDS.copyright
    assert found["IFD0:ImageDescription"] == WORDS.caption


@pytest.mark.parametrize("kind", [*pixel_formats(), "press-pdf"])
def test_exiftool_has_nothing_against_the_structure_of_any_format(
    picture: Rendered, tmp_path: Path, kind: str
) -> None:
    path = tmp_path / f"a.{FORMATS[kind].ending}"
    path.write_bytes(files(picture, WORDS)[kind])
    assert exiftool(path, "-validate", "-warning", "-error", "-a")["ExifTool:Validate"] == "OK"


@pytest.mark.parametrize("kind", ["jpeg", "tiff"])
def test_older_desks_get_what_fits_cut_visibly(
    picture: Rendered, tmp_path: Path, kind: str
) -> None:
    path = tmp_path / f"a.{FORMATS[kind].ending}"
    long = replace(WORDS, caption="漢字👩‍👩‍👧" * 1000)
    path.write_bytes(files(picture, long)[kind])
    found = exiftool(path)
    assert found["IPTC:By-line"] == ["R. Quillfeather", "Ø. Fernhollow"]
    assert found["IPTC:CodedCharacterSet"] == "UTF8"
    assert found["IPTC:DateCreated"] == "2026:03:01"
    assert found["IPTC:ExpirationDate"] == "2028:02:28"
    # IIM 4.2: most bytes of 2:110, 2:120
    for field, most in (("Credit", 32), ("Caption-Abstract", 2000)):
        assert len(found[f"IPTC:{field}"].encode()) <= most
        assert found[f"IPTC:{field}"].endswith("…")
    whole = {"漢", "字", "👩‍👩‍👧", "…"}
    rest = found["IPTC:Caption-Abstract"]
    for one in whole:
        rest = rest.replace(one, "")
    assert rest == ""


def test_an_rdf_parser_finds_the_structures_the_standard_asks_for() -> None:
    told = graph(xmp(cleaned(WORDS)[0]))
    assert [str(one) for one in listed(told, DC.creator)] == ["R. Quillfeather", "Ø. Fernhollow"]
    alt = next(told.objects(None, IPTC_CORE.AltTextAccessibility))
    assert told.value(alt, rdflib.RDF.type) == rdflib.RDF.Alt
    (text,) = listed(told, IPTC_CORE.AltTextAccessibility)
    assert (str(text), text.language) == (WORDS.alt_text, "x-default")
    (terms,) = listed(told, RIGHTS.UsageTerms)
    assert str(terms) == WORDS.usage_terms
    makeup, _ = listed(told, IPTC_EXT.Contributor)
    (role,) = [
        value
        for key, value in told.predicate_objects(told.value(makeup, IPTC_EXT.Role))
        if "#_" in str(key)
    ]
    assert str(role) == "makeup"
    (licensor,) = listed(told, PLUS.Licensor)
    assert str(told.value(licensor, PLUS.LicensorName)) == "R. Quillfeather"
    status = next(told.objects(None, PLUS.ModelReleaseStatus))
    assert str(status) == "http://ns.useplus.org/ldf/vocab/MR-LMR"  # PLUS LDF, code below this


@settings(max_examples=60, deadline=None)
@given(text=st.text(min_size=1, max_size=80), name=st.text(min_size=1, max_size=40))
def test_an_rdf_parser_reads_back_any_words(text: str, name: str) -> None:
    words, _ = cleaned(
        Words(caption=text, alt_text=text, contributors=(Contributor(name=name, role="hair"),))
    )
    if words.none:
        return
    told = graph(xmp(words))
    if words.caption:
        # A parser reads a lone line end as it stands, and XML's own rules are ours (NFC, no CR).
        assert str(listed(told, DC.description)[0]) == words.caption


def test_imagemagick_finds_the_same_words(picture: Rendered, tmp_path: Path) -> None:
    if shutil.which("identify") is None:
        pytest.skip("ImageMagick is not installed")
    path = tmp_path / "a.jpg"
    path.write_bytes(files(picture, WORDS)["jpeg"])
    told = subprocess.run(
        ["identify", "-format", "%[EXIF:Artist]|%[EXIF:Copyright]|%[IPTC:2:116]|%wx%h", str(path)],
        check=True,
        capture_output=True,
        text=True,
    )
    # identify writes bytes of EXIF text above 127 as dots; the IIM text it gives as it is
    artist, copied, notice, size = told.stdout.split("|")
    assert artist.startswith("R. Quillfeather; ")
    assert copied.endswith(" 2026 R. Quillfeather")
    assert notice == WORDS.copyright
    assert size == "80x100"


def test_a_pdf_library_finds_the_packet(picture: Rendered) -> None:
    pdf = pypdf.PdfReader(io.BytesIO(files(picture, WORDS)["press-pdf"]))
    packet = pdf.xmp_metadata
    assert packet is not None
    assert packet.dc_description == {"x-default": WORDS.caption}
    assert packet.dc_creator == ["R. Quillfeather", "Ø. Fernhollow"]
    assert pdf.metadata is not None
    assert pdf.metadata.author == WORDS.creator


def test_a_caption_of_ten_thousand_letters_is_in_every_file_whole(
    picture: Rendered, tmp_path: Path
) -> None:
    long = Words(caption="漢" * 10_000)
    for kind, data in files(picture, long).items():
        path = tmp_path / f"long.{FORMATS[kind].ending}"
        path.write_bytes(data)
        assert exiftool(path)["XMP-dc:Description"] == long.caption
