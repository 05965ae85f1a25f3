"""One finished picture on its way into one format of pixels, at any quality asked."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from cropper.deliverable import containers, packets
from cropper.deliverable.rendering import Rendered
from cropper.deliverable.words import Words
from cropper.destination.destination import Finish
from cropper.destination.formats import format_named
from cropper.errors import DeliveryError
from cropper.geometry import Size
from cropper.master.resampling import resized

EXIF_MARK: Final = b"Exif\0\0"
"""What EXIF begins with inside a JPEG segment (CIPA DC-008, 4.7.2)."""
MM_PER_INCH: Final = 25.4
_MODES: Final = {1: "L", 3: "RGB", 4: "CMYK"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """How a file is to be written. ``fitted``: a JPEG's code tables made for the picture."""

    quality: int
    chroma: str
    progressive: bool = False
    fitted: bool = False


class Way:
    """One picture on its way into one format."""

    def __init__(self, rendered: Rendered, finish: Finish, words: Words) -> None:
        self.rendered = rendered
        self._finish, self._format = finish, finish.format
        self.cheap: dict[int, int] = {}
        self._words = words
        self._xmp = packets.xmp(words)
        self._colour_space = 1 if rendered.profile_name.startswith("sRGB") else 65535
        # Asked to move the orientation into AVIF's own box, the encoder spells EXIF anew, in ASCII.
        self._exif = packets.exif(
            words,
            rendered.ppi,
            colour_space=self._colour_space,
            size=rendered.size,
            orientation=finish.format != "avif",
        )
        kind = format_named(finish.format)
        if rendered.pixels.dtype != np.uint8 and not kind.deep:
            raise DeliveryError(
                f"{finish.format.upper()} holds 8 bits a channel, not 16",
                way_out="Use TIFF or PNG, or a bit depth of 8",
            )
        if rendered.pixels.shape[2] == 4 and not kind.inks:  # noqa: PLR2004
            raise DeliveryError(
                f"{finish.format.upper()} holds no CMYK", way_out="Use TIFF or JPEG for a press"
            )

    def shrunk(self, size: Size) -> Way:
        """The same way for a smaller copy of the picture."""
        pixels = np.asarray(resized(self.rendered.pixels, size))
        small = replace(self.rendered, pixels=pixels, size=size)
        return Way(small, self._finish, self._words)

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
        how = Wanted(quality=quality, chroma=chroma, progressive=progressive, fitted=fitted)
        if self._format not in WRITERS:
            raise DeliveryError(
                f"{self._format} is no format of pixels", way_out=f"Use one of {', '.join(WRITERS)}"
            )
        return WRITERS[self._format](self, how)

    def _picture(self) -> Any:
        """The pixels as Pillow has them."""
        from PIL import Image  # noqa: PLC0415

        pixels = self.rendered.pixels
        flat = pixels[:, :, 0] if pixels.shape[2] == 1 else pixels
        return Image.fromarray(np.ascontiguousarray(flat), _MODES[pixels.shape[2]])

    def jpeg(self, how: Wanted) -> bytes:
        """Through libvips, which reads our rows as they stand: no second copy of the picture."""
        per_mm = self.rendered.ppi / MM_PER_INCH if self.rendered.ppi else 1.0
        bare = (
            self._image()
            .copy(xres=per_mm, yres=per_mm)
            .jpegsave_buffer(
                Q=how.quality,
                subsample_mode="on" if how.chroma == "4:2:0" else "off",
                interlace=how.progressive,
                optimize_coding=how.progressive or how.fitted,
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

    def webp(self, how: Wanted) -> bytes:
        """Its colour is always at half size."""
        return self._saved("WEBP", quality=how.quality, method=4)

    def avif(self, how: Wanted) -> bytes:
        """Through Pillow's own encoder."""
        return self._saved("AVIF", quality=how.quality, subsampling=how.chroma)

    def _saved(self, kind: str, **options: Any) -> bytes:
        """Through Pillow, with EXIF, XMP and profile."""
        file = io.BytesIO()
        if self._xmp:
            options["xmp"] = self._xmp
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

    def png(self, _: Wanted) -> bytes:
        """Every pixel kept."""
        deep = 16 if self.rendered.pixels.dtype == np.uint16 else 8
        bare = self._image().pngsave_buffer(compression=6, filter="all", keep="none", bitdepth=deep)
        return containers.png_with(
            bytes(bare),
            profile=self.rendered.profile,
            ppi=self.rendered.ppi,
            exif=self._exif,
            xmp=self._xmp,
        )

    def tiff(self, _: Wanted) -> bytes:
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
        inner = packets.inner_entries(
            self._words, colour_space=self._colour_space, size=self.rendered.size
        )
        exif = [one for one in inner if one[0] not in packets.OF_COMPRESSED]
        return containers.tiff_with(bytes(bare), entries, exif)


WRITERS: Final[dict[str, Callable[[Way, Wanted], bytes]]] = {
    "jpeg": Way.jpeg,
    "png": Way.png,
    "webp": Way.webp,
    "avif": Way.avif,
    "tiff": Way.tiff,
}
"""Who writes each format of pixels of :data:`cropper.destination.formats.FORMATS`."""
