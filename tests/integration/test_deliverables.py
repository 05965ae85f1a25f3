"""Finished files through the real codecs, read back by independent readers."""

from __future__ import annotations

import io
import json
import os
import shutil
import stat
import subprocess
import warnings
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from lxml import etree
from PIL import Image, ImageCms

from cropper.deliverable.delivering import Order, deliver_all
from cropper.deliverable.encoding import encode, encoded
from cropper.deliverable.levels import BELOW
from cropper.deliverable.packets import xmp
from cropper.deliverable.rendering import Darkroom, Rendered, render, render_all
from cropper.deliverable.words import MOST_BYTES, NAME_BYTES, Contributor, Words, cleaned
from cropper.deliverable.writing import write_whole
from cropper.destination.destination import Destination, Finish, Medium, ShapeRange
from cropper.destination.formats import FORMATS, pixel_formats
from cropper.errors import DeliveryError
from cropper.geometry import Crop, PixelBox, Size
from cropper.master.opening import Master, open_master
from cropper.master.own_words import CONTACT
from cropper.master.spaces import SPACES
from tests.reference import floats

WORDS = Words(
    creator="R. Quillfeather",
    credit="Quillfeather / Fernhollow Mill",
    copyright="© 2026 R. Quillfeather",
    headline="Wool & copper <light>",
    caption="Ilse Marrow in a roll-neck — żółć, 羊毛\nSecond line",
    alt_text="A woman in a grey roll-neck looks into the camera",
)
BOX = PixelBox(40, 30, 640, 480)


def destination(width: int, height: int, finish: Finish | None = None, **more: Any) -> Destination:
    shape = Fraction(width, height)
    return Destination(
        name="post",
        title="Post",
        shape=ShapeRange(shape, shape),
        delivered=Size(width, height),
        finish=finish or Finish(),
        **more,
    )


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Master:
    path = tmp_path_factory.mktemp("masters") / "wool.png"
    exif = Image.Exif()
    exif[0x010F], exif[0xA431] = "Maker", "serial 12345"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    Image.fromarray(floats.scene(720, 540)).save(
        path, icc_profile=SPACES["oprgb"].profile, exif=exif
    )
    return open_master(path)


def told(path: Path) -> dict[str, Any]:
    """What exiftool reads, with groups."""
    if shutil.which("exiftool") is None:
        pytest.skip("exiftool is not installed")
    done = subprocess.run(
        ["exiftool", "-j", "-G1", "-n", str(path)], check=True, capture_output=True, text=True
    )
    found: dict[str, Any] = json.loads(done.stdout)[0]
    return found


@pytest.mark.parametrize("kind", pixel_formats())
def test_every_format_carries_words_profile_density_and_nothing_of_the_masters(
    master: Master, tmp_path: Path, kind: str
) -> None:
    finish = Finish(format=kind)
    made = render(master, Crop(BOX), destination(320, 240, finish, ppi=Fraction(300)))
    path = tmp_path / f"a.{FORMATS[kind].ending}"
    write_whole(path, encode(made, finish, WORDS))
    found = told(path)
    assert found["XMP-dc:Creator"] == "R. Quillfeather"
    assert found["XMP-dc:Rights"] == "© 2026 R. Quillfeather"
    assert found["XMP-dc:Description"] == WORDS.caption
    xmp_only = {key.split(":")[1]: value for key, value in found.items() if "XMP-" in key}
    assert xmp_only["Headline"] == "Wool & copper <light>"
    assert xmp_only["Credit"] == WORDS.credit
    assert found["XMP-iptcCore:AltTextAccessibility"] == WORDS.alt_text
    assert found["IFD0:Artist"] == "R. Quillfeather"
    assert found["IFD0:XResolution"] == 300
    assert found["ICC_Profile:ProfileDescription"] == "sRGB IEC 61966-2-1"
    assert found.get("IFD0:Orientation", 1) == 1
    assert not [key for key in found if "GPS" in key or "Serial" in key or "Make" in key]


@pytest.mark.parametrize("kind", ["jpeg", "tiff"])
def test_older_picture_desks_find_iim_in_utf8(master: Master, tmp_path: Path, kind: str) -> None:
    finish = Finish(format=kind)
    path = tmp_path / f"a.{FORMATS[kind].ending}"
    write_whole(path, encode(render(master, Crop(BOX), destination(320, 240)), finish, WORDS))
    found = told(path)
    assert found["IPTC:By-line"] == "R. Quillfeather"
    assert found["IPTC:Caption-Abstract"] == WORDS.caption
    assert len(found["IPTC:Credit"].encode()) <= 32  # IIM 4.2, 2:110


