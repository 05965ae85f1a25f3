"""A deliverable's file name: the destination's pattern, filled in, with the format's ending."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Container
from typing import Final

from cropper.destination.destination import Destination
from cropper.destination.formats import format_named
from cropper.destination.naming import file_stem
from cropper.geometry import Size

LONGEST_FOLDER: Final = 80
"""Bytes of a folder's name that is made from a recipient (house)."""


def file_name(
    destination: Destination,
    size: Size,
    *,
    version: str,
    master: str,
    set_name: str = "",
    recipient: str = "",
    date: str = "",
) -> str:
    """A portable name of at most 255 bytes; ``date`` is YYYYMMDD, given by who knows the day.

    ``size`` is the picture's, without a border. Empty fields vanish with their separator.
    """
    size = destination.finish.with_border(size)
    stem = file_stem(
        destination.naming,
        {
            "version": version,
            "master": master,
            "destination": destination.name,
            "width": size.width,
            "height": size.height,
            "set": set_name,
            "recipient": recipient or destination.recipient,
            "date": date,
        },
    )
    return f"{stem}.{format_named(destination.finish.format).ending}"


def folded(name: str) -> str:
    """What two names share that a disk may hold for one: no case, one Unicode form.

    >>> folded("Shawl.JPG") == folded("shawl.jpg"), folded("\u00e9t") == folded("e\u0301t")
    (True, True)
    """
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def apart(name: str, taken: Collection[str]) -> str:
    """``name``, or it with a running number when another picture has it (case is no difference).

    >>> apart("a.jpg", {"A.jpg", "a-2.jpg"})
    'a-3.jpg'
    """
    return first_free(name, {folded(other) for other in taken})


def first_free(name: str, taken: Container[str]) -> str:
    """As :func:`apart`, for names that are folded already."""
    stem, dot, ending = name.rpartition(".")
    number, tried = 1, name
    while folded(tried) in taken:
        number += 1
        tried = f"{stem}-{number}{dot}{ending}"
    return tried
