"""Pixels of a master: decoded whole, upright, alpha laid on a stated colour, nothing else done.

Only the picture decoded last is kept, so that opening (which decodes once, to know that the
file is sound) and rendering right after it pay for one decode, while a batch never holds more than
one master. The key is the content hash: a file written over in between is never served old pixels.
"""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.errors import MasterError
from cropper.master import formats
from cropper.master.limits import refuse_scans

Pixels = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]
"""Upright (rows, columns, 1 | 3 | 4 channels), 8 or 16 bit, in the master's own colours."""

ALPHA_LAID_ON: Final = 255
"""Transparent parts are laid on white, the paper of every destination (house)."""

SIDEWAYS: Final = frozenset({5, 6, 7, 8})
"""Orientation values that exchange width and height (CIPA DC-008, tag 0x0112)."""


class LastDecoded:
    """The one decoded master that is kept."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._key = ""
        self._pixels: Pixels | None = None

    def get(self, key: str) -> Pixels | None:
        """The pixels kept under ``key``, if it is they."""
        with self._lock:
            return self._pixels if self._key == key else None

    def put(self, key: str, pixels: Pixels) -> None:
        """Keep these and let go of the others."""
        with self._lock:
            self._key, self._pixels = key, pixels

    def let_go(self) -> None:
        """Keep none."""
        with self._lock:
            self._key, self._pixels = "", None


LAST: Final = LastDecoded()


def upright(pixels: Pixels, orientation: int) -> Pixels:
    """The rows turned and mirrored as the orientation tag asks (CIPA DC-008, 1..8)."""
    turned: Any = pixels
    if orientation in SIDEWAYS:
        turned = turned.swapaxes(0, 1)  # tag 5: rows become columns
    if orientation in {3, 4, 7, 8}:
        turned = turned[::-1]
    if orientation in {2, 3, 6, 7}:
        turned = turned[:, ::-1]
    return np.ascontiguousarray(turned)


def decoded(path: Path, orientation: int, colour_channels: int) -> Pixels:
    """Decode the whole file, strictly; every complaint of the decoder is a MasterError."""
    import pyvips  # noqa: PLC0415

    with path.open("rb") as stream:
        kind = formats.recognised(path, stream)
        image = formats.opened(path, stream, kind)
        try:
            if kind == "jpeg":
                pixels = strict_jpeg(path, image, colour_channels)
            else:
                pixels = on_colour(image, colour_channels).numpy()
        except pyvips.Error as error:
            raise formats.damaged(path, kind, error) from error
        except MemoryError as error:
            raise MasterError(
                f"{path}: this machine has not the memory to decode it",
                way_out="Close other programs, or set a smaller limit on picture size",
            ) from error
    if pixels.ndim == 2:  # noqa: PLR2004 - rows and columns only: grey
        pixels = pixels[:, :, np.newaxis]
    return pixels if orientation == 1 else upright(pixels, orientation)


def strict_jpeg(path: Path, image: Any, colour_channels: int) -> Pixels:
    """A JPEG through the one decoder that counts what is left over when the picture is full.

    libvips with warnings as errors noticed 63 of 144 damages to baseline files (bytes replaced or
    zeroed), Pillow and OpenCV none, this one all (decision 0004). CMYK pixels still come from
    libvips, which knows their inverted storage; the check is the same.
    """
    import simplejpeg  # noqa: PLC0415

    colours = {1: "GRAY", 3: "RGB", 4: "CMYK"}[colour_channels]
    data = path.read_bytes()
    refuse_scans(path, data)
    try:
        pixels: Pixels = simplejpeg.decode_jpeg(data, colours, strict=True)
    except ValueError as error:
        raise formats.damaged(path, "jpeg", error) from error
    return pixels if colour_channels < 4 else image.numpy()  # noqa: PLR2004


def on_colour(image: Any, colour_channels: int) -> Any:
    """The picture with its alpha laid on white; CMYK's white is no ink."""
    if image.bands == colour_channels:
        return image
    most = 65535 if image.format == "ushort" else ALPHA_LAID_ON
    background = [0 if colour_channels == 4 else most] * colour_channels  # noqa: PLR2004
    laid = image.flatten(background=background, max_alpha=most)
    return laid.cast(image.format)