@pytest.mark.parametrize("kind", pixel_formats())
def test_every_format_opens_elsewhere_with_the_same_picture(master: Master, kind: str) -> None:
    finish = Finish(format=kind, quality=95)
    made = render(master, Crop(BOX), destination(320, 240, finish))
    seen = np.asarray(Image.open(io.BytesIO(encode(made, finish, WORDS))).convert("RGB"))
    assert seen.shape == (240, 320, 3)
    assert np.abs(seen.astype(float) - made.pixels).mean() < 4


@pytest.mark.parametrize("kind", ["png", "tiff"])
def test_sixteen_bit_stays_sixteen_bit(master: Master, tmp_path: Path, kind: str) -> None:
    finish = Finish(format=kind, bit_depth=16, profile="oprgb")
    made = render(master, Crop(BOX), destination(320, 240, finish))
    path = tmp_path / f"a.{FORMATS[kind].ending}"
    write_whole(path, encode(made, finish))
    again = open_master(path)
    assert again.bit_depth == 16
    assert again.profile_name == "opRGB IEC 61966-2-5"
    assert np.array_equal(again.pixels(), made.pixels)
    assert len(np.unique(made.pixels)) > 4000


def test_a_tiff_is_compressed_with_a_predictor(master: Master, tmp_path: Path) -> None:
    finish = Finish(format="tiff")
    path = tmp_path / "a.tif"
    write_whole(path, encode(render(master, Crop(BOX), destination(320, 240, finish)), finish))
    found = told(path)
    assert found["IFD0:Compression"] == 5  # LZW, TIFF 6.0 section 13
    assert found["IFD0:Predictor"] == 2  # horizontal differencing, section 14


def test_the_whole_path_is_close_to_the_float_reference(master: Master) -> None:
    finish = Finish(format="png", sharpen=False)  # what keeps every pixel is not dithered
    made = render(master, Crop(BOX), destination(320, 240, finish))
    scene = floats.scene(720, 540)
    linear = (scene / 255) ** (563 / 256)
    reference = floats.resized(linear, (40, 30, 640, 480), (320, 240))
    truth = floats.srgb_encoded(floats.oprgb_to_srgb(reference)) * 255
    within = floats.not_below(reference, scene, (40, 30), 600 / 320, BELOW)
    assert within.mean() > 0.6
    difference = floats.delta_e(made.pixels, truth)[within]
    assert np.percentile(difference, 95) <= 0.55
    assert difference.max() <= 3


def test_one_decode_serves_many_in_the_order_asked(master: Master) -> None:
    sizes = [(300, 225), (240, 180), (120, 90), (60, 45)]
    together = list(render_all(master, [(Crop(BOX), destination(*size)) for size in sizes]))
    for size, made in zip(sizes, together, strict=True):
        alone = render(master, Crop(BOX), destination(*size))
        assert made.size == Size(*size)
        assert np.array_equal(made.pixels, alone.pixels)


def test_one_bad_order_never_stops_the_others(master: Master) -> None:
    orders = [
        Order(crop=Crop(BOX), destination=destination(320, 240)),
        Order(crop=Crop(BOX), destination=destination(3200, 2400)),
        Order(crop=Crop(BOX), destination=destination(160, 120)),
    ]
    done = list(deliver_all(master, orders))
    assert [bool(one.data) for one in done] == [True, False, True]
    assert done[1].fault is not None
    assert "enlarges" in str(done[1].fault)


def test_a_byte_cap_is_kept_with_everything_counted(master: Master) -> None:
    made = render(master, Crop(BOX), destination(600, 450))
    free = len(encode(made, Finish(), WORDS))
    cap = free * 2 // 3
    file = encoded(made, Finish(byte_cap=cap), WORDS)
    assert len(file.data) <= cap
    assert file.quality < 90
    assert any("to stay within" in note for note in file.notes)
    one_more = replace(Finish(), quality=min(file.quality + 4, 90), chroma="4:2:0")
    assert len(encode(made, one_more, WORDS, progressive=True)) > cap * 0.93


