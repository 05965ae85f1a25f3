"""Texts beside the deliverables: copy-ready words for each file, and snippets for the web.

They lie in ``texts/`` below the deliverables and are listed in the manifest with their digests,
which is how the next export knows which are its own to renew or take away.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path, PurePosixPath
from typing import Final

from cropper.deliverable.manifest import Delivered, TextFile
from cropper.deliverable.manifest_reading import rows_of
from cropper.deliverable.naming import first_free, folded
from cropper.deliverable.snippets import (
    copy_text,
    image_families,
    open_graph_snippet,
    srcset_snippet,
)
from cropper.deliverable.worded import Worded
from cropper.deliverable.writing import write_whole
from cropper.disk import plain
from cropper.errors import DeliveryError

FOLDER: Final = "texts"
PLAIN: Final = (".jpg", ".png")
"""Kinds that every reader of link previews shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoken:
    """A delivered file with its words; ``on_pages``: its destination is for web pages.

    ``preflight``: what a press PDF was found to hold, in sentences.
    """

    row: Delivered
    worded: Worded
    on_pages: bool = False
    preflight: tuple[str, ...] = ()


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


def texts_of(spoken: Sequence[Spoken], taken: set[str]) -> tuple[list[Text], list[Delivered]]:
    """Every text of these files, and their rows with the place of their words in them.

    ``taken`` (folded) are the names that others have; it grows.
    """
    texts, rows = [], []
    for one in spoken:
        words = copy_text(one.worded, title=PurePosixPath(one.row.file).name)
        name = text_name(one.row.file, "txt", taken) if words else None
        if name is not None:
            texts.append(Text(file=name, content=words))
        rows.append(replace(one.row, text=name))
        if one.preflight:
            title = f"{PurePosixPath(one.row.file).name}: what is in it"
            page = "\n".join((title, "", *one.preflight, ""))
            stem = PurePosixPath(one.row.file).with_suffix("")
            texts.append(Text(file=text_name(f"{stem}_preflight.txt", "txt", taken), content=page))
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


class TextFolder:
    """The texts beside the deliverables while an export puts them there.

    ``before``: file -> digest of last time.
    """

    def __init__(self, folder: Path, before: Mapping[str, str]) -> None:
        self._folder, self._before = folder, before
        self._there: dict[str, TextFile] = {}
        self._said: list[str] = []

    def put(self, texts: Iterable[Text]) -> None:
        """Write what changed; somebody else's file is left alone, and that is remarked."""
        for text in texts:
            try:
                self._there[text.file] = _put(self._folder, text, self._before)
            except DeliveryError as error:
                self._said.append(str(error))

    def close(self, *, keep: bool = False) -> tuple[tuple[TextFile, ...], tuple[str, ...]]:
        """Take away what is stale; gives what lies there now, and the remarks.

        ``keep``: nothing is stale, because pictures of before are still there.
        """
        folder, before, there = self._folder, self._before, self._there
        for name in before.keys() - there.keys():
            if not (_inside(folder, name) and _digest(folder / name) == before[name]):
                continue
            if keep:
                there[name] = TextFile(file=name, sha256=before[name])
            else:
                (folder / name).unlink(missing_ok=True)
        return tuple(there[name] for name in sorted(there)), tuple(self._said)


def _put(folder: Path, text: Text, before: Mapping[str, str]) -> TextFile:
    data, path = text.content.encode(), folder / text.file
    mine, there = hashlib.sha256(data).hexdigest(), _digest(path)
    if there not in {None, mine, before.get(text.file)}:
        raise DeliveryError(
            f"{path} was made or changed by somebody else, and is left as it is",
            way_out="Move it away to have it written again",
        )
    if there != mine:
        write_whole(path, data, replace=there is not None, within=folder)
    return TextFile(file=text.file, sha256=mine)


def texts_before(manifest: Path) -> dict[str, str]:
    """What the manifest there lists; empty where there is none, or one of before texts."""
    try:
        return {str(one["file"]): str(one["sha256"]) for one in rows_of(manifest, "texts")}
    except (OSError, ValueError, TypeError, KeyError):
        return {}


def _inside(folder: Path, name: str) -> bool:
    """Whether a name out of a manifest stays in the folder of texts, links followed."""
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or path.parts[:1] != (FOLDER,) or "\0" in name:
        return False
    return (folder / name).resolve().is_relative_to(folder.resolve() / FOLDER)


def _digest(path: Path) -> str | None:
    try:
        return hashlib.sha256(plain(path).read_bytes()).hexdigest()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise DeliveryError(
            f"{path} cannot be read ({error.strerror or error})",
            way_out="Look at what stands in the way there",
        ) from error
