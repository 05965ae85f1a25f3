"""Small pictures for the sheets: reduced from one decoded copy per master, carrying no metadata.

A crop that covers enough of its master is shown from the master's own preview, which the sheet
holds once; only tight crops get a picture of their own.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import Final

from PIL import Image

from cropper.geometry import Crop, PixelBox, Size
from cropper.proof.entry import Picture, ProofMaster

MASTER_LONG_PX: Final = 1400
"""Long side of a master's preview (house: sharp at 400 css px on a dense screen)."""

SHOWN_LONG_PX: Final = 600
"""Least long side of the large picture of a crop (house)."""

OTHER_LONG_PX: Final = 320
"""Least long side of the picture of another proposal (house)."""

DECODED_MOST_PX: Final = 6000
"""The decoded copy is never larger than this on its long side (house: bounds the memory)."""

QUALITY: Final = 82
"""JPEG quality of previews (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """A JPEG without metadata that shows ``box`` of the upright master."""

    key: str
    box: PixelBox
    jpeg: bytes

    @property
    def uri(self) -> str:
        """The picture as a ``data:`` URI."""
        return "data:image/jpeg;base64," + base64.b64encode(self.jpeg).decode("ascii")


@dataclass(frozen=True, slots=True, kw_only=True)
class Album:
    """The previews of one master: the whole, and the crops that needed their own."""

    whole: Preview
    crops: tuple[tuple[Crop, Preview], ...]

    def showing(self, crop: Crop) -> Preview:
        """The preview to look at ``crop`` in: its own, else the whole master's."""
        for own, preview in self.crops:
            if own == crop:
                return preview
        return self.whole

    @property
    def all(self) -> tuple[Preview, ...]:
        """Every preview once."""
        return (self.whole, *(preview for _, preview in self.crops))


def album(master: ProofMaster, key: str) -> Album:
    """Decode the master once and cut every preview that its sheet needs.

    ``key`` begins the id of each preview on the page; raises what the picture's opener raises.
    """
    size = master.finding.size
    wanted = _wanted(master)
    tight = {crop: least for crop, least in wanted.items() if _needs_own(crop, least, size)}
    decoded = _decoded(master.picture, size, tight)
    whole = Preview(key=key, box=PixelBox(0, 0, size.width, size.height), jpeg=b"")
    pictures = tuple(
        (crop, Preview(key=f"{key}-{number}", box=crop.box, jpeg=_cut(decoded, size, crop, least)))
        for number, (crop, least) in enumerate(tight.items(), start=1)
    )
    reduced = _reduced(decoded, MASTER_LONG_PX)
    return Album(
        whole=Preview(key=whole.key, box=whole.box, jpeg=bare_jpeg(reduced)), crops=pictures
    )


def bare_jpeg(picture: Image.Image) -> bytes:
    """JPEG bytes of the pixels alone: no EXIF, XMP, profile or comment comes along."""
    rgb = picture.convert("RGB")
    # Pillow writes back the profile and comment it finds in .info: start from bare pixels.
    bare = Image.frombytes("RGB", rgb.size, rgb.tobytes())
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _wanted(master: ProofMaster) -> dict[Crop, int]:
    """Every crop the sheet shows, with the least long side its picture needs."""
    wanted: dict[Crop, int] = {}
    for entry in master.entries:
        if entry.shown is not None:
            wanted[entry.shown.crop] = SHOWN_LONG_PX
    for entry in master.entries:
        for other in entry.others:
            wanted.setdefault(other.crop, OTHER_LONG_PX)
    return wanted


def _needs_own(crop: Crop, least: int, size: Size) -> bool:
    if crop.straighten_deg != 0:
        return True
    longest = max(size.width, size.height)
    shown = max(crop.box.width, crop.box.height) * min(1.0, MASTER_LONG_PX / longest)
    return shown < min(least, max(crop.box.width, crop.box.height))


def _decoded(picture: Picture, size: Size, tight: dict[Crop, int]) -> Image.Image:
    """The one decoded copy, no larger than the tightest crop needs."""
    longest = max(size.width, size.height)
    needs = [
        least * longest / max(crop.box.width, crop.box.height) for crop, least in tight.items()
    ]
    wanted = min(longest, DECODED_MOST_PX, max([MASTER_LONG_PX, *needs]))
    return picture(int(wanted) + 1)


def _cut(decoded: Image.Image, size: Size, crop: Crop, least: int) -> bytes:
    """The crop, straightened if asked, with its long side at most ``least`` pixels."""
    across, down = decoded.width / size.width, decoded.height / size.height
    source = decoded
    if crop.straighten_deg != 0:
        middle = crop.box.centre
        source = decoded.rotate(
            crop.straighten_deg,
            resample=Image.Resampling.BICUBIC,
            center=(middle.x * across, middle.y * down),
        )
    box = crop.box
    if box.x0 < 0 or box.y0 < 0 or box.x1 > size.width or box.y1 > size.height:
        # What reaches past the master is filled when the file is made; grey until then.
        left, top = round(box.x0 * across), round(box.y0 * down)
        right, bottom = round(box.x1 * across), round(box.y1 * down)
        source, box = source.crop((left, top, right, bottom)), PixelBox(0, 0, box.width, box.height)
        across, down = source.width / box.width, source.height / box.height
    edges = (box.x0 * across, box.y0 * down, box.x1 * across, box.y1 * down)
    shrink = min(1.0, least / max(box.width * across, box.height * down))
    target = (
        max(1, round(box.width * across * shrink)),
        max(1, round(box.height * down * shrink)),
    )
    return bare_jpeg(source.resize(target, Image.Resampling.LANCZOS, box=edges))


def _reduced(picture: Image.Image, longest: int) -> Image.Image:
    shrink = min(1.0, longest / max(picture.size))
    target = (max(1, round(picture.width * shrink)), max(1, round(picture.height * shrink)))
    return picture.resize(target, Image.Resampling.LANCZOS)
