"""A finished picture as the bytes of a file: JPEG, PNG, WebP, AVIF or TIFF.

Nothing of the master's metadata is carried over: no location, no serial numbers, no maker notes.
What is written is the profile, the density, orientation 1, and the words that were given.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from cropper.deliverable import containers, packets
from cropper.deliverable.rendering import Rendered
from cropper.deliverable.words import NO_WORDS, Words, cleaned
from cropper.destination.destination import PRESS_PDF, Finish
from cropper.errors import DeliveryError
from cropper.geometry import Size
from cropper.master.resampling import resized

ENDINGS: Final = {
    "jpeg": "jpg",
    "png": "png",
    "webp": "webp",
    "avif": "avif",
    "tiff": "tif",
    PRESS_PDF: "pdf",
}
"""The file name's ending by format."""
PIXEL_FORMATS: Final = tuple(name for name in ENDINGS if name != PRESS_PDF)
"""Formats that are pixels; pages are made by ``press_pdf``."""
LOSSY: Final = ("jpeg", "webp", "avif")
LEAST_QUALITY: Final = {"jpeg": 50, "webp": 50, "avif": 35}
"""Below this a byte cap is not met decently: fewer pixels look better (house; AVIF's scale holds
detail longer)."""
NEARLY: Final = 0.995
"""How near the cap a foretold size may come where it must fit (house)."""
STEADY: Final = 0.999
"""The same where it need not: the first encode fits already."""
FEWER: Final = 0.95
"""Of the side that was tried and fits: rendered anew it is a little crisper (house)."""
SHRINKINGS: Final = 6
LEAST_SIDE_PX: Final = 16
"""A picture with a shorter side shows nobody (house)."""
PROGRESSIVE_SAVES: Final = 1.02
"""A progressive file is so much smaller than a baseline one with fitted tables (measured 1.0 to
1.04); only a first guess, the final bytes are counted."""
EXIF_MARK: Final = b"Exif\0\0"
"""What EXIF begins with inside a JPEG segment (CIPA DC-008, 4.7.2)."""
MM_PER_INCH: Final = 25.4
_MODES: Final = {1: "L", 3: "RGB", 4: "CMYK"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Encoded:
    """A whole file. ``quality`` is the one used; ``notes`` say what a byte cap or a limit cost."""

    data: bytes
    quality: int
    notes: tuple[str, ...]


def encode(
    rendered: Rendered, finish: Finish, words: Words = NO_WORDS, *, progressive: bool = False
) -> bytes:
    """The file's bytes. See :func:`encoded` for what it cost."""
    return encoded(rendered, finish, words, progressive=progressive).data


def encoded(
    rendered: Rendered, finish: Finish, words: Words = NO_WORDS, *, progressive: bool = False
) -> Encoded:
    """The file, its byte cap kept: at the cap's best quality when the wanted one is too large."""
    if finish.format not in PIXEL_FORMATS:
        raise DeliveryError(
            f"there is no format called '{finish.format}'",
            way_out=f"Use one of {', '.join(PIXEL_FORMATS)}",
        )
    clean, said = cleaned(words)
    way = _Way(rendered, finish, clean)
    progressive = progressive or finish.progressive
    data = way.written(finish.quality, finish.chroma, progressive=progressive)
    if finish.byte_cap is None or len(data) <= finish.byte_cap:
        return Encoded(data=data, quality=finish.quality, notes=said)
    if finish.format not in LOSSY:
        raise _too_large(way, finish, len(data))
    data, quality = _capped(way, finish, finish.byte_cap)
    return Encoded(data=data, quality=quality, notes=(*said, _cost(finish, quality)))


def _cost(finish: Finish, quality: int) -> str:
    """What the cap cost, in a sentence."""
    lower = f"quality {quality} instead of {finish.quality}" if quality < finish.quality else ""
    half = "colour at half size" if finish.chroma == "4:4:4" and finish.format != "webp" else ""
    cost = " and ".join(part for part in (lower, half) if part) or "a progressive file"
    return f"{cost}, to stay within {finish.byte_cap} bytes"


def _too_large(way: _Way, finish: Finish, size: int) -> DeliveryError:
    """The sentence for a cap that cannot be met, with the pixels that would fit, tried out."""
    cap, whole = finish.byte_cap or size, way.rendered.size
    fits = _fitting(way, finish, cap, size)
    fewer = f"About {fits.width} x {fits.height} px would fit; or raise" if fits else "Raise"
    return DeliveryError(
        f"{whole.width} x {whole.height} px as {finish.format.upper()} need "
        f"{size} bytes at a decent quality; the cap is {cap}",
        way_out=f"{fewer} the cap",
    )


def _fitting(way: _Way, finish: Finish, cap: int, size: int) -> Size | None:
    """A size that fits, found by making the picture smaller; None when none is worth looking at."""
    whole, scale = way.rendered.size, 1.0
    for _ in range(SHRINKINGS):
        scale *= min(0.97, math.sqrt(cap / size))
        smaller = Size(int(whole.width * scale), int(whole.height * scale))
        if min(smaller.width, smaller.height) < LEAST_SIDE_PX:
            return None
        size = len(way.shrunk(smaller).written(_least(finish), "4:2:0", progressive=True))
        if size <= cap:
            return Size(int(smaller.width * FEWER), int(smaller.height * FEWER))
    return None


def _least(finish: Finish) -> int:
    return LEAST_QUALITY.get(finish.format, finish.quality)


def _capped(way: _Way, finish: Finish, cap: int) -> tuple[bytes, int]:
    """The best quality that fits: a search, and for JPEG at most two full encodes after it."""
    found, sizes, data = _searched(way, finish, cap)
    if finish.format != "jpeg":
        if data is None:  # the last thing encoded was the least decent, and did not fit
            raise _too_large(way, finish, sizes[LEAST_QUALITY[finish.format]])
        return data, found
    first = way.written(found, "4:2:0", progressive=True)
    second = _mended(way, finish, cap, found, len(first) / way.size_at(found))
    if second is not None and second != found:
        data = way.written(second, "4:2:0", progressive=True)
        if len(data) <= cap and (second > found or len(first) > cap):
            return data, second
    if len(first) > cap:
        raise _too_large(way, finish, len(first))
    return first, found


def _searched(way: _Way, finish: Finish, cap: int) -> tuple[int, dict[int, int], bytes | None]:
    """The best quality by halving, every size met, and that quality's file when it fits.

    A JPEG is searched with cheap encodes, whose sizes only foretell; the others' sizes are final.
    """
    saves = PROGRESSIVE_SAVES if finish.format == "jpeg" else 1.0
    least = LEAST_QUALITY[finish.format]
    low, high, kept, sizes = least - 1, max(finish.quality, least) + 1, None, dict[int, int]()
    while high - low > 1:
        middle = (low + high) // 2
        data = way.written(middle, "4:2:0", progressive=False, fitted=True)
        sizes[middle] = len(data)
        if len(data) / saves <= cap:
            low, kept = middle, data
        else:
            high = middle
    way.cheap.update(sizes)
    return max(low, least), sizes, kept


def _mended(way: _Way, finish: Finish, cap: int, found: int, share: float) -> int | None:
    """The best quality that the first full encode foretells to fit; None: there is no other."""
    if way.size_at(found) * share <= cap:
        up = found
        while up < finish.quality and way.size_at(up + 1) * share <= cap * STEADY:
            up += 1
        return up
    lower = range(found - 1, LEAST_QUALITY[finish.format] - 1, -1)
    return next((one for one in lower if way.size_at(one) * share <= cap * NEARLY), None)


class _Way:
    """One picture on its way into one format."""

    def __init__(self, rendered: Rendered, finish: Finish, words: Words) -> None:
        self.rendered = rendered
        self._finish, self._format = finish, finish.format
        self.cheap: dict[int, int] = {}
        self._words = words
        self._xmp = packets.xmp(words)
        srgb = 1 if rendered.profile_name.startswith("sRGB") else 65535
        # Asked to move the orientation into AVIF's own box, the encoder spells EXIF anew, in ASCII.
        self._exif = packets.exif(
            words,
            rendered.ppi,
            colour_space=srgb,
            size=rendered.size,
            orientation=finish.format != "avif",
        )
        if rendered.pixels.dtype != np.uint8 and finish.format not in {"png", "tiff"}:
            raise DeliveryError(
                f"{finish.format.upper()} holds 8 bits a channel, not 16",
                way_out="Use TIFF or PNG, or a bit depth of 8",
            )
        if rendered.pixels.shape[2] == 4 and finish.format not in {"jpeg", "tiff"}:  # noqa: PLR2004
            raise DeliveryError(
                f"{finish.format.upper()} holds no CMYK", way_out="Use TIFF or JPEG for a press"
            )

    def shrunk(self, size: Size) -> _Way:
        """The same way for a smaller copy of the picture."""
        pixels = np.asarray(resized(self.rendered.pixels, size))
        small = replace(self.rendered, pixels=pixels, size=size)
        return _Way(small, self._finish, self._words)

    def size_at(self, quality: int) -> int:
        """Bytes of a cheap encode at this quality."""
        if quality not in self.cheap:
            self.cheap[quality] = len(
                self.written(quality, "4:2:0", progressive=False, fitted=True)
            )
        return self.cheap[quality]

    def written(
        self, quality: int, chroma: str, *, progressive: bool, fitted: bool = False
    ) -> bytes:
        """The whole file at this quality. ``fitted``: a JPEG's code tables made for the picture."""
        if self._format == "jpeg":
            return self._jpeg(quality, chroma, progressive=progressive, fitted=fitted)
        if self._format == "png":
            return self._png()
        if self._format == "tiff":
            return self._tiff()
        return self._through_pillow(quality, chroma)

    def _picture(self) -> Any:
        """The pixels as Pillow has them."""
        from PIL import Image  # noqa: PLC0415

        pixels = self.rendered.pixels
        flat = pixels[:, :, 0] if pixels.shape[2] == 1 else pixels
        return Image.fromarray(np.ascontiguousarray(flat), _MODES[pixels.shape[2]])

    def _jpeg(self, quality: int, chroma: str, *, progressive: bool, fitted: bool) -> bytes:
        """Through libvips, which reads our rows as they stand: no second copy of the picture."""
        per_mm = self.rendered.ppi / MM_PER_INCH if self.rendered.ppi else 1.0
        bare = (
            self._image()
            .copy(xres=per_mm, yres=per_mm)
            .jpegsave_buffer(
                Q=quality,
                subsample_mode="on" if chroma == "4:2:0" else "off",
                interlace=progressive,
                optimize_coding=progressive or fitted,
                keep="none",
            )
        )
        return containers.jpeg_with(
            bytes(bare),
            profile=self.rendered.profile,
            ppi=self.rendered.ppi,
            exif=self._exif,
            xmp=self._xmp,
            iim=packets.iim(self._words),
        )

    def _through_pillow(self, quality: int, chroma: str) -> bytes:
        """WebP or AVIF."""
        more: dict[str, Any] = {"xmp": self._xmp} if self._xmp else {}
        if self._format == "webp":
            return self._saved("WEBP", quality=quality, method=4, **more)
        return self._saved("AVIF", quality=quality, subsampling=chroma, **more)

    def _saved(self, kind: str, **options: Any) -> bytes:
        """Through Pillow, with EXIF and profile."""
        file = io.BytesIO()
        self._picture().save(
            file, kind, exif=EXIF_MARK + self._exif, icc_profile=self.rendered.profile, **options
        )
        return file.getvalue()

    def _image(self) -> Any:
        """The pixels as libvips has them."""
        import pyvips  # noqa: PLC0415

        pixels = np.ascontiguousarray(self.rendered.pixels)
        deep, channels = pixels.dtype == np.uint16, pixels.shape[2]
        kinds = {1: ("b-w", "grey16"), 3: ("srgb", "rgb16"), 4: ("cmyk", "cmyk")}
        return pyvips.Image.new_from_array(pixels, interpretation=kinds[channels][deep])

    def _png(self) -> bytes:
        deep = 16 if self.rendered.pixels.dtype == np.uint16 else 8
        bare = self._image().pngsave_buffer(compression=6, filter="all", keep="none", bitdepth=deep)
        return containers.png_with(
            bytes(bare),
            profile=self.rendered.profile,
            ppi=self.rendered.ppi,
            exif=self._exif,
            xmp=self._xmp,
        )

    def _tiff(self) -> bytes:
        """LZW with the horizontal predictor: every reader has it, and half the bytes."""
        bare = self._image().tiffsave_buffer(compression="lzw", predictor="horizontal", keep="none")
        entries = packets.exif_entries(self._words, self.rendered.ppi)
        profile, iim = self.rendered.profile, packets.iim(self._words)
        entries.append((34675, 7, profile, len(profile)))
        if self._xmp:
            entries.append((700, 1, self._xmp, len(self._xmp)))
        if iim:
            iim += bytes(-len(iim) % 4)  # its customary type is LONG
            entries.append((33723, 4, iim, len(iim) // 4))
        return containers.tiff_with(bytes(bare), entries)
