"""Headline, caption and alt text of one version: read for the page, and kept in ``words.toml``.

The file stays the photographer's: comments, order and everything else in it are left as they are.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError

from cropper.disk import plain
from cropper.errors import PresetError
from cropper.job.store import write_text
from cropper.job.wording_reading import WORDS_FILE, from_text, read_words

FIELDS: Final = ("headline", "caption", "alt_text")
SAID: Final = {"headline": "headline", "caption": "caption", "alt_text": "alt text"}


def words_told(job: Path, version: str) -> dict[str, Any]:
    """The version's own texts, what it has from the whole job, and what is missing.

    A file with faults gives its faults in a sentence, and no words.
    """
    try:
        words = read_words(job)
    except PresetError as error:
        return {**dict.fromkeys(FIELDS, ""), "shared": {}, "missing": [], "problem": str(error)}
    own = [one for one in words.told if one.version == version and not one.language]
    whole = [one for one in words.told if not one.version and not one.language]
    told = {name: next((getattr(one, name) for one in own), "") for name in FIELDS}
    shared = {name: next((getattr(one, name) for one in whole), "") for name in FIELDS}
    missing = [SAID[name] for name in FIELDS if not told[name] and not shared[name]]
    return {**told, "shared": shared, "missing": missing, "problem": ""}


def keep_words(job: Path, version: str, texts: dict[str, str]) -> None:
    """Write the version's texts into ``words.toml``; an empty text is taken out.

    Raises :class:`PresetError` when the file has faults, or would have.
    """
    path = job / WORDS_FILE
    try:
        before = plain(path).read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        before = ""
    except (OSError, UnicodeDecodeError) as error:
        raise PresetError("cannot be read as UTF-8 text", where=(str(path),)) from error
    after = _with_texts(before, version, texts, str(path))
    from_text(after.encode(), file=str(path))
    if after != before:
        write_text(path, after)


def _with_texts(before: str, version: str, texts: dict[str, str], file: str) -> str:
    try:
        document = tomlkit.parse(before)
    except TOMLKitError as error:
        what = f"is not TOML: {error}"
        raise PresetError(what, way_out="Mend that line", where=(file,)) from error
    versions = document.setdefault("version", tomlkit.table(is_super_table=True))
    table = versions.setdefault(version, tomlkit.table())
    for name in FIELDS:
        text = texts.get(name, "").strip()
        if text:
            table[name] = tomlkit.string(text, multiline="\n" in text)
        elif name in table:
            del table[name]
    return tomlkit.dumps(document)
