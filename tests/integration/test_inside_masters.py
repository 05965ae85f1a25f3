"""Masters that hold more than one picture, or say their colours without a profile.

Colours are checked against colour-science (an independent library); tags are written by tifffile,
Pillow and by hand from the standards named in ``cropper.master``.
"""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import colour
import numpy as np
import numpy.typing as npt
import pytest
import tifffile
from PIL import Image

from cropper.deliverable.gamut import delta_e, lab
from cropper.errors import MasterError
from cropper.geometry import Size
from cropper.master.opening import Master, open_master
from cropper.master.spaces import SPACES, srgb_linear

PATCHES = np.array(
    [(200, 150, 130), (90, 60, 50), (40, 120, 60), (128, 128, 128), (230, 225, 220), (60, 70, 150)],
    np.uint8,
)
"""Skin, hair, cloth, grey, white and blue: inside sRGB in every space used here."""


def patches() -> npt.NDArray[np.uint8]:
    return np.repeat(PATCHES[np.newaxis], 8, axis=0).repeat(8, axis=1)


def picture(width: int, height: int) -> npt.NDArray[np.uint8]:
    return np.full((height, width, 3), 120, np.uint8)


# --- pages


def test_a_thumbnail_before_the_picture_is_not_taken_for_it(tmp_path: Path) -> None:
    path = tmp_path / "thumbnail-first.tif"
    with tifffile.TiffWriter(path) as file:
        file.write(picture(60, 40), photometric="rgb", subfiletype=1)
        file.write(picture(600, 400), photometric="rgb")
    master = open_master(path)
    assert master.size == Size(600, 400)
    assert "1 reduced copy inside the file not used" in master.notes


def test_an_unmarked_small_page_loses_against_the_largest(tmp_path: Path) -> None:
    path = tmp_path / "small-first.tif"
    with tifffile.TiffWriter(path) as file:
        file.write(picture(60, 40), photometric="rgb")
        file.write(picture(600, 400), photometric="rgb")
    master = open_master(path)
    assert master.size == Size(600, 400)
    assert master.pixels().shape == (400, 600, 3)
    assert any("page 2 of its 2 pages" in note for note in master.notes)


def test_the_first_of_equal_pages_is_taken_and_said(tmp_path: Path) -> None:
    path = tmp_path / "equal.tif"
    with tifffile.TiffWriter(path) as file:
        for grey in (40, 200):
            file.write(np.full((40, 60, 3), grey, np.uint8), photometric="rgb")
    master = open_master(path)
    assert master.pixels().max() == 40
    assert any("page 1 of its 2 pages" in note for note in master.notes)


def test_a_file_of_reduced_copies_only_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "copies.tif"
    tifffile.imwrite(path, picture(60, 40), photometric="rgb", subfiletype=1)
    with pytest.raises(MasterError, match="only reduced copies"):
        open_master(path)


@pytest.mark.parametrize(
    "tag", [(50706, "B", 4, (1, 6, 0, 0), True), (33422, "B", 4, (0, 1, 1, 2), True)]
)
def test_a_raw_file_is_refused_by_its_tags(tmp_path: Path, tag: Any) -> None:
    path = tmp_path / "raw.tif"  # whatever its name
    tifffile.imwrite(path, picture(1024, 1280), photometric="rgb", extratags=[tag])
    with pytest.raises(MasterError, match="raw file") as refused:
        open_master(path)
    assert "Develop it first" in str(refused.value.way_out)


def test_a_raw_file_is_refused_by_the_directory_below_its_preview(tmp_path: Path) -> None:
    path = tmp_path / "raw.dng"
    with tifffile.TiffWriter(path) as file:
        file.write(picture(102, 128), photometric="rgb", subifds=1)
        file.write(np.zeros((400, 300), np.uint16), photometric=32803, subfiletype=0)
    with pytest.raises(MasterError, match="raw file"):
        open_master(path)


