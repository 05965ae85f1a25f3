"""Masters of every odd kind: the right pixels, by a decoder that is not ours, or a clear sentence.

Outside values: tifffile, Pillow, ImageMagick (``convert``) and littleCMS by way of Pillow. The
pictures are invented ramps with a red corner, so that turning and swapped planes show.
"""

from __future__ import annotations

import io
import shutil
import struct
import subprocess
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
from cropper.master.opening import Master, open_master
from cropper.master.spaces import SPACES

Codes = npt.NDArray[Any]
Write = Callable[[Path], object]


def ramp(width: int = 96, height: int = 64) -> npt.NDArray[np.uint8]:
    y, x = np.mgrid[0:height, 0:width]
    codes = np.stack([x * 2, y * 3, 255 - x * 2], axis=2).astype(np.uint8)
    codes[:16, :16] = (220, 20, 20)
    return np.asarray(codes, np.uint8)


GREY = np.asarray(Image.fromarray(ramp()).convert("L"))
DEEP = ramp().astype(np.uint16) * 257
ALPHA = np.dstack((ramp(), np.tile(np.arange(96, dtype=np.uint8) * 2, (64, 1))))


def opened(tmp_path: Path, name: str, write: Write) -> Master:
    path = tmp_path / name
    write(path)
    return open_master(path)


def near(one: Codes, other: Codes, most: float) -> bool:
    """Mean difference in codes, and nothing out of place."""
    return one.shape == other.shape and bool(np.abs(one.astype(float) - other).mean() <= most)


def by_imagemagick(path: Path) -> Codes:
    """The first picture of a file as 8-bit sRGB."""
    program = shutil.which("convert")
    if program is None:
        pytest.skip("ImageMagick is not installed")
    done = subprocess.run(
        [program, f"{path}[0]", "-colorspace", "sRGB", "-depth", "8", "ppm:-"],
        check=True,
        capture_output=True,
    )
    return np.asarray(Image.open(io.BytesIO(done.stdout)).convert("RGB"))


def tiff(codes: Codes, **options: Any) -> Write:
    options.setdefault("photometric", "rgb" if codes.ndim == 3 else "minisblack")
    return lambda path: tifffile.imwrite(path, codes, **options)


def vips_tiff(codes: Codes, **options: Any) -> Write:
    kind = "rgb16" if codes.dtype == np.uint16 else "srgb"
    image = pyvips.Image.new_from_array(np.ascontiguousarray(codes), interpretation=kind)
    return lambda path: image.tiffsave(str(path), **options)


def pillow(picture: Image.Image, **options: Any) -> Write:
    return lambda path: picture.save(path, **options)


RGB = Image.fromarray(ramp())
SOUND: dict[str, Write] = {
    "planar.tif": tiff(np.moveaxis(ramp(), 2, 0), planarconfig="separate"),
    "planar-deep.tif": tiff(np.moveaxis(DEEP, 2, 0), planarconfig="separate"),
    "bigtiff.tif": tiff(ramp(), bigtiff=True),
    "big-endian-deep.tif": tiff(DEEP, byteorder=">"),
    "tiled.tif": tiff(ramp(), tile=(32, 32)),
    "tiled-deep-deflate.tif": vips_tiff(
        DEEP, tile=True, compression="deflate", predictor="horizontal"
    ),
    "lzw-predicted.tif": vips_tiff(ramp(), compression="lzw", predictor="horizontal"),
    "lzw-deep-predicted.tif": vips_tiff(DEEP, compression="lzw", predictor="horizontal"),
    "packbits.tif": vips_tiff(ramp(), compression="packbits"),
    "jpeg-in.tif": vips_tiff(ramp(), compression="jpeg", Q=98),
    "palette.tif": pillow(RGB.quantize(256)),
    "palette.png": pillow(RGB.quantize(256)),
    "interlaced.png": lambda path: pyvips.Image.new_from_array(ramp()).pngsave(
        str(path), interlace=True
    ),
    "deep.png": lambda path: pyvips.Image.new_from_array(DEEP, interpretation="rgb16").pngsave(
        str(path)
    ),
    "progressive.jpg": pillow(RGB, quality=97, subsampling=0, progressive=True),
    "halved.jpg": pillow(RGB, quality=97, subsampling=2),
    "lossy.webp": pillow(RGB, quality=97),
    "lossless.webp": pillow(RGB, lossless=True),
    "shot.avif": pillow(RGB, quality=97),
}
SLACK = {"palette.tif": 9, "palette.png": 9, "lossy.webp": 5, "halved.jpg": 4}


