"""What a master says of itself goes on into its files, read by a program that is not ours.

The master's words are written, and the files' read, by exiftool.
"""

from __future__ import annotations

import json
import subprocess
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from cropper.deliverable.carrying import carried_on
from cropper.deliverable.delivering import Order, deliver_all
from cropper.deliverable.words import NO_WORDS, Words
from cropper.destination.destination import Destination, Finish, ShapeRange, Surround
from cropper.destination.formats import FORMATS, pixel_formats
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.wording import words_for
from cropper.job.wording_reading import from_text
from cropper.job.wording_starter import starter_text
from cropper.master.opening import open_master, read_words_of
from cropper.master.own_words import OwnWords, read_own_words

SAID = {
    "XMP-dc:Creator": "R. Quillfeather",
    "XMP-dc:Rights": "© 2026 R. Quillfeather",
    "XMP-photoshop:Credit": "R. Quillfeather / Fernhollow Mill",
    "XMP-dc:Description": "Ilse Marrow in a grey roll-neck.",
    "XMP-photoshop:Headline": "Wool and copper",
    "XMP-dc:Subject": ["wool", "portrait"],
    "XMP-iptcCore:CreatorWorkEmail": "post@quillfeather.example",
}
STRIPPED = {
    "GPS:GPSLatitude": "51.5",
    "GPS:GPSLatitudeRef": "N",
    "EXIF:SerialNumber": "12345678",
    "XMP-aux:LensSerialNumber": "87654321",
    "XMP-iptcExt:LocationCreatedCity": "Nowhere",
    "XMP-xmpMM:InstanceID": "uuid:1",
    "XMP-mwg-rs:RegionName": "Ilse Marrow",
    "XMP-photoshop:City": "Nowhere",
}
WHEN = ("EXIF:DateTimeOriginal=2026:03:01 10:20:30", "EXIF:OffsetTimeOriginal=+01:00")


def exiftool(path: Path, *asked: str) -> dict[str, Any]:
    command = ["exiftool", "-j", "-G1", *asked, str(path)]
    told = subprocess.run(command, capture_output=True, check=True, text=True).stdout
    first: dict[str, Any] = json.loads(told)[0]
    return first


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("said") / "ilse.jpg"
    rng = np.random.default_rng(5)
    Image.fromarray(rng.integers(100, 160, (150, 120, 3)).astype(np.uint8)).save(path, quality=95)
    pairs = [(name, one) for name, v in SAID.items() for one in (v if isinstance(v, list) else [v])]
    wanted = [f"-{name}={one}" for name, one in (*pairs, *STRIPPED.items())]
    wanted += [f"-{one}" for one in WHEN]
    command = ["exiftool", "-q", "-overwrite_original", *wanted, str(path)]
    subprocess.run(command, check=True, capture_output=True)
    return path


def delivered(
    master: Path, folder: Path, kind: str, words: Words = NO_WORDS
) -> tuple[Path, tuple[str, ...]]:
    shape = Fraction(4, 5)
    post = Destination(
        name="post",
        title="Post",
        shape=ShapeRange(shape, shape),
        delivered=Size(80, 100),
        finish=Finish(format=kind),
    )
    order = Order(crop=Crop(PixelBox(0, 0, 120, 150)), destination=post, words=words)
    (made,) = deliver_all(open_master(master), [order])
    assert made.fault is None
    path = folder / f"a.{FORMATS[kind].ending}"
    path.write_bytes(made.data)
    return path, made.notes


@pytest.mark.parametrize("kind", pixel_formats())
def test_without_words_of_the_job_a_file_still_names_its_maker(
    master: Path, tmp_path: Path, kind: str
) -> None:
    path, _ = delivered(master, tmp_path, kind)
    found = exiftool(path, "-a")
    for name, said in SAID.items():
        assert found[name] == said, name
    assert str(found["XMP-photoshop:DateCreated"]).startswith("2026:03:01 10:20:30+01:00")
    assert found["ExifIFD:DateTimeOriginal"] == "2026:03:01 10:20:30"
    assert found["ExifIFD:OffsetTimeOriginal"] == "+01:00"
    if kind in {"jpeg", "tiff"}:
        assert found["IPTC:DateCreated"] == "2026:03:01"
        assert found["IPTC:TimeCreated"] == "10:20:30+01:00"
        assert found["IPTC:Keywords"] == ["wool", "portrait"]


@pytest.mark.parametrize("kind", pixel_formats())
def test_place_serial_numbers_history_and_faces_stay_behind(
    master: Path, tmp_path: Path, kind: str
) -> None:
    before = json.dumps(exiftool(master, "-a"))
    assert all(value in before for value in ("Nowhere", "12345678", "87654321"))
    path, _ = delivered(master, tmp_path, kind)
    after = json.dumps(exiftool(path, "-a"))
    for secret in ("GPS", "Nowhere", "12345678", "87654321", "uuid:1", "Region"):
        assert secret not in after.replace(str(path), "")