@pytest.mark.parametrize(
    ("beginning", "said"),
    [
        (b"8BPS\0\1" + bytes(30), "a file of layers"),
        (b"\xff\x0a" + bytes(40), "JPEG XL"),
        (b"\0\0\0\x0cJXL \r\n\x87\n" + bytes(30), "JPEG XL"),
        (b"\0\0\0\x18ftypcrx " + bytes(30), "raw file"),
        (b"II*\0\x10\0\0\0CR\2\0" + bytes(30), "raw file"),
    ],
)
def test_known_kinds_that_are_not_read_say_what_to_export(
    tmp_path: Path, beginning: bytes, said: str
) -> None:
    path = tmp_path / "master"
    path.write_bytes(beginning)
    with pytest.raises(MasterError, match=said) as refused:
        open_master(path)
    assert "xport it" in str(refused.value.way_out)


def test_a_jpeg_of_12_bits_says_what_to_export(tmp_path: Path) -> None:
    path = tmp_path / "deep.jpg"
    Image.fromarray(picture(60, 40)).save(path)
    data = bytearray(path.read_bytes())
    data[data.index(b"\xff\xc0") + 4] = 12  # T.81 B.2.2: sample precision
    path.write_bytes(bytes(data))
    with pytest.raises(MasterError, match="12 bits") as refused:
        open_master(path)
    assert "16-bit TIFF" in str(refused.value.way_out)


# --- colours


def png(codes: npt.NDArray[Any], *chunks: tuple[bytes, bytes]) -> bytes:
    file = io.BytesIO()
    Image.fromarray(codes).save(file, "PNG")
    whole = file.getvalue()
    added = b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        for name, body in chunks
    )
    return whole[:33] + added + whole[33:]  # behind the signature and IHDR


def opened(path: Path, data: bytes) -> Master:
    path.write_bytes(data)
    return open_master(path)


def off(master: Master, space: str, curve: str = "sRGB") -> float:
    """Largest CIEDE2000 of the patches as seen in sRGB, against colour-science."""
    codes = PATCHES / 255
    linear = colour.cctf_decoding(codes, function=curve) if curve != "gamma" else codes**2.2
    wanted = colour.RGB_to_RGB(
        linear, space, "sRGB", chromatic_adaptation_transform="Bradford"
    ).clip(0, 1)
    seen = srgb_linear(master.srgb8()[4, 4::8] / 255)
    to_xyz = SPACES["srgb"].matrix.T
    return float(delta_e(lab(seen @ to_xyz), lab(wanted @ to_xyz)).max())


def test_a_png_s_code_points_are_honoured(tmp_path: Path) -> None:
    master = opened(tmp_path / "p3.png", png(patches(), (b"cICP", bytes([12, 13, 0, 1]))))
    assert off(master, "Display P3") <= 0.8  # 8-bit codes on both sides
    assert any("P3 primaries" in note for note in master.notes)


def test_a_png_s_code_points_go_before_its_profile(tmp_path: Path) -> None:
    profile = (b"iCCP", b"icc\0\0" + zlib.compress(SPACES["srgb"].profile))
    chunks = ((b"cICP", bytes([12, 13, 0, 1])), profile)
    assert off(opened(tmp_path / "p3.png", png(patches(), *chunks)), "Display P3") <= 0.8


def test_a_png_s_gamma_and_primaries_are_honoured(tmp_path: Path) -> None:
    points = (0.3127, 0.3290, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06)
    chrm = struct.pack(">8I", *(round(value * 1e5) for value in points))
    chunks = ((b"gAMA", struct.pack(">I", 45455)), (b"cHRM", chrm))
    gamma = ((b"gAMA", struct.pack(">I", round(1e5 / 2.2) + 20)), (b"cHRM", chrm))
    assert off(opened(tmp_path / "a.png", png(patches(), *gamma)), "Adobe RGB (1998)", "gamma") <= 1
    assert opened(tmp_path / "b.png", png(patches(), *chunks)).icc is not None


