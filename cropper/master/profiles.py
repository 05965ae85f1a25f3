"""The colour profile a master carries: whether it can be trusted, its name, and what to say if not.

A profile is trusted when its header makes sense (ICC.1:2022, 7.2: size, data colour space, the
signature ``acsp`` at byte 36), it belongs to as many channels as the picture has, and littleCMS can
read it. Anything else is set aside, said in a note, and the usual space assumed: guessing colours
silently would be worse than saying so.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Final

from cropper.master.declared import NOTHING, SRGB, Declared

HEADER_BYTES: Final = 128
"""ICC.1:2022, 7.2; the count of tags follows in four bytes more."""

CHANNELS: Final = {b"RGB ": 3, b"GRAY": 1, b"CMYK": 4}
"""Channels of the data colour spaces a master may be in (ICC.1:2022, table 19)."""

ASSUMED: Final = {1: "grey with the sRGB tone curve", 3: "sRGB", 4: "a generic press CMYK"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """What is known of a master's colours. ``icc`` is None when a space had to be assumed."""

    icc: bytes | None
    name: str
    note: str = ""


def examined(
    icc: bytes | None, colour_channels: int, declared: Declared = NOTHING, *, first: bool = False
) -> Profile:
    """The profile to work with for a picture of so many colour channels (alpha not counted).

    ``declared``: what the file says without a profile; it counts where there is none, and before
    one that is there if ``first``.
    """
    assumed = ASSUMED[colour_channels]
    said = {1: declared.grey, 3: declared.profile}.get(colour_channels)
    if said is not None and (icc is None or first):
        if declared is SRGB:
            return Profile(icc=None, name=assumed)
        return Profile(icc=said, name=described(said), note=declared.note)
    if icc is None and declared.note:
        return Profile(icc=None, name=assumed, note=f"{declared.note}: assumed {assumed}")
    if icc is None:
        return Profile(icc=None, name=assumed, note=f"no profile: assumed {assumed}")
    fault = fault_of(icc, colour_channels)
    if fault:
        return Profile(icc=None, name=assumed, note=f"{fault}: assumed {assumed}")
    return Profile(icc=icc, name=described(icc))


def fault_of(icc: bytes, colour_channels: int) -> str:
    """Why this profile cannot be used for such a picture; empty when it can."""
    if not icc:
        return "the embedded profile is empty"
    if len(icc) <= HEADER_BYTES + 4 or icc[36:40] != b"acsp":
        return "the embedded profile is broken"
    if int.from_bytes(icc[:4], "big") > len(icc):
        return "the embedded profile is cut short"
    channels = CHANNELS.get(icc[16:20])
    if channels != colour_channels:
        space = icc[16:20].decode("ascii", "replace").strip() or "unknown"
        return f"the embedded profile is for {space}, the picture is not"
    return "" if _readable(icc) else "the embedded profile is broken"


def _readable(icc: bytes) -> bool:
    """Whether littleCMS opens it and can convert from it."""
    from PIL import ImageCms  # noqa: PLC0415

    mode = {b"RGB ": "RGB", b"GRAY": "L", b"CMYK": "CMYK"}[icc[16:20]]
    try:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
        ImageCms.buildTransform(profile, ImageCms.createProfile("sRGB"), mode, "RGB")
    except (OSError, ImageCms.PyCMSError):
        return False
    return True


def described(icc: bytes) -> str:
    """The profile's own name for itself, on one line, without control characters."""
    from PIL import ImageCms  # noqa: PLC0415

    try:
        said = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(icc)))
    except (OSError, ImageCms.PyCMSError):
        said = ""
    return " ".join("".join(c if c.isprintable() else " " for c in said).split()) or "unnamed"
