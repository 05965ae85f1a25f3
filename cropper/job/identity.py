"""What makes a master, a destination or an answer the same as last time: digests and names."""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter

from cropper._layout import finite
from cropper.destination.destination import Destination
from cropper.errors import MasterError
from cropper.subject.subject import Finding

CHUNK: Final = 1 << 20
LONGEST_NAME: Final = 80
"""A version's name is cut here: it becomes a part of file names (house)."""


def content_hash(path: Path) -> str:
    """SHA-256 of a file's bytes, hexadecimal; raises :class:`MasterError` if it cannot be read."""
    digest = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while piece := file.read(CHUNK):
                digest.update(piece)
    except OSError as error:
        raise MasterError(
            f"{path} cannot be read ({(error.strerror or str(error)).lower()})",
            way_out="Check the name and that the file is where it was",
        ) from error
    return digest.hexdigest()


def digest(value: Any) -> str:
    """SHA-256 of plain JSON values, independent of the order of keys."""
    text = json.dumps(finite(value), sort_keys=True, ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


@cache
def _destinations() -> TypeAdapter[Destination]:
    return TypeAdapter(Destination)


@cache
def _findings() -> TypeAdapter[Finding]:
    return TypeAdapter(Finding)


def destination_hash(destination: Destination) -> str:
    """Digest of everything a destination asks; where its preset file lies does not count."""
    asked = _destinations().dump_python(destination, mode="json")
    asked.pop("preset_file", None)
    return digest(asked)


def answer_basis(sha256: str, finding: Finding, destination: Destination, rules: str) -> str:
    """Digest of all that an answer rests on: master, subjects, destination, version of the rules."""
    found = _findings().dump_python(finding, mode="json")
    return digest([sha256, found, destination_hash(destination), rules])


def version_name(stem: str) -> str:
    """A file's stem as a version's name: letters, digits, ``-`` and ``_``, never empty.

    >>> version_name("Shawl  (final) v2")
    'Shawl-final-v2'
    """
    plain = unicodedata.normalize("NFC", stem)
    kept = re.sub(r"[^\w-]+", "-", plain).strip("-_")
    return kept[:LONGEST_NAME].strip("-_") or "picture"


def unlike(name: str, taken: Collection[str]) -> str:
    """``name``, or the first of ``name-2``, ``name-3`` ... that nobody has; case does not count.

    >>> unlike("shawl", {"Shawl", "shawl-2"})
    'shawl-3'
    """
    folded = {one.casefold() for one in taken}
    number, trial = 1, name
    while trial.casefold() in folded:
        number += 1
        trial = f"{name}-{number}"
    return trial
