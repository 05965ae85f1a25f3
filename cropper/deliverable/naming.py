"""A deliverable's file name: the destination's pattern, filled in, with the format's ending."""

from __future__ import annotations

from collections.abc import Collection

from cropper.deliverable.encoding import ENDINGS
from cropper.destination.destination import Destination
from cropper.destination.naming import file_stem
from cropper.geometry import Size


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

    Empty fields vanish with their separator.
    """
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
    return f"{stem}.{ENDINGS[destination.finish.format]}"


def apart(name: str, taken: Collection[str]) -> str:
    """``name``, or it with a running number when another picture has it (case is no difference).

    >>> apart("a.jpg", {"A.jpg", "a-2.jpg"})
    'a-3.jpg'
    """
    lowered = {other.lower() for other in taken}
    stem, dot, ending = name.rpartition(".")
    number, tried = 1, name
    while tried.lower() in lowered:
        number += 1
        tried = f"{stem}-{number}{dot}{ending}"
    return tried