def test_a_png_that_says_srgb_is_not_told_of_as_assumed(tmp_path: Path) -> None:
    for at, chunk in enumerate(((b"sRGB", b"\0"), (b"gAMA", struct.pack(">I", 45455)))):
        master = opened(tmp_path / f"{at}.png", png(patches(), chunk))
        assert master.notes == ()
        assert np.array_equal(master.srgb8(), patches())


def test_a_grey_png_s_gamma_is_honoured(tmp_path: Path) -> None:
    grey = np.full((8, 8), 128, np.uint8)
    master = opened(tmp_path / "grey.png", png(grey, (b"gAMA", struct.pack(">I", 100_000))))
    assert int(master.srgb8()[0, 0, 0]) == pytest.approx(188, abs=1)  # linear .5 in sRGB


def avif(primaries: int, transfer: int) -> bytes:
    file = io.BytesIO()
    Image.fromarray(patches()).save(file, "AVIF", quality=100, subsampling="4:4:4")
    whole = file.getvalue()
    at = whole.index(b"colrnclx") + 8
    return whole[:at] + struct.pack(">HH", primaries, transfer) + whole[at + 4 :]


def test_an_avif_s_colour_box_is_honoured(tmp_path: Path) -> None:
    master = opened(tmp_path / "p3.avif", avif(12, 13))
    assert off(master, "Display P3") <= 2  # YCbCr in 8 bits between
    plain = opened(tmp_path / "srgb.avif", avif(1, 13))
    assert off(plain, "Display P3") >= 3  # what not honouring it would give
    assert any("P3 primaries" in note for note in master.notes)


@pytest.mark.parametrize(("transfer", "name"), [(16, "PQ"), (18, "HLG")])
def test_high_dynamic_range_is_refused_with_a_way_out(
    tmp_path: Path, transfer: int, name: str
) -> None:
    for path, data in (
        (tmp_path / "hdr.avif", avif(9, transfer)),
        (tmp_path / "hdr.png", png(patches(), (b"cICP", bytes([9, transfer, 0, 1])))),
    ):
        with pytest.raises(MasterError, match=rf"high dynamic range \({name}\)") as refused:
            opened(path, data)
        assert "standard range" in str(refused.value.way_out)


def jpeg_of_uncalibrated(index: str | None) -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = 65535
    if index:
        exif.get_ifd(0x8769)[0xA005] = {1: index}
    file = io.BytesIO()
    Image.fromarray(patches()).save(file, "JPEG", quality=100, subsampling=0, exif=exif)
    return file.getvalue()


def test_uncalibrated_colours_with_their_code_are_the_optional_space(tmp_path: Path) -> None:
    master = opened(tmp_path / "a.jpg", jpeg_of_uncalibrated("R03"))
    assert off(master, "Adobe RGB (1998)", "gamma") <= 1.5
    assert any("optional colour space" in note for note in master.notes)


def test_uncalibrated_colours_without_a_code_are_said(tmp_path: Path) -> None:
    master = opened(tmp_path / "a.jpg", jpeg_of_uncalibrated(None))
    assert any("uncalibrated" in note and "assumed sRGB" in note for note in master.notes)


# --- second pictures


def test_a_gain_map_that_is_left_aside_is_said(tmp_path: Path) -> None:
    jpeg = jpeg_of_uncalibrated(None)
    body = b"http://ns.adobe.com/xap/1.0/\0<x xmlns:m='http://ns.adobe.com/hdr-gain-map/1.0/'/>"
    segment = b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body
    master = opened(tmp_path / "a.jpg", jpeg[:2] + segment + jpeg[2:])
    assert any("gain map" in note for note in master.notes)


def test_a_second_picture_that_is_left_aside_is_said(tmp_path: Path) -> None:
    file = io.BytesIO()
    first, second = Image.fromarray(patches()), Image.fromarray(patches())
    first.save(file, "MPO", save_all=True, append_images=[second])
    master = opened(tmp_path / "a.jpg", file.getvalue())
    assert "a second picture inside the file was not used" in master.notes
