"""Files appear whole or not at all: written aside in the same folder, flushed, renamed."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from cropper import disk
from cropper.errors import DeliveryError

PART: Final = ".part-"
"""Begins the name of a file that is being written."""
_WAYS_OUT: Final = {
    errno.ENOSPC: "Make room on the disk; nothing was left half written",
    errno.EDQUOT: "Make room in your share of the disk; nothing was left half written",
    errno.EROFS: "Choose a folder that can be written to",
    errno.EACCES: "Choose a folder you may write to, or have its rights changed",
    errno.EPERM: "Choose a folder you may write to, or have its rights changed",
    errno.ELOOP: "Put a real folder there",
    errno.ENAMETOOLONG: "Shorten the naming pattern of the destination",
}


def write_whole(
    path: Path, data: bytes, *, replace: bool = False, within: Path | None = None
) -> None:
    """``data`` as the file ``path``, its folder made if need be.

    A file that stands there already is only replaced when ``replace`` says so; without it, not even
    one that appears at the last moment is. Below ``within`` no folder may be a link.
    """
    path = Path(path)
    if not replace and path.exists():
        raise _taken(path)
    with _refusals_told(path):
        disk.made(path.parent, within=within)
        aside = _written_aside(path, data)
        try:
            _put_in_place(aside, path, replace=replace)
        finally:
            aside.unlink(missing_ok=True)
        disk.settle(path.parent)


def moved_whole(
    source: Path, path: Path, *, replace: bool = False, within: Path | None = None
) -> None:
    """A file that is whole and flushed, as the file ``path``; see :func:`write_whole`.

    Renamed where both lie on one disk, else copied first and then taken away.
    """
    if not replace and path.exists():
        raise _taken(path)
    with _refusals_told(path):
        disk.made(path.parent, within=within)
        try:
            _put_in_place(source, path, replace=replace)
        except OSError as error:
            if error.errno != errno.EXDEV:
                raise
            write_whole(path, source.read_bytes(), replace=replace, within=within)
        disk.settle(path.parent)
        source.unlink(missing_ok=True)


class Aside:
    """A text that grows beside ``path`` piece by piece, and takes its name only when it is whole.

    Whoever begins one ends it with :meth:`drop`, which takes away what was not put in place.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        with _refusals_told(path):
            disk.made(path.parent)
            self.beside = _written_aside(path, b"")
            self._file = self.beside.open("w", encoding="utf-8", newline="")

    def write(self, text: str) -> None:
        """Add to it."""
        with _refusals_told(self.path):
            self._file.write(text)

    def close(self) -> None:
        """Nothing more comes: it is on the disk when this returns, its name not yet taken."""
        with _refusals_told(self.path):
            self._file.flush()
            os.fsync(self._file.fileno())
            self._file.close()

    def put(self) -> None:
        """Take the place of whatever stands there."""
        with _refusals_told(self.path):
            self.beside.replace(self.path)
            disk.settle(self.path.parent)

    def drop(self) -> None:
        """Leave nothing behind."""
        with suppress(OSError):
            self._file.close()
        with suppress(OSError):
            self.beside.unlink(missing_ok=True)


def swept(folder: Path) -> None:
    """Take away what killed runs had begun to write in a folder; links are not followed.

    Only for whoever writes there alone.
    """
    for at, _, files in () if folder.is_symlink() else os.walk(folder):
        for name in files:
            if name.startswith(PART):
                with suppress(OSError):
                    (Path(at) / name).unlink()


@contextmanager
def _refusals_told(path: Path) -> Iterator[None]:
    """What the system refuses, as a sentence with a way out."""
    try:
        yield
    except OSError as error:
        raise DeliveryError(
            f"{path} could not be written ({error.strerror or error})",
            way_out=_WAYS_OUT.get(error.errno or 0, "Check the disk and the folder"),
        ) from error


def _taken(path: Path) -> DeliveryError:
    return DeliveryError(
        f"{path} is there already, and is not this run's to overwrite",
        way_out="Move it away, choose another folder, or ask for it to be replaced",
    )


def _written_aside(path: Path, data: bytes) -> Path:
    """A flushed file beside ``path``; nothing is left when writing fails."""
    handle, name = tempfile.mkstemp(prefix=PART, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o666 & ~disk.umask())  # mkstemp makes private files
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _put_in_place(aside: Path, path: Path, *, replace: bool) -> None:
    """Rename; without ``replace`` by a link, which fails when the name is taken."""
    if replace:
        aside.replace(path)
        return
    try:
        os.link(aside, path)
    except FileExistsError:
        raise _taken(path) from None
    except OSError:  # a file system without links: the check before is all there is
        aside.replace(path)