def test_a_cap_that_cannot_be_met_decently_offers_fewer_pixels(master: Master) -> None:
    made = render(master, Crop(BOX), destination(600, 450))
    with pytest.raises(DeliveryError, match=r"About \d+ x \d+ px would fit"):
        encode(made, Finish(byte_cap=9000), WORDS)
    with pytest.raises(DeliveryError, match="would fit"):
        encode(made, Finish(format="png", byte_cap=9000), WORDS)


def test_chroma_is_written_as_asked(master: Master) -> None:
    made = render(master, Crop(BOX), destination(320, 240))
    for chroma, layout in (("4:4:4", (1, 1)), ("4:2:0", (2, 2))):
        picture: Any = Image.open(io.BytesIO(encode(made, Finish(chroma=chroma))))
        assert picture.layer[0][1:3] == layout
    assert Image.open(io.BytesIO(encode(made, Finish(), progressive=True))).info["progressive"]


def test_straightening_refuses_corners_outside_the_master(master: Master) -> None:
    with pytest.raises(DeliveryError, match="outside the master"):
        render(master, Crop(PixelBox(0, 0, 720, 540), 2.0), destination(360, 270))
    made = render(master, Crop(PixelBox(120, 90, 600, 450), 2.0), destination(240, 180))
    assert made.size == Size(240, 180)


def test_nothing_is_ever_squeezed(master: Master) -> None:
    with pytest.raises(DeliveryError, match="squeezed"):
        render(master, Crop(PixelBox(0, 0, 500, 500)), destination(320, 240))


def test_a_long_edge_is_never_enlarged_past_the_limit(master: Master) -> None:
    web = Destination(
        name="web",
        title="Web",
        shape=ShapeRange(Fraction(1, 3), Fraction(3)),
        long_edge_px=2560,
        greatest_enlargement=Fraction(3, 2),
    )
    made = render(master, Crop(BOX), web)
    assert made.size == Size(900, 675)
    assert made.enlargement == pytest.approx(1.5)
    assert any("the long edge is 900 px" in note for note in made.notes)
    assert any("enlarged to 150%" in note for note in made.notes)


def test_grey_has_one_channel_and_its_profile(master: Master) -> None:
    finish = Finish(profile="grey")
    made = render(master, Crop(BOX), destination(320, 240, finish))
    picture = Image.open(io.BytesIO(encode(made, finish)))
    assert picture.mode == "L"
    assert picture.info["icc_profile"] == SPACES["grey"].profile


GHOST = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")


@pytest.mark.skipif(not GHOST.exists(), reason="no CMYK profile on this machine")
@pytest.mark.parametrize("kind", ["tiff", "jpeg"])
def test_a_printers_profile_gives_cmyk_that_looks_the_same(master: Master, kind: str) -> None:
    finish = Finish(format=kind, quality=97, profile=str(GHOST), medium=Medium.PRESS_HAND_OFF)
    made = render(master, Crop(BOX), destination(320, 240, finish))
    assert made.pixels.shape == (240, 320, 4)
    picture = Image.open(io.BytesIO(encode(made, finish)))
    assert picture.mode == "CMYK"
    back = ImageCms.profileToProfile(
        picture,
        ImageCms.ImageCmsProfile(io.BytesIO(picture.info["icc_profile"])),
        ImageCms.createProfile("sRGB"),
        outputMode="RGB",
    )
    assert back is not None
    plain = render(master, Crop(BOX), destination(320, 240, Finish(sharpen=False)))
    assert np.abs(np.asarray(back).astype(float) - plain.pixels).mean() < 8


def test_a_cmyk_master_goes_to_the_screen(master: Master, tmp_path: Path) -> None:
    if not GHOST.exists():
        pytest.skip("no CMYK profile on this machine")
    finish = Finish(format="tiff", profile=str(GHOST), medium=Medium.PRESS_HAND_OFF)
    path = tmp_path / "press.tif"
    write_whole(path, encode(render(master, Crop(BOX), destination(600, 450, finish)), finish))
    press = open_master(path)
    assert press.colour_channels == 4
    made = render(
        press, Crop(PixelBox(0, 0, 600, 450)), destination(300, 225, Finish(sharpen=False))
    )
    plain = render(master, Crop(BOX), destination(300, 225, Finish(sharpen=False)))
    assert np.abs(made.pixels.astype(float) - plain.pixels).mean() < 8


