"""Putting text on the disk so that a crash or a power cut leaves the old or the new, never half.

Every write of a job's memory goes through here; tests make the disk full, slow or gone by putting
something else in the place of these functions.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Final

from cropper import disk
from cropper.errors import JobError

ELSEWHERE: Final = "Choose another folder with --job, or make this one writable"


def write_text(path: Path, text: str | Iterable[str]) -> None:
    """Write a file of the job whole or not at all: aside, flushed to the disk, then renamed.

    A long text may come in pieces.
    """
    try:
        with disk.whole(path) as file:
            file.writelines([text] if isinstance(text, str) else text)
    except OSError as error:
        raise refused(path, error) from error


def appended(path: Path, line: str) -> None:
    """Append whole lines and flush them to the disk before coming back; or leave it as it was."""
    try:
        own(path)
        before = path.stat().st_size if path.exists() else None
        try:
            with path.open("a", encoding="utf-8", newline="") as file:
                file.write(line)
                file.flush()
                os.fsync(file.fileno())
        except OSError:
            with suppress(OSError):
                os.truncate(path, before or 0)
            raise
        if before is None:
            disk.settle(path.parent)
    except OSError as error:
        raise refused(path, error) from error


def own(path: Path) -> None:
    """See to it that changing a file in place changes no other.

    A link is refused (``OSError``); a file that has other names, as backups make them, is copied.
    """
    disk.refuse_links(path, path.parent)
    if disk.plain(path).is_file() and path.stat().st_nlink > 1:
        with disk.whole(path, "wb") as file:
            file.write(path.read_bytes())


def refused(path: Path, error: OSError) -> JobError:
    """The sentence about a file that could not be written."""
    return JobError(
        f"{path} cannot be written ({reason(error)}); what stood there before is untouched",
        way_out=ELSEWHERE,
    )


def made_folder(folder: Path) -> None:
    """Make a folder of the job if need be; a link that leads elsewhere is refused."""
    try:
        if folder.is_symlink():
            raise JobError(
                f"{folder} is a link to somewhere else, and nothing is written through it",
                way_out="Put a real folder there",
            )
        disk.made(folder)
    except OSError as error:
        raise JobError(f"{folder} cannot be made ({reason(error)})", way_out=ELSEWHERE) from error


def reason(error: Exception) -> str:
    """Why the system refused, in its own words, without numbers and paths."""
    said = error.strerror if isinstance(error, OSError) else None
    return (said or str(error)).lower()


def signature(path: Path) -> tuple[int, int, int] | None:
    """What the file system says of a file (time, size, number); None when it is not there."""
    try:
        seen = path.stat()
    except OSError:
        return None
    return (seen.st_mtime_ns, seen.st_size, seen.st_ino)
