"""Pictures named one by one, as folders, or as patterns: which files are meant, in what order."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

ENDINGS: Final = frozenset(
    {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".avif", ".jp2"}
)
"""Files of a folder with these endings are taken for pictures; a file named by hand always is."""


def pictures(given: Iterable[Path]) -> tuple[Path, ...]:
    """Every picture that is meant, each once, in the order given and by name within a folder.

    A folder means all pictures in it and below it; hidden files and folders, and links to folders,
    are passed over. A pattern (``*``, ``?``, ``[...]``, ``**``) that is no file's own name is
    unfolded. What holds no picture is kept as it is, to be told like a file that is not there.
    """
    meant: dict[str, Path] = {}
    for one in given:
        for path in _meant(one):
            meant.setdefault(os.path.realpath(path) if path.exists() else str(path), path)
    return tuple(meant.values())


def _meant(one: Path) -> Iterator[Path]:
    """What one name means; where it means nothing, itself: it is told as a file that fails."""
    if one.is_dir():
        found = tuple(_below(one))
    elif one.exists() or not glob.has_magic(str(one)):
        found = (one,)
    else:
        found = tuple(_unfolded(one))
    yield from found or (one,)


def _unfolded(pattern: Path) -> Iterator[Path]:
    found = sorted(glob.glob(str(pattern), recursive=True))  # noqa: PTH207 - ** in one pattern
    files = (Path(one) for one in found)
    yield from (one for one in files if one.is_file() and one.suffix.lower() in ENDINGS)


def _below(folder: Path) -> Iterator[Path]:
    """Pictures of a folder and below, in the order of their names."""
    for at, folders, files in os.walk(folder):
        folders[:] = sorted(one for one in folders if not one.startswith("."))
        for name in sorted(files):
            if not name.startswith(".") and Path(name).suffix.lower() in ENDINGS:
                yield Path(at) / name
