"""Texts beside the deliverables: copy-ready words for each file, and snippets for the web.

They lie in ``texts/`` below the deliverables and are listed in the manifest with their digests,
which is how the next export knows which are its own to renew or take away.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path, PurePosixPath
from typing import Final

from cropper.deliverable.manifest import Delivered, TextFile
from cropper.deliverable.naming import first_free, folded
from cropper.deliverable.snippets import (
    copy_text,
    image_families,
    open_graph_snippet,
    srcset_snippet,
)
from cropper.deliverable.worded import Worded
from cropper.deliverable.writing import write_whole
from cropper.errors import DeliveryError

FOLDER: Final = "texts"
PLAIN: Final = (".jpg", ".png")
"""Kinds that every reader of link previews shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoken:
    """A delivered file with its words; ``on_pages``: its destination is for web pages."""

    row: Delivered
    worded: Worded
    on_pages: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A text to be written: its path below the folder of the deliverables."""

    file: str
    content: str


def text_name(file: str, ending: str, taken: set[str]) -> str:
    """Where the text about a deliverable lies; ``taken`` (folded) grows by it.

    >>> text_name("client/shawl_story.jpg", "txt", set())
    'texts/client/shawl_story.txt'
    """
    stem = PurePosixPath(FOLDER) / PurePosixPath(file).with_suffix("")
    name = first_free(f"{stem}.{ending}", taken)
    taken.add(folded(name))
    return name


def texts_of(spoken: Sequence[Spoken]) -> tuple[list[Text], list[Delivered]]:
    """Every text of these files, and their rows with the place of their words in them."""
    texts, rows, taken = [], [], set[str]()
    for one in spoken:
        words = copy_text(one.worded, title=PurePosixPath(one.row.file).name)
        name = text_name(one.row.file, "txt", taken) if words else None
        if name is not None:
            texts.append(Text(file=name, content=words))
        rows.append(replace(one.row, text=name))
    return [*texts, *_snippets(spoken, taken)], rows


def _snippets(spoken: Sequence[Spoken], taken: set[str]) -> Iterator[Text]:
    """One HTML text for each family of files that show the same crop on web pages."""
    pages = sorted((one for one in spoken if one.on_pages), key=_version)
    for _, group in groupby(pages, key=_version):
        mine = list(group)
        words = {one.row.file: one.worded for one in mine}
        for family in image_families(one.row for one in mine):
            largest = max(family, key=lambda row: (row.file.endswith(PLAIN), row.width))
            worded = words[largest.file]
            content = srcset_snippet(family, worded) + "\n" + open_graph_snippet(largest, worded)
            yield Text(file=text_name(largest.file, "html", taken), content=content)


def _version(one: Spoken) -> str:
    return one.row.version


def put_texts(
    folder: Path, texts: Iterable[Text], before: Mapping[str, str], *, keep: bool = False
) -> tuple[tuple[TextFile, ...], tuple[str, ...]]:
    """Write what changed and take away what is stale; ``before``: file -> digest of last time.

    ``keep``: nothing is stale, because pictures of before are still there. Gives what lies there
    now, and sentences about files that are not ours to touch.
    """
    there, said = {}, []
    for text in texts:
        try:
            there[text.file] = _put(folder, text, before)
        except DeliveryError as error:
            said.append(str(error))
    for name in before.keys() - there.keys():
        if not (_inside(name) and _digest(folder / name) == before[name]):
            continue
        if keep:
            there[name] = TextFile(file=name, sha256=before[name])
        else:
            (folder / name).unlink(missing_ok=True)
    return tuple(there[name] for name in sorted(there)), tuple(said)


def _put(folder: Path, text: Text, before: Mapping[str, str]) -> TextFile:
    data, path = text.content.encode(), folder / text.file
    mine, there = hashlib.sha256(data).hexdigest(), _digest(path)
    if there not in {None, mine, before.get(text.file)}:
        raise DeliveryError(
            f"{path} was made or changed by somebody else, and is left as it is",
            way_out="Move it away to have it written again",
        )
    if there != mine:
        write_whole(path, data, replace=there is not None)
    return TextFile(file=text.file, sha256=mine)


def texts_before(manifest: Path) -> dict[str, str]:
    """What the manifest there lists; empty where there is none, or one of before texts."""
    try:
        rows = json.loads(manifest.read_text(encoding="utf-8"))["texts"]
        return {str(one["file"]): str(one["sha256"]) for one in rows}
    except (OSError, ValueError, TypeError, KeyError):
        return {}


def _inside(name: str) -> bool:
    """Whether a name out of a manifest stays in the folder of texts."""
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts and path.parts[:1] == (FOLDER,)


def _digest(path: Path) -> str | None:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise DeliveryError(
            f"{path} cannot be read ({error.strerror or error})",
            way_out="Look at what stands in the way there",
        ) from error
