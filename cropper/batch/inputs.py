"""Pictures named one by one, as folders, or as patterns: which files are meant, in what order."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from cropper.master.stored import StoredPath, listed

ENDINGS: Final = frozenset(
    {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".avif", ".jp2"}
)
"""Files of a folder with these endings are taken for pictures; a file named by hand always is."""


def pictures(given: Iterable[Path]) -> tuple[Path, ...]:
    """Every picture that is meant, each once, in the order given and by name within a folder.

    A folder means all pictures in it and below it; hidden files and folders, and links to folders,
    are passed over. A pattern (``*``, ``?``, ``[...]``, ``**``) that is no file's own name is
    unfolded. So are folders and patterns on storage (:mod:`cropper.master.stored`). What holds no
    picture is kept as it is, to be told like a file that is not there.
    """
    meant: dict[str, Path] = {}
    for one in given:
        for path in _meant(one):
            meant.setdefault(_identity(path), path)
    return tuple(meant.values())


def _identity(path: Path) -> str:
    """The same for two ways to one file; storage is not asked: its addresses have no links."""
    if isinstance(path, StoredPath) or not path.exists():
        return str(path)
    return os.path.realpath(path)


def _picture(path: Path) -> bool:
    return path.suffix.lower() in ENDINGS


def _meant(one: Path) -> Iterator[Path]:
    """What one name means; where it means nothing, itself: it is told as a file that fails."""
    found: tuple[Path, ...]
    if isinstance(one, StoredPath):
        found = (one,) if one.is_file() else tuple(filter(_picture, listed(one)))
    elif one.is_dir():
        found = tuple(_below(one))
    elif one.exists() or not glob.has_magic(str(one)):
        found = (one,)
    else:
        found = tuple(_unfolded(one))
    yield from found or (one,)


def _unfolded(pattern: Path) -> Iterator[Path]:
    found = sorted(glob.glob(str(pattern), recursive=True))  # noqa: PTH207 - ** in one pattern
    files = (Path(one) for one in found)
    yield from (one for one in files if one.is_file() and _picture(one))


def _below(folder: Path) -> Iterator[Path]:
    """Pictures of a folder and below, in the order of their names."""
    for at, folders, files in os.walk(folder):
        folders[:] = sorted(one for one in folders if not one.startswith("."))
        for name in sorted(files):
            if not name.startswith(".") and _picture(Path(name)):
                yield Path(at) / name