def test_an_unknown_profile_or_format_is_refused_in_a_sentence(master: Master) -> None:
    with pytest.raises(DeliveryError, match="no colour space called 'nosuch'"):
        render(master, Crop(BOX), destination(320, 240, Finish(profile="nosuch")))
    with pytest.raises(DeliveryError, match="cannot be read"):
        render(master, Crop(BOX), destination(320, 240, Finish(profile="none.icc")))
    made = render(master, Crop(BOX), destination(320, 240))
    with pytest.raises(DeliveryError, match="no format called 'bmp'"):
        encode(made, Finish(format="bmp"))


def test_colours_outside_the_destination_are_reported(tmp_path: Path) -> None:
    path = tmp_path / "green.png"
    half = np.zeros((200, 400, 3), np.uint8)
    half[:, :200], half[:, 200:] = (0, 250, 0), (128, 128, 128)
    Image.fromarray(half).save(path, icc_profile=SPACES["oprgb"].profile)
    made = render(open_master(path), Crop(PixelBox(0, 0, 400, 200)), destination(200, 100))
    assert made.out_of_gamut == pytest.approx(0.5, abs=0.05)
    assert any("lies outside sRGB" in note for note in made.notes)


def test_any_words_become_well_formed_xmp() -> None:
    nasty = Words(
        creator="\x00\x1b[31m<script>&amp;",
        caption="x" * 10_000,
        headline="&" * 5000,
        alt_text="\ud800 lone",
        copyright="]]>" * 10,
    )
    clean, said = cleaned(nasty)
    tree = etree.fromstring(xmp(clean), etree.XMLParser(resolve_entities=False))
    assert "x" * 10_000 in "".join(tree.itertext())
    assert len(xmp(clean)) <= 65_502
    assert any("headline was cut from 5000" in note for note in said)


def test_every_field_at_its_fullest_fits_every_container(master: Master) -> None:
    long = "\N{CJK UNIFIED IDEOGRAPH-7F8A}" * 20_000
    name = long[:1000]
    texts: dict[str, Any] = dict.fromkeys(MOST_BYTES, long)
    full = Words(
        **texts,
        keywords=(name, *(f"{long[:9]}{at}" for at in range(300))),
        contact=tuple((part, name) for part in CONTACT),
        people=(name,) * 20,
        contributors=(Contributor(name=name, role=name),) * 20,
        licence_until="2027-02-28",
        date_created="2026-03-01T10:20:30+01:00",
        release_status="MR-LMR",
    )
    assert len(name.encode()) > NAME_BYTES
    made = render(master, Crop(BOX), destination(80, 60))
    for kind in pixel_formats():
        file = encoded(made, Finish(format=kind), full)
        assert len(file.notes) == len(MOST_BYTES) + 3
        assert Image.open(io.BytesIO(file.data)).size == (80, 60)


def test_a_file_appears_whole_and_never_over_anothers(tmp_path: Path) -> None:
    path = tmp_path / "new" / "a.jpg"
    write_whole(path, b"one")
    with pytest.raises(DeliveryError, match="there already"):
        write_whole(path, b"two")
    assert path.read_bytes() == b"one"
    write_whole(path, b"three", replace=True)
    assert path.read_bytes() == b"three"
    assert [one.name for one in path.parent.iterdir()] == ["a.jpg"]
    assert stat.S_IMODE(path.stat().st_mode) & 0o044 == 0o044 & ~_umask()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def test_a_full_disk_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("cropper.deliverable.writing.os.fsync", full)
    with pytest.raises(DeliveryError, match="No space left") as fault:
        write_whole(tmp_path / "a.jpg", b"one")
    assert "Make room" in fault.value.way_out
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_a_file_says_so(tmp_path: Path) -> None:
    (tmp_path / "taken").write_bytes(b"")
    with pytest.raises(DeliveryError, match="could not be written"):
        write_whole(tmp_path / "taken" / "a.jpg", b"one")


def test_a_master_is_never_changed(master: Master) -> None:
    before = master.path.read_bytes()
    room = Darkroom(master)
    made: Rendered = room.render(Crop(BOX), destination(320, 240))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        encode(made, Finish(), WORDS)
    assert master.path.read_bytes() == before
