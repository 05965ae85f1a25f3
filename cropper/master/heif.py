"""HEIF and AVIF masters, through a reader that bundles no GPL code.

The decoder's wheel carries libheif and libde265 (both LGPL, separate libraries) and no encoder:
checked by listing the wheel, not by its stated licence alone. AVIF goes through libvips' own
libheif, which is built with an AV1 decoder only.
"""

from __future__ import annotations

from pathlib import Path
from typing import IO, Any

from cropper.errors import MasterError
from cropper.master import formats


def heif_image(path: Path, stream: IO[bytes]) -> Any:
    """A pyvips image of the picture, already upright: the reader applies its own rotation."""
    beginning = stream.read(formats.SIGNATURE_BYTES)
    stream.seek(0)
    if beginning[8:12] in {b"avif", b"avis"}:
        return _through_vips(path, stream)
    return _through_pi_heif(path, stream)


def _through_vips(path: Path, stream: IO[bytes]) -> Any:
    import pyvips  # noqa: PLC0415

    source = pyvips.Source.new_from_descriptor(stream.fileno())
    try:
        return pyvips.Image.heifload_source(source, fail_on="error")
    except pyvips.Error as error:
        raise formats.damaged(path, "avif", error) from error


def _through_pi_heif(path: Path, stream: IO[bytes]) -> Any:
    import pyvips  # noqa: PLC0415

    try:
        import pi_heif  # noqa: PLC0415
    except ImportError as error:
        raise MasterError(
            f"{path}: reading HEIF needs the package pi-heif, which is not installed here",
            way_out="Install pi-heif, or export the picture as TIFF or JPEG",
        ) from error
    try:
        picture = pi_heif.open_heif(stream, convert_hdr_to_8bit=False)
        pixels = bytes(picture.data)
    except (ValueError, OSError, EOFError, SyntaxError, RuntimeError) as error:
        raise formats.damaged(path, "heif", error) from error
    return _as_image(pyvips, picture, pixels)


def _as_image(pyvips: Any, picture: Any, pixels: bytes) -> Any:
    """The decoded rows as an image, padding cut off, 10 and 12 bit widened to 16."""
    import numpy as np  # noqa: PLC0415

    width, height = picture.size
    bands = {"L": 1, "RGB": 3, "RGBA": 4}[picture.mode.split(";")[0]]
    sample = np.uint16 if ";16" in picture.mode else np.uint8
    rows = np.frombuffer(pixels, np.uint8).reshape(height, picture.stride)
    used = np.ascontiguousarray(rows[:, : width * bands * np.dtype(sample).itemsize])
    array = used.view(sample).reshape(height, width, bands)
    image = pyvips.Image.new_from_array(
        array, interpretation="rgb16" if sample is np.uint16 else "srgb"
    ).copy()
    for name, key in (("icc-profile", "icc_profile"), ("exif", "exif"), ("xmp", "xmp")):
        if picture.info.get(key):
            image.set_type(pyvips.GValue.blob_type, f"{name}-data", bytes(picture.info[key]))
    return image
