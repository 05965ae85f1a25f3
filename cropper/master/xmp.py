"""XMP out of a sidecar, or out of a picture that carries it."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from cropper.disk import plain
from cropper.errors import MasterError

MOST_BYTES: Final = 8_000_000
"""A larger packet is refused (house; one of a hundred crops has 60 kB)."""
TEXT_ENDINGS: Final = frozenset({".xmp", ".xml", ".rdf"})


def xmp_of(path: Path) -> bytes:
    """The XMP packet of a sidecar or picture; a :class:`MasterError` says why there is none."""
    try:
        if path.suffix.lower() in TEXT_ENDINGS:
            return _whole(path)
        return _embedded(path)
    except OSError as error:
        raise MasterError(
            f"{path} cannot be read ({error.strerror or error})", way_out="Check the name"
        ) from error


def _whole(path: Path) -> bytes:
    size = plain(path).stat().st_size
    if size > MOST_BYTES:
        raise MasterError(f"{path}: {size} bytes are no sidecar", way_out="Name an XMP file")
    return path.read_bytes()


def _embedded(path: Path) -> bytes:
    """As the picture library finds it; only the header is read."""
    from cropper.master import formats  # noqa: PLC0415 - loads the picture library

    with plain(path).open("rb") as stream:
        image = formats.opened(path, stream, formats.recognised(path, stream))
        packet = bytes(image.get("xmp-data")) if image.get_typeof("xmp-data") else b""
    if not packet:
        raise MasterError(f"{path} carries no XMP", way_out="Name its sidecar instead")
    return packet
