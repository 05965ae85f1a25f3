"""Where a file goes that lies in the way: nothing of a photographer's is ever thrown away.

JOB/set_aside/20260304T120000/...   what one run moved there, under the names it had
"""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import Final

from cropper.deliverable.writing import moved_whole

ASIDE: Final = "set_aside"


def move_aside(job: Path, folder: Path, file: str, now: datetime) -> Path:
    """Move ``file``, a way below ``folder``, into the job's own corner; gives its new place.

    Folders that it leaves empty are taken away. Raises :class:`DeliveryError` when the file cannot
    be moved; then it stays where it is.
    """
    stamp = f"{now:%Y%m%dT%H%M%S}"
    places = (job / ASIDE / (stamp if one == 1 else f"{stamp}-{one}") / file for one in count(1))
    target = next(place for place in places if not place.exists())
    moved_whole(folder / file, target, within=job)
    drop_empty_folders(folder, file)
    return target


def drop_empty_folders(folder: Path, file: str) -> None:
    """Take away the folders between ``folder`` and ``file`` that hold nothing any more."""
    for one in (folder / file).parents:
        if one == folder:
            return
        with suppress(OSError):  # it holds something, or is gone
            one.rmdir()