@pytest.mark.parametrize("name", SOUND)
def test_a_sound_file_of_every_kind_shows_its_picture(tmp_path: Path, name: str) -> None:
    master = opened(tmp_path, name, SOUND[name])
    assert master.size == Size(96, 64)
    assert near(master.srgb8(), ramp(), SLACK.get(name, 3))
    assert master.bit_depth == (16 if "deep" in name else 8)
    if not name.endswith(("avif", "webp")):
        assert near(master.srgb8(), by_imagemagick(master.path), 3)


@pytest.mark.parametrize("name", ["grey.tif", "grey.png", "grey.jpg", "grey-deep.tif"])
def test_grey_stays_grey(tmp_path: Path, name: str) -> None:
    write = {
        "grey.tif": tiff(GREY),
        "grey.png": pillow(Image.fromarray(GREY)),
        "grey.jpg": pillow(Image.fromarray(GREY), quality=98),
        "grey-deep.tif": tiff(GREY.astype(np.uint16) * 257),
    }[name]
    master = opened(tmp_path, name, write)
    assert master.colour_channels == 1
    assert near(master.srgb8(), np.repeat(GREY[:, :, np.newaxis], 3, axis=2), 1)


def test_white_is_zero_is_turned_right(tmp_path: Path) -> None:
    master = opened(tmp_path, "a.tif", tiff(255 - GREY, photometric="miniswhite"))
    assert near(master.srgb8(), np.repeat(GREY[:, :, np.newaxis], 3, axis=2), 1)


@pytest.mark.parametrize("name", ["line.tif", "line.png"])
def test_one_bit_a_pixel_opens_or_says_why(tmp_path: Path, name: str) -> None:
    lines = Image.fromarray(np.where(GREY > 128, 255, 0).astype(np.uint8)).convert("1")
    master = opened(tmp_path, name, pillow(lines))
    assert near(master.srgb8()[:, :, 0], np.asarray(lines.convert("L")), 0.5)


ON_WHITE = ramp() * (ALPHA[:, :, 3:] / 255) + 255 * (1 - ALPHA[:, :, 3:] / 255)
TRANSPARENT: dict[str, Write] = {
    "straight.png": pillow(Image.fromarray(ALPHA)),
    "straight.webp": pillow(Image.fromarray(ALPHA), lossless=True, exact=True),
    "straight.tif": tiff(ALPHA, extrasamples=["unassalpha"]),
    "premultiplied.tif": tiff(
        np.dstack((np.rint(ramp() * (ALPHA[:, :, 3:] / 255)).astype(np.uint8), ALPHA[:, :, 3])),
        extrasamples=["assocalpha"],
    ),
    "deep.png": lambda path: pyvips.Image.new_from_array(
        ALPHA.astype(np.uint16) * 257, interpretation="rgb16"
    ).pngsave(str(path)),
}


@pytest.mark.parametrize("name", TRANSPARENT)
def test_what_is_transparent_is_laid_on_white(tmp_path: Path, name: str) -> None:
    # Porter and Duff 1984: colour x alpha + white x (1 - alpha), in codes
    master = opened(tmp_path, name, TRANSPARENT[name])
    assert "transparent parts were laid on white" in master.notes
    assert near(master.srgb8(), ON_WHITE, 1)


