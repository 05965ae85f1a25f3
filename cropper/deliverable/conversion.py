"""Colours that one matrix cannot move: CMYK, table profiles, and a profile file of the user's.

littleCMS (inside libvips) does these, always at 16 bit. On the way in, such a master becomes
16-bit RGB in BT.2020 primaries, wide enough for any press; on the way out, the finished RGB
picture becomes the printer's profile.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.deliverable.light import SRGB, Light, light_of
from cropper.disk import plain
from cropper.errors import DeliveryError
from cropper.master import icc
from cropper.master.icc import MatrixProfile
from cropper.master.opening import Master
from cropper.master.profiles import CHANNELS, described, fault_of
from cropper.master.spaces import SPACES, Space

BETWEEN: Final = "rec2020"
"""Name of the wide space that colours pass through when a table profile is at either end."""
INTENTS: Final = ("perceptual", "relative", "saturation", "absolute")
CMYK_CHANNELS: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Target:
    """Where colours go. ``device`` is a profile to convert to after finishing in ``space``."""

    space: Space
    title: str
    profile: bytes
    device: bytes | None = None
    device_channels: int = 3
    intent: str = "relative"
    black_point: bool = True

    @property
    def colorimetric(self) -> Target:
        """The same, keeping every colour that it can hold."""
        return replace(self, intent="relative")


def target_of(profile: str, *, intent: str = "relative", black_point: bool = True) -> Target:
    """The target that a ``profile`` names: one of SPACES, or the path of a profile file."""
    if profile in SPACES:
        space = SPACES[profile]
        return Target(space=space, title=space.title, profile=space.profile)
    if not profile.lower().endswith((".icc", ".icm")):
        raise DeliveryError(
            f"there is no colour space called '{profile}'",
            way_out=f"Use one of {', '.join(SPACES)}, or the path of an .icc file",
        )
    if intent not in INTENTS:
        raise DeliveryError(
            f"there is no rendering intent called '{intent}'",
            way_out=f"Use one of {', '.join(INTENTS)}",
        )
    return _from_file(Path(profile), intent, black_point=black_point)


def refuse_changed_profile(profile: str, sha256: str) -> None:
    """The profile file must be the one that was planned with."""
    if hashlib.sha256(_read(Path(profile))).hexdigest() != sha256:
        raise DeliveryError(
            f"{profile}: the profile was changed after it was planned with",
            way_out="Plan again, so that the files belong to the profile as it is now",
        )


def _read(path: Path) -> bytes:
    """A profile file's bytes."""
    try:
        return plain(path).read_bytes()
    except OSError as error:
        raise DeliveryError(
            f"{path}: the profile cannot be read ({error.strerror or error})",
            way_out="Check the path of the profile that the printer gave you",
        ) from error


def _from_file(path: Path, intent: str, *, black_point: bool) -> Target:
    """A profile file given by the user."""
    raw = _read(path)
    channels = CHANNELS.get(raw[16:20], 0)
    fault = fault_of(raw, channels)
    if fault or not channels:
        raise DeliveryError(
            f"{path}: {fault or 'this is no profile of a grey, RGB or CMYK device'}",
            way_out="Ask the printer for the profile again",
        )
    return Target(
        space=SPACES[BETWEEN],
        title=described(raw),
        profile=raw,
        device=raw,
        device_channels=channels,
        intent=intent,
        black_point=black_point,
    )


def master_light(master: Master) -> tuple[npt.NDArray[Any], Light]:
    """The master's pixels (one or three channels) and the way into their linear light."""
    pixels = master.pixels()
    if master.icc is None and master.colour_channels < CMYK_CHANNELS:
        return pixels, light_of(SRGB, master.bit_depth)
    profile = icc.parsed(master.icc) if master.icc else None
    if profile is not None and master.colour_channels < CMYK_CHANNELS:
        return pixels, light_of(profile, master.bit_depth)
    wide = SPACES[BETWEEN]
    curves = np.array([wide.curve] * 3)
    through = MatrixProfile(curves=curves, matrix=wide.matrix)
    return converted_in(pixels, master.icc), light_of(through, 16)


_KINDS: Final = {1: ("b-w", "grey16"), 3: ("srgb", "rgb16"), 4: ("cmyk", "cmyk")}


def _image(pixels: npt.NDArray[Any], profile: bytes | None) -> Any:
    """A libvips image of the pixels that says what its colours are."""
    import pyvips  # noqa: PLC0415

    deep = pixels.dtype == np.uint16
    image: Any = pyvips.Image.new_from_array(
        np.ascontiguousarray(pixels), interpretation=_KINDS[pixels.shape[2]][deep]
    ).copy()
    if profile is not None:
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
    return image


def converted_in(pixels: npt.NDArray[Any], profile: bytes | None) -> npt.NDArray[np.uint16]:
    """Any master's pixels as 16-bit RGB in the wide space, relative, black point compensated.

    A CMYK master without a usable profile goes by libvips' built-in generic press profile.
    """
    import pyvips  # noqa: PLC0415

    image = _image(pixels, profile)
    if profile is None:
        image.set_type(
            pyvips.GValue.blob_type, "icc-profile-data", bytes(pyvips.Image.profile_load("cmyk"))
        )
    return _transformed(image, SPACES[BETWEEN].profile, 16, "relative", black_point=True)


def converted_out(encoded: npt.NDArray[np.uint16], target: Target, depth: int) -> npt.NDArray[Any]:
    """Finished 16-bit RGB of ``target.space`` in the target's device profile."""
    if target.device is None:
        raise ValueError("this target needs no device conversion")
    image = _image(encoded, target.space.profile)
    return _transformed(image, target.device, depth, target.intent, black_point=target.black_point)


def converted_back(device: npt.NDArray[Any], target: Target) -> npt.NDArray[np.uint16]:
    """Codes of ``target``'s device profile as 16-bit RGB of ``target.space``."""
    image = _image(device, target.device)
    return _transformed(
        image, target.space.profile, 16, target.intent, black_point=target.black_point
    )


def _transformed(
    image: Any, profile: bytes, depth: int, intent: str, *, black_point: bool
) -> npt.NDArray[Any]:
    """Through littleCMS; libvips takes the aimed profile as a file only."""
    import tempfile  # noqa: PLC0415

    with tempfile.NamedTemporaryFile(suffix=".icc") as file:
        file.write(profile)
        file.flush()
        moved = image.icc_transform(
            file.name,
            embedded=True,
            intent=intent,
            black_point_compensation=black_point,
            depth=depth,
        )
        pixels: npt.NDArray[Any] = moved.numpy()
    return pixels[:, :, np.newaxis] if pixels.ndim == 2 else pixels  # noqa: PLR2004
