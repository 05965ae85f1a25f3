"""The files that the last export left in the job's folder, with the words that they carry.

A file is shown by the name that the manifest has for it, and by no other path.
"""

from __future__ import annotations

import json
from pathlib import Path, PurePosixPath
from typing import Any, Final
from urllib.parse import quote

import pyvips

from cropper.destination.formats import FORMATS
from cropper.disk import plain, refuse_links
from cropper.errors import MisuseError
from cropper.job.store import DELIVERABLES
from cropper.master.own_words import read_own_words

MANIFEST: Final = "manifest.json"
LISTED: Final = 300
"""Of more files, the rest stands in the manifest alone (house)."""
MEDIA: Final = {f".{one.ending}": one.media_type for one in FORMATS.values()}


def files_told(job: Path) -> list[dict[str, Any]]:
    """The first files of the manifest: name, address, and the words read from each file itself."""
    folder = job / DELIVERABLES
    told = []
    for name in _names(folder)[:LISTED]:
        words = _words(folder, name)
        told.append({"name": name, "address": f"/file/{quote(name)}", **words})
    return told


def _names(folder: Path) -> list[str]:
    try:
        manifest = json.loads(plain(folder / MANIFEST).read_bytes())
        return [str(row["file"]) for row in manifest["delivered"]]
    except (OSError, ValueError, KeyError, TypeError):
        return []


def _words(folder: Path, name: str) -> dict[str, str]:
    nothing = {"alt": "", "caption": "", "credit": ""}
    try:
        image = pyvips.Image.new_from_file(str(_path(folder, name)))
        xmp = bytes(image.get("xmp-data")) if image.get_typeof("xmp-data") else b""
    except (MisuseError, pyvips.Error):
        return nothing
    own = read_own_words(xmp=xmp)
    return {"alt": own.alt_text, "caption": own.caption, "credit": own.credit}


def _path(folder: Path, name: str) -> Path:
    """Where a file of the manifest lies; refuses links and ways out of the folder."""
    parts = PurePosixPath(name).parts
    path = folder.joinpath(*parts)
    if not parts or ".." in parts or PurePosixPath(name).is_absolute():
        raise MisuseError("there is no such file")
    try:
        refuse_links(path, folder.parent)
        plain(path)
    except OSError as error:
        raise MisuseError("this file is a link or a device") from error
    if not path.is_file():
        raise MisuseError(f"{name} is not there any more", way_out="Write the files again")
    return path


def file_named(job: Path, name: str) -> tuple[bytes, str]:
    """A delivered file and its media type; :class:`MisuseError` for any other name."""
    folder = job / DELIVERABLES
    if name not in _names(folder):
        raise MisuseError("there is no such file", way_out="Write the files first")
    path = _path(folder, name)
    return path.read_bytes(), MEDIA.get(path.suffix.lower(), "application/octet-stream")
