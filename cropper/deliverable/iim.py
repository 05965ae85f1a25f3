"""Words as IIM records, which older picture desks still read, within its limits of bytes.

IIM 4.2 (2014), with the mapping of the IPTC Photo Metadata Standard. What is too long is cut at a
whole character, with an ellipsis, and :func:`iim_cuts` says so; XMP carries it whole.
"""

from __future__ import annotations

import struct
from typing import Final

from cropper.deliverable.cutting import cut_to_bytes, utf8
from cropper.deliverable.words import DAY_LETTERS, Words

IIM_FIELDS: Final = (
    (25, "keywords", 64),
    (40, "instructions", 256),
    (80, "creators", 32),
    (105, "headline", 256),
    (110, "credit", 32),
    (116, "copyright", 128),
    (120, "caption", 2000),
)
"""Record 2 dataset, field, most bytes (IIM 4.2, 2014; reference ``fields``)."""
IIM_DAYS: Final = ((37, "licence_until"), (55, "date_created"))
"""Datasets of a day as CCYYMMDD: expiration, date created (IIM 4.2, 2:37 and 2:55)."""
UTF8_MARK: Final = b"\x1c\x01\x5a\x00\x03\x1b%G"
"""Dataset 1:90: what follows is UTF-8 (ISO 2022 escape)."""


def iim(words: Words) -> bytes:
    """IIM records, ascending; empty when there are no words for it."""
    found = _days(words)
    found += [
        (dataset, cut_to_bytes(text, most, utf8))
        for dataset, field, most in IIM_FIELDS
        for text in _texts(words, field)
    ]
    records = b"".join(_record(dataset, text.encode()) for dataset, text in sorted(found, key=_of))
    version = b"\x1c\x02\x00" + struct.pack(">HH", 2, 4)
    return UTF8_MARK + version + records if records else b""


def iim_cuts(words: Words) -> tuple[str, ...]:
    """What IIM has no room for, in sentences.

    >>> iim_cuts(Words(credit="Photo: R. Quillfeather / Fernhollow Mill"))[0][:59]
    "the credit is 'Photo: R. Quillfeather…' in IIM, the older f"
    """
    return tuple(
        f"the {NAMED.get(field, field)} is {_ends(cut_to_bytes(text, most, utf8))} in IIM, the"
        f" older fields of JPEG and TIFF, which have room for {most} bytes; XMP has it whole"
        for _, field, most in IIM_FIELDS
        for text in _texts(words, field)
        if utf8(text) > most
    )


NAMED: Final = {"creators": "creator", "keywords": "keyword"}


def _ends(text: str) -> str:
    """A short text, or how a long one ends."""
    few = 40
    return f"'{text}'" if len(text) <= few else f"cut behind '{text[-few // 2 : -1]}'"


def _of(record: tuple[int, str]) -> int:
    return record[0]


def _record(dataset: int, text: bytes) -> bytes:
    return b"\x1c\x02" + bytes([dataset]) + struct.pack(">H", len(text)) + text


def _days(words: Words) -> list[tuple[int, str]]:
    """Days, and the time the picture was taken (2:60, HHMMSS and its offset from UTC)."""
    days = [(dataset, getattr(words, field)[:DAY_LETTERS]) for dataset, field in IIM_DAYS]
    found = [(dataset, day.replace("-", "")) for dataset, day in days if day]
    clock = words.date_created[DAY_LETTERS + 1 :].replace(":", "")
    if "+" in clock or "-" in clock:  # the standard wants the offset
        found.append((TIME_CREATED, clock))
    return found


TIME_CREATED: Final = 60
"""The dataset of the time (IIM 4.2, 2:60)."""


def _texts(words: Words, field: str) -> tuple[str, ...]:
    value = getattr(words, field)
    return value if isinstance(value, tuple) else (value,) if value else ()
