"""Masters of every kind, sound and unsound, through the real decoders."""

from __future__ import annotations

import hashlib
import io
import os
import struct
import time
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import pyvips
import tifffile
from PIL import Image, ImageCms

from cropper.errors import MasterError
from cropper.geometry import Size
from cropper.master import decoding
from cropper.master.opening import master_digest, open_master
from cropper.master.spaces import SPACES

Write = Callable[[Path], Any]
SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def picture(width: int = 96, height: int = 64) -> npt.NDArray[np.uint8]:
    """A ramp with a red corner at the top left, so that turning shows."""
    y, x = np.mgrid[0:height, 0:width]
    codes = np.stack([x * 2, y * 3, 255 - x * 2], axis=2).astype(np.uint8)
    codes[:16, :16] = (220, 20, 20)
    return np.asarray(codes, np.uint8)


def close(one: npt.NDArray[Any], other: npt.NDArray[Any], most: float = 4) -> bool:
    """Mean difference in codes."""
    return bool(np.abs(one.astype(float) - other.astype(float)).mean() <= most)


def vips_written(path: Path, codes: npt.NDArray[Any], **options: Any) -> None:
    image = pyvips.Image.new_from_array(
        np.ascontiguousarray(codes), interpretation="rgb16" if codes.dtype == np.uint16 else "srgb"
    )
    image.write_to_file(str(path), **options)


KINDS: dict[str, Write] = {
    "jpeg.jpg": lambda path: Image.fromarray(picture()).save(path, quality=95, subsampling=0),
    "progressive.jpg": lambda path: Image.fromarray(picture()).save(
        path, quality=95, subsampling=0, progressive=True
    ),
    "plain.png": lambda path: Image.fromarray(picture()).save(path),
    "lossless.webp": lambda path: Image.fromarray(picture()).save(path, lossless=True),
    "shot.avif": lambda path: Image.fromarray(picture()).save(path, quality=95),
    "striped.tif": lambda path: vips_written(path, picture(), compression="none"),
    "lzw.tif": lambda path: vips_written(path, picture(), compression="lzw"),
    "deflate.tif": lambda path: vips_written(
        path, picture(), compression="deflate", predictor="horizontal"
    ),
    "tiled.tif": lambda path: vips_written(
        path, picture(), compression="lzw", tile=True, tile_width=32, tile_height=32
    ),
    "deep.tif": lambda path: vips_written(path, picture().astype(np.uint16) * 257),
    "deep.png": lambda path: vips_written(path, picture().astype(np.uint16) * 257),
    "big-endian.tif": lambda path: tifffile.imwrite(
        path, picture(), byteorder=">", photometric="rgb"
    ),
}


