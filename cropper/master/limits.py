"""What a small file may ask of a decoder: more is refused before the decoder sees it.

A header that says 60,000 x 60,000 is refused by its megapixels; here is what no header says. A
JPEG of 65,535 scans keeps a decoder busy for minutes (tried), as does a TIFF of 200,000 pages
(:mod:`tiff_pages`).
"""

from __future__ import annotations

import re
import struct
from pathlib import Path
from typing import Final

from cropper.errors import MasterError

MOST_SCANS: Final = 100
"""Scans of a JPEG (house: encoders write 10 to 14; each walks through the picture once more)."""

_MARKER: Final = re.compile(rb"\xff([\x01-\xcf\xd8-\xfe])")
"""In coded pixels FF is followed by 00 or is a restart, D0 to D7 (ITU-T T.81, B.1.1)."""
_START_OF_SCAN, _END, _BARE = 0xDA, 0xD9, {0xD8, 0x01}


def refuse_scans(path: Path, data: bytes) -> None:
    """Count a JPEG's scans up to its end (ITU-T T.81, B.2.1)."""
    at = scans = 0
    while (marker := _MARKER.search(data, at)) is not None:
        kind, at = marker[1][0], marker.end()
        if kind == _END:
            return
        scans += kind == _START_OF_SCAN
        if scans > MOST_SCANS:
            raise MasterError(
                f"{path}: it has more than {MOST_SCANS} scans",
                way_out="Export it once more, as a plain JPEG",
            )
        if kind not in _BARE:
            at += _number(">H", data[at : at + 2])


def _number(shape: str, data: bytes) -> int:
    """The number that the bytes begin with; 0 where the file has ended."""
    size = struct.calcsize(shape)
    return int(struct.unpack(shape, data[:size])[0]) if len(data) >= size else 0
