"""What makes a master, a destination or an answer the same as last time: digests and names."""

from __future__ import annotations

import hashlib
import json
import os
import re
import unicodedata
from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter

from cropper import __version__
from cropper._layout import finite
from cropper.destination.destination import Destination
from cropper.master.stored import StoredPath
from cropper.subject.subject import Finding

RULES: Final = f"{__version__} rules 2"
"""Goes into every answer's basis: count it up when the planner's answers change."""
LONGEST_NAME: Final = 80
"""A version's name is cut here: it becomes a part of file names (house)."""


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


def differences(one: Destination, other: Destination) -> tuple[str, ...]:
    """What two definitions of a destination differ in, as the fields are called, in words."""
    mine, theirs = (
        _destinations().dump_python(each, mode="json", exclude={"preset_file"})
        for each in (one, other)
    )
    return tuple(name.replace("_", " ") for name in mine if mine[name] != theirs[name])


def answer_basis(sha256: str, finding: Finding, destination: Destination, rules: str) -> str:
    """Digest of all that an answer rests on: master, subjects, destination and the rules."""
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


def length_of(file: Path) -> int | None:
    """A file's length in bytes; None where it cannot be asked. Storage is not."""
    if isinstance(file, StoredPath):
        return None
    try:
        return file.stat().st_size
    except OSError:
        return None


def way_between(job: Path, file: Path) -> str:
    """The way from the job folder to ``file``, posix; absolute where there is none (other disk).

    A stored file's is its address.
    """
    if isinstance(file, StoredPath):
        return str(file)
    try:
        return Path(os.path.relpath(file.resolve(), job.resolve())).as_posix()
    except ValueError:
        return file.resolve().as_posix()