@pytest.mark.parametrize("name", KINDS)
def test_every_kind_shows_the_same_picture(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    KINDS[name](path)
    before = path.read_bytes()
    master = open_master(path)
    assert master.size == Size(96, 64)
    assert master.bit_depth == (16 if name.startswith("deep") else 8)
    assert close(master.srgb8(), picture())
    assert master.sha256 == hashlib.sha256(before).hexdigest() == master_digest(path)
    declares = name == "shot.avif"  # by code points, which its writer always puts in
    assert any("assumed sRGB" in note for note in master.notes) is not declares
    assert path.read_bytes() == before


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_comes_out_upright(tmp_path: Path, orientation: int) -> None:
    upright = Image.fromarray(picture())
    stored = {  # what a camera held that way would have stored
        1: upright,
        2: upright.transpose(Image.Transpose.FLIP_LEFT_RIGHT),
        3: upright.transpose(Image.Transpose.ROTATE_180),
        4: upright.transpose(Image.Transpose.FLIP_TOP_BOTTOM),
        5: upright.transpose(Image.Transpose.TRANSPOSE),
        6: upright.transpose(Image.Transpose.ROTATE_90),
        7: upright.transpose(Image.Transpose.TRANSVERSE),
        8: upright.transpose(Image.Transpose.ROTATE_270),
    }[orientation]
    path = tmp_path / "turned.png"
    exif = Image.Exif()
    exif[0x0112] = orientation
    stored.save(path, exif=exif)
    master = open_master(path)
    assert master.orientation == orientation
    assert master.size == Size(96, 64)
    assert np.array_equal(master.srgb8(), picture())


def test_a_wide_gamut_is_seen_in_srgb_as_littlecms_sees_it(tmp_path: Path) -> None:
    path = tmp_path / "wide.png"
    wide = SPACES["oprgb"].profile
    Image.fromarray(picture()).save(path, icc_profile=wide)
    expected = ImageCms.profileToProfile(
        Image.fromarray(picture()),
        ImageCms.ImageCmsProfile(io.BytesIO(wide)),
        ImageCms.createProfile("sRGB"),
    )
    assert expected is not None
    master = open_master(path)
    assert master.has_profile
    assert master.profile_name == "opRGB IEC 61966-2-5"
    assert close(master.srgb8(), np.asarray(expected), most=1)


def test_grey_alpha_and_cmyk_become_rgb(tmp_path: Path) -> None:
    grey, alpha, cmyk = tmp_path / "grey.png", tmp_path / "alpha.png", tmp_path / "cmyk.jpg"
    Image.fromarray(picture()).convert("L").save(grey)
    see_through = Image.fromarray(picture()).convert("RGBA")
    see_through.putalpha(0)
    see_through.save(alpha)
    Image.new("CMYK", (40, 30), (0, 0, 0, 0)).save(cmyk)
    assert open_master(grey).srgb8().shape == (64, 96, 3)
    laid = open_master(alpha)
    assert laid.srgb8().min() == 255
    assert "transparent parts were laid on white" in laid.notes
    paper = open_master(cmyk)
    assert paper.srgb8().min() >= 250
    assert any("assumed a generic press CMYK" in note for note in paper.notes)


def test_the_long_side_is_reduced_and_never_enlarged(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    Image.fromarray(picture()).save(path)
    assert open_master(path).srgb8(48).shape == (32, 48, 3)
    assert open_master(path).srgb8(480).shape == (64, 96, 3)


@pytest.mark.parametrize(
    ("profile", "said"),
    [
        (b"", "no profile"),
        (b"nonsense" * 40, "broken"),
        (SRGB[:200], "cut short"),
        (SPACES["grey"].profile, "is for GRAY"),
    ],
)
def test_a_profile_that_cannot_be_right_is_set_aside_and_said(
    tmp_path: Path, profile: bytes, said: str
) -> None:
    path = tmp_path / "odd.tif"
    Image.fromarray(picture()).save(path, icc_profile=profile)
    master = open_master(path)
    assert not master.has_profile
    assert any(said in note and "assumed sRGB" in note for note in master.notes)
    assert np.array_equal(master.srgb8(), picture())


def jpeg_bytes() -> bytes:
    file = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 256, (200, 300, 3)).astype(np.uint8)
    Image.fromarray(noise).save(file, "JPEG", quality=90)
    return file.getvalue()


def bomb() -> bytes:
    """A PNG that claims 30000 x 30000 px."""
    header = struct.pack(">IIBBBBB", 30000, 30000, 8, 2, 0, 0, 0)
    chunks = b""
    for name, body in ((b"IHDR", header), (b"IDAT", zlib.compress(bytes(1000))), (b"IEND", b"")):
        chunks += struct.pack(">I", len(body)) + name + body
        chunks += struct.pack(">I", zlib.crc32(name + body))
    return b"\x89PNG\r\n\x1a\n" + chunks


HALF = len(jpeg_bytes()) // 2
UNSOUND = {
    "empty": (b"", "empty"),
    "words": (b"not a picture at all", "not a picture"),
    "cut": (jpeg_bytes()[:HALF], "damaged or cut short"),
    "garbage": (jpeg_bytes()[:HALF] + b"\x5a" * 900 + jpeg_bytes()[HALF + 900 :], "damaged"),
    "zeroed": (jpeg_bytes()[:HALF] + bytes(2000) + jpeg_bytes()[HALF + 2000 :], "damaged"),
    "bomb": (bomb(), "900 megapixels"),
    "header only": (b"\x89PNG\r\n\x1a\n", "damaged"),
}


@pytest.mark.parametrize("name", UNSOUND)
def test_an_unsound_file_is_refused_in_a_sentence(tmp_path: Path, name: str) -> None:
    content, said = UNSOUND[name]
    path = tmp_path / f"{name}.jpg"
    path.write_bytes(content)
    with pytest.raises(MasterError, match=said) as refused:
        open_master(path)
    assert path.name in str(refused.value)
    assert refused.value.way_out


def test_a_cut_png_or_tiff_is_refused_too(tmp_path: Path) -> None:
    for name in ("plain.png", "lzw.tif", "deep.tif"):
        path = tmp_path / name
        KINDS[name](path)
        # libvips' TIFF writer puts the directory first or last; either way a third is missing
        path.write_bytes(path.read_bytes()[: path.stat().st_size * 2 // 3])
        with pytest.raises(MasterError, match="damaged"):
            open_master(path)


def test_channels_and_samples_nobody_can_mean_are_refused(tmp_path: Path) -> None:
    seven, floating = tmp_path / "seven.tif", tmp_path / "float.tif"
    pyvips.Image.black(20, 20, bands=7).tiffsave(str(seven))
    tifffile.imwrite(floating, np.zeros((20, 20, 3), np.float32), photometric="rgb")
    with pytest.raises(MasterError, match="7 channels"):
        open_master(seven)
    with pytest.raises(MasterError, match="neither 8 nor 16 bit"):
        open_master(floating)


def test_a_folder_and_a_missing_file_say_so(tmp_path: Path) -> None:
    with pytest.raises(MasterError, match="folder"):
        open_master(tmp_path)
    with pytest.raises(MasterError, match="no such file"):
        open_master(tmp_path / "none.jpg")


def test_the_size_limit_is_settable(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    Image.fromarray(picture()).save(path)
    with pytest.raises(MasterError, match="megapixels"):
        open_master(path, most_megapixels=0.001)


def test_a_file_written_over_never_shows_old_pixels(tmp_path: Path) -> None:
    path, other = tmp_path / "a.png", tmp_path / "b.png"
    Image.new("RGB", (20, 20), (255, 0, 0)).save(path)
    Image.new("RGB", (20, 20), (0, 0, 255)).save(other)
    first = open_master(path)
    Image.new("RGB", (20, 20), (0, 255, 0)).save(path)
    assert tuple(open_master(path).srgb8()[0, 0]) == (0, 255, 0)
    open_master(other)
    with pytest.raises(MasterError, match="changed after it was opened"):
        first.srgb8()


def test_a_file_saved_while_it_is_read_is_refused_even_if_its_time_and_size_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.tif"
    Image.new("RGB", (20, 20), (255, 0, 0)).save(path)
    before, decode = path.stat(), decoding.decoded
    time.sleep(0.02)  # the system's clock for files ticks some hundred times a second

    def decoded(near: Path, orientation: int, channels: int) -> decoding.Pixels:
        Image.new("RGB", (20, 20), (0, 255, 0)).save(path)
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
        assert path.stat().st_size == before.st_size
        return decode(near, orientation, channels)

    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(decoding, "decoded", decoded)
        with pytest.raises(MasterError, match="changed while it was read"):
            open_master(path)
    assert tuple(open_master(path).srgb8()[0, 0]) == (0, 255, 0)


def test_a_provenance_manifest_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    jpeg = jpeg_bytes()
    box = (
        b"JP\0\1\0\0\0\1"
        + struct.pack(">I", 40)
        + b"jumb"
        + struct.pack(">I", 32)
        + b"jumdc2pa"
        + bytes(24)
    )
    path.write_bytes(jpeg[:2] + b"\xff\xeb" + struct.pack(">H", len(box) + 2) + box + jpeg[2:])
    assert any("provenance manifest" in note for note in open_master(path).notes)


def test_names_with_brackets_spaces_and_accents_open(tmp_path: Path) -> None:
    path = tmp_path / "Ünna [page=2] (final).png"
    Image.fromarray(picture()).save(path)
    assert open_master(path).name == "Ünna [page=2] (final)"


def test_heif_opens_with_its_profile() -> None:
    pi_heif = pytest.importorskip("pi_heif")
    assert "x265" not in str(pi_heif.libheif_info())  # no GPL encoder rides along