def test_the_job_s_words_go_before_and_the_difference_is_said(master: Path, tmp_path: Path) -> None:
    words = Words(creator="Somebody Else", caption="Another caption.", date_created="2026-03-02")
    path, notes = delivered(master, tmp_path, "jpeg", words)
    found = exiftool(path)
    assert found["XMP-dc:Creator"] == "Somebody Else"
    assert found["XMP-dc:Description"] == "Another caption."
    assert found["XMP-dc:Rights"] == SAID["XMP-dc:Rights"]
    assert any("master's creator is 'R. Quillfeather'" in note for note in notes)
    assert any("master's day is '2026-03-01'" in note for note in notes)


def test_the_same_day_takes_the_master_s_hour() -> None:
    own = OwnWords(captured="2026-03-01T10:20:30+01:00")
    words, said = carried_on(Words(date_created="2026-03-01"), own)
    assert words.date_created == "2026-03-01T10:20:30+01:00"
    assert said == ()


OWN = OwnWords(
    creator=("R. Quillfeather",),
    copyright="© R. Quillfeather",
    credit="R. Quillfeather / Ilse Marrow",
    caption="Ilse Marrow.",
    keywords=("Ilse Marrow", "wool"),
    usage_terms="Ask first.",
    captured="2026-03-01",
)


def filled(text: str, **where: str) -> Words:
    asked = {"version": "ilse", "destination": "post", "recipient": "client"} | where
    return carried_on(words_for(from_text(text.encode()), **asked).words, OWN)[0]


def test_a_withheld_name_does_not_come_in_through_the_master() -> None:
    model = filled('[[credit]]\nrole = "model"\nname = "withheld"\n')
    assert "Ilse" not in repr(model)
    assert model.creator == "R. Quillfeather"
    photographer = filled('[[credit]]\nrole = "photographer"\nname = "withheld"\n')
    assert "Quillfeather" not in repr(photographer)
    assert photographer.date_created == "2026-03-01"


def test_nothing_is_taken_when_the_job_says_so() -> None:
    assert filled("keep_master_words = false").none


def test_keywords_and_instructions_go_to_whom_they_are_for() -> None:
    text = (
        'keywords = ["wool"]\n[licence.client]\ninstructions = "Not before May."\n'
        "[destination.feed]\nkeywords = false\n"
    )
    assert filled(text).keywords == ("wool",)
    assert filled(text).instructions == "Not before May."
    assert filled(text, recipient="magazine").instructions == ""
    assert filled(text, destination="feed").keywords == ()


def test_terms_of_the_job_are_not_mixed_with_the_master_s() -> None:
    assert filled("").usage_terms == "Ask first."
    assert filled('[licence.client]\nweb_statement = "https://a.example"').usage_terms == ""


def test_the_starter_is_filled_from_the_masters(master: Path) -> None:
    own = read_words_of(master)
    words = from_text(starter_text(("ilse", "wool"), (), {"ilse": own, "wool": own}).encode())
    assert [one.name for one in words.credits] == ["R. Quillfeather"]
    assert words.copyright == "© 2026 R. Quillfeather"
    assert words.contact == (("email", "post@quillfeather.example"),)
    assert {one.caption for one in words.told} == {"Ilse Marrow in a grey roll-neck."}


def test_plain_words_stand_for_the_terms_of_the_standards(tmp_path: Path, master: Path) -> None:
    text = 'source_type = "camera"\ndata_mining = "search engines only"\n'
    words = words_for(from_text(text.encode()), version="a", destination="b", recipient="").words
    path, _ = delivered(master, tmp_path, "jpeg", words)
    found = exiftool(path)
    assert str(found["XMP-plus:DataMining"]).endswith("DMI-PROHIBITED-EXCEPTSEARCHENGINEINDEXING")
    assert str(found["XMP-iptcExt:DigitalSourceType"]).endswith("digitalCapture")


@pytest.mark.parametrize(
    "packet",
    [
        b"<broken",
        b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>',
        b"\xff\xfe<\0a\0>\0",
        b"<a/>" + b" " * 9_000_000,
        b"",
    ],
)
def test_words_that_cannot_be_read_are_no_reason_to_refuse_a_picture(packet: bytes) -> None:
    assert read_own_words(xmp=packet, iim=packet).none


def test_a_carried_on_backdrop_is_marked_inside_the_file(tmp_path: Path) -> None:
    path = tmp_path / "plain.png"
    rng = np.random.default_rng(3)
    grey = rng.normal(150, 1.0, (400, 300, 3)).round().clip(0, 255).astype(np.uint8)
    Image.fromarray(grey).save(path)
    wide = Destination(
        name="wide",
        title="Wide",
        shape=ShapeRange(Fraction(1), Fraction(1)),
        delivered=Size(400, 400),
        greatest_enlargement=Fraction(2),
        finish=Finish(fill=Surround.BACKDROP),
    )
    order = Order(crop=Crop(PixelBox(-50, 0, 350, 400)), destination=wide)
    (made,) = deliver_all(open_master(path), [order])
    assert made.fault is None
    out = tmp_path / "wide.jpg"
    out.write_bytes(made.data)
    found = exiftool(out)
    assert str(found["XMP-iptcExt:DigitalSourceType"]).endswith("compositeSynthetic")
    assert "50 px at the left" in found["XMP-photoshop:Instructions"]
