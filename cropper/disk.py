"""What every writer of files does alike: whole or not at all, lasting, and never through a link.

A name lasts through a power cut once its folder was flushed, so a new folder is flushed into the
one above it, and a renamed file into its own. What the system refuses is an ``OSError``, for the
rooms to put into words; so is what this module refuses.
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any, AnyStr, Final, Literal

LARGEST_WHOLE: Final = 1 << 28
"""Bytes of a file that is read whole (house): 256 MB, where a plan's head has some 100 kB."""
LONGEST_LINE: Final = 1 << 26
"""Bytes of one line of a journal (house): 64 MB, where a line has some 5 kB."""
_LONGEST_STEM: Final = 80
"""Of a name, so much goes into the name aside of it: with what is added it must fit 255 bytes."""


@contextmanager
def whole(path: Path, mode: Literal["w", "wb"] = "w") -> Iterator[IO[Any]]:
    """A file to be written: aside, flushed, then renamed over ``path``; or nothing is left of it.

    Text is UTF-8, line ends as given.
    """
    prefix = f".{path.name[:_LONGEST_STEM]}."
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=prefix, suffix=".part")
    aside, text = Path(name), mode == "w"
    try:
        with os.fdopen(
            handle, mode, encoding="utf-8" if text else None, newline="" if text else None
        ) as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        aside.chmod(0o666 & ~umask())  # mkstemp makes private files
        aside.replace(path)
    except BaseException:
        with suppress(OSError):
            aside.unlink()
        raise
    settle(path.parent)


def made(folder: Path, *, within: Path | None = None) -> None:
    """Make a folder and what lacks above it, lasting; below ``within`` no link may lead on."""
    if within is not None:
        refuse_links(folder, within)
    lacking = []
    at = folder
    while not at.is_dir():
        lacking.append(at)
        at = at.parent
    for one in reversed(lacking):
        one.mkdir(exist_ok=True)
        settle(one.parent)


def refuse_links(path: Path, within: Path) -> None:
    """Raise ``OSError`` when ``path``, or a folder between it and ``within``, is a link."""
    for one in (path, *path.parents):
        if one == within:
            return
        if one.is_symlink():
            said = "a link to somewhere else, and nothing is written through it"
            raise OSError(errno.ELOOP, said, str(one))


def plain(path: Path) -> Path:
    """``path`` itself; raises ``OSError`` when it is a pipe or a device, which may never end."""
    with suppress(FileNotFoundError):
        mode = path.stat().st_mode
        if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
            raise OSError(errno.EINVAL, "it is a pipe or a device, and no file", str(path))
    return path


def short(path: Path) -> Path:
    """``path``, to be read whole; raises ``OSError`` as :func:`plain` does, and when it is huge."""
    with suppress(FileNotFoundError):
        if plain(path).stat().st_size > LARGEST_WHOLE:
            raise OSError(errno.EFBIG, os.strerror(errno.EFBIG), str(path))
    return path


def lines(file: IO[AnyStr]) -> Iterator[AnyStr]:
    """Every line with its end; raises ``OSError`` at one that no program of this house wrote."""
    while line := file.readline(LONGEST_LINE):
        if len(line) == LONGEST_LINE:
            raise OSError(errno.EFBIG, "a line in it is far too long")
        yield line


def spelled(path: Path) -> str:
    """A path as text that every file and terminal takes; bytes that are no UTF-8 become escapes.

    >>> spelled(Path("ilse.jpg"))
    'ilse.jpg'
    """
    return os.fsencode(str(path)).decode("utf-8", "backslashreplace")


def is_text(path: Path) -> bool:
    """Whether a path, as it leads on from the root, can be written down as UTF-8."""
    return spelled(path) == str(path) and spelled(path.absolute()) == str(path.absolute())


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes in hex, however many [FIPS 180-4]; raises ``OSError``."""
    with plain(path).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def settle(folder: Path) -> None:
    """Make the names in a folder last, where the system lets one be flushed."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def umask() -> int:
    """The rights that new files go without; reading it means setting it for an instant."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
