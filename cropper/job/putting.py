"""Putting text on the disk so that a crash or a power cut leaves the old or the new, never half.

Every write of a job's memory goes through here; tests make the disk full, slow or gone by putting
something else in the place of these functions.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Final

from cropper.errors import JobError

ELSEWHERE: Final = "Choose another folder with --job, or make this one writable"


def write_text(path: Path, text: str | Iterable[str]) -> None:
    """Write a file of the job whole or not at all: aside, flushed to the disk, then renamed.

    A long text may come in pieces.
    """
    try:
        handle, aside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
                file.writelines([text] if isinstance(text, str) else text)
                file.flush()
                os.fsync(file.fileno())
            Path(aside).chmod(0o666 & ~_umask())
            Path(aside).replace(path)
        except BaseException:
            with suppress(OSError):
                Path(aside).unlink()
            raise
        settle(path.parent)
    except OSError as error:
        raise refused(path, error) from error


def appended(path: Path, line: str) -> None:
    """Append whole lines and flush them to the disk before coming back; or leave it as it was."""
    try:
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
            settle(path.parent)
    except OSError as error:
        raise refused(path, error) from error


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
        if not folder.is_dir():
            folder.mkdir(parents=True, exist_ok=True)
            settle(folder.parent)
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


def settle(folder: Path) -> None:
    """Make the rename itself last through a power cut, where the system lets a folder be synced."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _umask() -> int:
    """The rights that new files go without; reading it means setting it for an instant."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
