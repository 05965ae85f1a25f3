"""When a picture was taken, as its EXIF says; nothing else is read from it.

DateTimeOriginal, SubSecTimeOriginal and OffsetTimeOriginal [exif]. A clock without an offset is
only comparable with another without one: most cameras write none.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

EXIF_IFD: Final = 0x8769
TAKEN: Final = 0x9003
SUBSECONDS: Final = 0x9291
OFFSET: Final = 0x9011


@dataclass(frozen=True, slots=True, kw_only=True)
class Capture:
    """The camera's clock; aware when it told its offset, naive when not."""

    at: datetime

    def apart(self, other: Capture) -> timedelta | None:
        """Time between the two; None when one clock has an offset and the other has none."""
        if (self.at.tzinfo is None) != (other.at.tzinfo is None):
            return None
        return abs(self.at - other.at)


def capture(path: Path) -> Capture | None:
    """When the picture was taken; None when it does not say, or says nonsense."""
    from PIL import Image, UnidentifiedImageError  # noqa: PLC0415 - heavy

    try:
        with Image.open(path) as picture:
            fields: Any = picture.getexif().get_ifd(EXIF_IFD)
    except (OSError, ValueError, SyntaxError, UnidentifiedImageError, Image.DecompressionBombError):
        return None
    return parsed(fields.get(TAKEN), fields.get(SUBSECONDS), fields.get(OFFSET))


def parsed(taken: object, subseconds: object = None, offset: object = None) -> Capture | None:
    """From the three fields' texts.

    >>> parsed("2026:03:01 10:15:30", "25", "+01:00").at.isoformat()
    '2026-03-01T10:15:30.250000+01:00'
    >>> parsed("0000:00:00 00:00:00") is None
    True
    """
    words = _text(taken)
    zone = _text(offset)
    part = _text(subseconds)
    told = words + (f".{part[:6]}" if part.isdigit() else "")
    pattern = "%Y:%m:%d %H:%M:%S" + (".%f" if part.isdigit() else "")
    for text, reading in ((told + zone, pattern + "%z"), (told, pattern)):
        try:
            return Capture(at=datetime.strptime(text, reading))  # noqa: DTZ007 - naive is meant
        except ValueError:
            continue
    return None


def _text(value: object) -> str:
    if isinstance(value, bytes):
        value = value.decode("ascii", "replace")
    return str(value).strip("\0 ") if value is not None else ""