def test_grey_with_alpha_is_laid_on_white(tmp_path: Path) -> None:
    both = Image.merge("LA", (Image.fromarray(GREY), Image.fromarray(ALPHA[:, :, 3])))
    master = opened(tmp_path, "a.png", pillow(both))
    alpha = ALPHA[:, :, 3] / 255
    assert near(master.srgb8()[:, :, 1], GREY * alpha + 255 * (1 - alpha), 1)


PRESS = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")


@pytest.mark.skipif(not PRESS.exists(), reason="no CMYK profile on this machine")
@pytest.mark.parametrize("name", ["inverted.jpg", "ink.tif"])
def test_four_inks_are_seen_as_littlecms_sees_them(tmp_path: Path, name: str) -> None:
    # Pillow writes its CMYK JPEG inverted, with the marker that says so
    srgb = ImageCms.createProfile("sRGB")
    inks: Any = ImageCms.profileToProfile(RGB, srgb, str(PRESS), outputMode="CMYK")
    more = {"quality": 98, "subsampling": 0} if name.endswith("jpg") else {}
    master = opened(tmp_path, name, pillow(inks, icc_profile=PRESS.read_bytes(), **more))
    back: Any = ImageCms.profileToProfile(
        inks,
        str(PRESS),
        srgb,
        outputMode="RGB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    assert master.colour_channels == 4
    assert near(master.srgb8(), np.asarray(back), 3)


STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


@pytest.mark.parametrize("ending", ["jpg", "tif", "png", "webp", "avif"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_all_eight_orientations_come_out_upright(
    tmp_path: Path, ending: str, orientation: int
) -> None:
    how = STORED[orientation]
    stored = RGB if how is None else RGB.transpose(how)
    exif = Image.Exif()
    exif[0x0112] = orientation
    more: dict[str, Any] = {"exif": exif}
    if ending == "tif":
        more = {"tiffinfo": {274: orientation}}
    elif ending == "webp":
        more["lossless"] = True
    elif ending != "png":
        more |= {"quality": 98, "subsampling": "4:4:4"}
    master = opened(tmp_path, f"a.{ending}", pillow(stored, **more))
    assert master.size == Size(96, 64)
    assert near(master.srgb8(), ramp(), 3)


@pytest.mark.skipif(shutil.which("heif-enc") is None, reason="no HEIF encoder on this machine")
def test_a_real_heic_opens(tmp_path: Path) -> None:
    RGB.save(tmp_path / "a.png")
    subprocess.run(
        [
            "heif-enc",
            "-q",
            "95",
            "-p",
            "chroma=444",
            "-o",
            f"{tmp_path}/a.heic",
            f"{tmp_path}/a.png",
        ],
        check=True,
        capture_output=True,
    )
    master = open_master(tmp_path / "a.heic")
    assert master.format == "heif"
    assert near(master.srgb8(), ramp(), 6)
    cut = tmp_path / "cut.heic"
    whole = (tmp_path / "a.heic").read_bytes()
    cut.write_bytes(whole[: len(whole) * 2 // 3])
    with pytest.raises(MasterError, match="damaged"):
        open_master(cut)


def test_of_several_pages_the_first_is_used_and_said(tmp_path: Path) -> None:
    other = Image.new("RGB", (96, 64), (0, 0, 255))
    for name, more in (("a.tif", {}), ("a.webp", {"lossless": True}), ("a.png", {})):
        master = opened(tmp_path, name, pillow(RGB, save_all=True, append_images=[other], **more))
        assert near(master.srgb8(), ramp(), 1)
        if not name.endswith("png"):  # an animated PNG is a still one to readers that know no other
            assert any("of its 2 pages is used" in note for note in master.notes)


@pytest.mark.parametrize(("width", "height"), [(1, 1), (1, 30_000), (30_000, 1), (2, 3)])
def test_the_smallest_and_the_thinnest_open(tmp_path: Path, width: int, height: int) -> None:
    thin = Image.new("RGB", (width, height), (90, 60, 30))
    for name in ("a.png", "a.tif", "a.jpg"):
        master = opened(tmp_path, name, pillow(thin))
        assert master.size == Size(width, height)
        assert near(master.srgb8(), np.full((height, width, 3), (90, 60, 30)), 2)


def png(width: int, height: int, depth: int, kind: int, body: bytes) -> bytes:
    header = struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0)
    chunks = b""
    for name, content in ((b"IHDR", header), (b"IDAT", zlib.compress(body)), (b"IEND", b"")):
        chunks += struct.pack(">I", len(content)) + name + content
        chunks += struct.pack(">I", zlib.crc32(name + content))
    return b"\x89PNG\r\n\x1a\n" + chunks


def bytes_of(write: Write, tmp_path: Path, name: str) -> bytearray:
    path = tmp_path / name
    write(path)
    return bytearray(path.read_bytes())


def tag_at(data: bytearray, tag: int) -> int:
    """Where an entry of the first directory of a little-endian TIFF lies."""
    (at,) = struct.unpack_from("<I", data, 4)
    (count,) = struct.unpack_from("<H", data, at)
    entries: list[int] = [at + 2 + 12 * one for one in range(count)]
    return next(one for one in entries if struct.unpack_from("<H", data, one)[0] == tag)


def lying_tiff(tag: int, value: int) -> Callable[[Path], bytes]:
    def made(tmp_path: Path) -> bytes:
        data = bytes_of(tiff(ramp()), tmp_path, "whole.tif")
        at = tag_at(data, tag)
        kind = struct.unpack_from("<H", data, at + 2)[0]
        struct.pack_into("<H" if kind == 3 else "<I", data, at + 8, value)
        return bytes(data)

    return made


def lying_jpeg(offset: int, value: int) -> Callable[[Path], bytes]:
    """A baseline JPEG with one field of its frame header changed (ITU-T T.81 B.2.2)."""

    def made(tmp_path: Path) -> bytes:
        data = bytes_of(pillow(RGB, quality=90), tmp_path, "whole.jpg")
        at = data.index(b"\xff\xc0") + offset
        struct.pack_into(">H" if offset in {5, 7} else ">B", data, at, value)
        return bytes(data)

    return made


def damaged(name: str, share: float, what: bytes) -> Callable[[Path], bytes]:
    def made(tmp_path: Path) -> bytes:
        data = bytes_of(SOUND[name], tmp_path, name)
        at = int(len(data) * share)
        return bytes(data[:at]) + what + bytes(data[at + len(what) :])

    return made


def cut(name: str) -> Callable[[Path], bytes]:
    return lambda tmp_path: bytes(bytes_of(SOUND[name], tmp_path, name)[:-200])


UNSOUND: dict[str, Callable[[Path], bytes]] = {
    "no bytes": lambda _: b"",
    "no width png": lambda _: png(0, 10, 8, 2, b""),
    "too few rows png": lambda _: png(96, 64, 8, 2, bytes(289 * 20)),
    "depth 3 png": lambda _: png(96, 64, 3, 2, bytes(289 * 64)),
    "taller jpeg": lying_jpeg(5, 640),
    "wider jpeg": lying_jpeg(7, 960),
    "no height jpeg": lying_jpeg(5, 0),
    "nine components jpeg": lying_jpeg(9, 9),
    "twelve bit jpeg": lying_jpeg(4, 12),
    "taller tiff": lying_tiff(257, 6400),
    "wider tiff": lying_tiff(256, 9600),
    "no width tiff": lying_tiff(256, 0),
    "strips elsewhere tiff": lying_tiff(273, 4_000_000_000),
    "channels tiff": lying_tiff(277, 60),
    "huge tiff": lying_tiff(257, 2_000_000_000),
    "cut png": cut("deep.png"),
    "cut webp": cut("lossless.webp"),
    "cut avif": cut("shot.avif"),
    "cut lzw tiff": cut("lzw-deep-predicted.tif"),
    "cut jpeg": cut("progressive.jpg"),
    "garbage in png": damaged("deep.png", 0.5, b"\x5a" * 40),
    "garbage in jpeg": damaged("halved.jpg", 0.7, bytes(120)),
    "garbage in lzw": damaged("lzw-predicted.tif", 0.4, b"\xff" * 60),
}


@pytest.mark.parametrize("name", UNSOUND)
def test_what_is_unsound_is_refused_in_a_sentence(tmp_path: Path, name: str) -> None:
    path = tmp_path / "bad"
    path.write_bytes(UNSOUND[name](tmp_path))
    with pytest.raises(MasterError) as refused:
        open_master(path)
    assert refused.value.way_out
    assert "\n" not in str(refused.value)


def test_a_byte_count_that_only_lies_is_worked_out_anew(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    path.write_bytes(lying_tiff(279, 5)(tmp_path))  # one strip, uncompressed: its length is known
    assert near(open_master(path).srgb8(), ramp(), 0)


def test_a_compression_that_is_not_built_in_is_called_so(tmp_path: Path) -> None:
    try:
        RGB.save(tmp_path / "a.tif", compression="zstd")
    except (OSError, ValueError):
        pytest.skip("no writer of this compression here")
    with pytest.raises(MasterError, match="compression is not one") as refused:
        open_master(tmp_path / "a.tif")
    assert "LZW" in str(refused.value.way_out)


NOT_OURS: dict[str, Write] = {
    "float.tif": tiff(ramp().astype(np.float32) / 255),
    "lab.tif": lambda path: (
        pyvips.Image.new_from_array(ramp())
        .copy(interpretation="srgb")
        .colourspace("lab")
        .tiffsave(str(path))
    ),
    "signed.tif": tiff(ramp().astype(np.int16)),
}


@pytest.mark.parametrize("name", NOT_OURS)
def test_samples_that_are_no_codes_are_refused_with_a_way_out(tmp_path: Path, name: str) -> None:
    with pytest.raises(MasterError, match="Export it as"):
        opened(tmp_path, name, NOT_OURS[name])


@pytest.mark.parametrize("kind", ["png", "jpeg", "webp", "tiff"])
def test_a_flood_of_xmp_in_a_master_is_left_alone(tmp_path: Path, kind: str) -> None:
    entities = b"".join(
        b'<!ENTITY a%d "%s">' % (level, b"&a%d;" % (level - 1) * 10) for level in range(1, 12)
    )
    flood = b"<!DOCTYPE x [<!ENTITY a0 'ha'>" + entities + b"]><x>&a11;</x>" + b" " * 60_000
    more: dict[str, Any] = {"xmp": flood}
    if kind == "tiff":
        more = {"tiffinfo": {700: flood}}
    elif kind == "png":
        from PIL.PngImagePlugin import PngInfo  # noqa: PLC0415

        info = PngInfo()
        info.add_itxt("XML:com.adobe.xmp", flood.decode(), zip=True)
        more = {"pnginfo": info}
    elif kind == "webp":
        more["lossless"] = True
    path = tmp_path / "a"
    RGB.save(path, kind.upper(), **more)
    master = open_master(path)
    assert near(master.srgb8(), ramp(), 6)


@pytest.mark.parametrize("profile", [b"", SPACES["grey"].profile, SPACES["srgb"].profile[:300]])
@pytest.mark.parametrize("ending", ["png", "jpg", "webp"])
def test_a_profile_that_cannot_be_right_does_no_harm(
    tmp_path: Path, ending: str, profile: bytes
) -> None:
    more = {"lossless": True} if ending == "webp" else {}
    master = opened(tmp_path, f"a.{ending}", pillow(RGB, icc_profile=profile, **more))
    assert not master.has_profile
    assert any("assumed sRGB" in note for note in master.notes)
