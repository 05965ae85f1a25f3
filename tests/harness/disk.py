"""A folder whose every step is overheard, and what is left of it if all ends just there.

Nothing of the program is replaced but ``os.fsync``: the interpreter tells of each file that is
opened to be written, renamed, linked or removed *before* it happens. What a run leaves that is
killed there is the folder as it stands, perhaps with the last write cut short. What a power cut
leaves is worse: bytes count once their file was flushed, names once their folder was, and of the
rest any part may be there.
"""

from __future__ import annotations

import os
import random
import stat
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest.mock import patch

Tree = Mapping[str, bytes | None]
"""Below the folder: name -> content; None for a folder."""

WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT
PLACES: Mapping[str, int] = {
    "os.rename": 2,
    "os.link": 2,
    "os.remove": 1,
    "os.rmdir": 1,
    "os.mkdir": 1,
    "os.truncate": 1,
    "os.symlink": 2,
}
"""Steps besides opening, and how many of their words are paths."""


@dataclass(slots=True, eq=False)
class _Paper:
    """A file by whatever name; ``flushed`` None: never."""

    live: bytes = b""
    flushed: bytes | None = None
    before: bytes | None = None

    @property
    def lasting(self) -> bytes:
        return self.flushed or b""

    @property
    def torn(self) -> bytes:
        """What is there when the last write came halfway."""
        if self.before is None or self.before == self.live:
            return self.live
        since = len(self.before) if self.live.startswith(self.before) else 0
        return self.live[: since + (len(self.live) - since) // 2]


_Folder = dict[str, "_Paper | None"]


@dataclass(frozen=True, slots=True)
class Left:
    """What lies there when all ends before ``step``; ``how`` it ended."""

    step: str
    how: str
    tree: Tree


Hears = Callable[[int, str], None]


@dataclass(slots=True)
class Disk:
    """``root``, which is there; ``hears`` each step, and may raise what the system would.

    ``noting`` False: only count the steps.
    """

    root: Path
    hears: Hears = lambda _number, _step: None
    dice: random.Random = field(default_factory=lambda: random.Random(1))  # noqa: S311
    noting: bool = True
    steps: int = 0
    left: list[Left] = field(default_factory=list)
    _papers: dict[int, _Paper] = field(default_factory=dict)
    _live: dict[str, _Folder] = field(default_factory=dict)
    _kept: dict[str, _Folder] = field(default_factory=dict)
    _busy: bool = False

    @contextmanager
    def watched(self) -> Iterator[None]:
        """Overhear what is done meanwhile; all that is there before counts as flushed."""
        self._look()
        for paper in self._papers.values():
            paper.flushed = paper.live
        self._kept = {at: dict(names) for at, names in self._live.items()}
        true = os.fsync
        _hook_in()
        with patch("os.fsync", lambda handle: self._flush(handle, true)):
            _WATCHED.append(self)
            try:
                yield
            finally:
                _WATCHED.remove(self)
                self._note("the end")

    def step(self, what: str) -> None:
        """Note what would be left if all ended before ``what``."""
        self._note(what)
        self.steps += 1
        self.hears(self.steps, what)

    def _note(self, what: str) -> None:
        if not self.noting:
            return
        self._busy = True
        try:
            self._look()
            ways: dict[str, Tree] = {
                "killed": self._named(lambda one: one.live),
                "killed in the middle of a write": self._named(lambda one: one.torn),
                "power cut, the names were faster": self._named(lambda one: one.lasting),
                "power cut, only what was flushed": self.lasting(),
                "power cut, some of each": self._by_chance(),
            }
            self.left.extend(Left(what, how, tree) for how, tree in ways.items())
        finally:
            self._busy = False

    def overheard(self, event: str, words: tuple[Any, ...]) -> None:
        """An audit event of the interpreter, about whatever path."""
        if self._busy:
            return
        if event == "open":
            path, mode, flags = words[:3]
            if isinstance(path, int) or not (flags & WRITING or set(mode or "") & set("wax+")):
                return
            names = [path]
        else:
            names = [one for one in words[: PLACES[event]] if not isinstance(one, int)]
        below = [one for one in map(self._below, names) if one is not None]
        if below:
            self.step(f"{event.removeprefix('os.')} {' -> '.join(below)}")

    def lasting(self) -> Tree:
        """What was flushed, by the names that were."""
        return self._tree(self._kept, lambda _at, names: names, lambda one: one.lasting)

    def now(self) -> Tree:
        """What lies there."""
        self._look()
        return self._named(lambda one: one.live)

    def _flush(self, handle: int, true: Callable[[int], None]) -> None:
        at = self._below(Path(f"/proc/self/fd/{handle}").readlink())
        if at is None:
            true(handle)
            return
        try:
            self.step(f"flush {at}")
        except OSError:
            half = os.fstat(handle)
            if stat.S_ISREG(half.st_mode):
                os.ftruncate(handle, half.st_size // 2)  # the disk took no more
            raise
        if not self.noting:
            return
        self._look()
        seen = os.fstat(handle)
        if stat.S_ISDIR(seen.st_mode):
            self._kept["" if at == "." else at] = dict(self._live["" if at == "." else at])
        elif seen.st_ino in self._papers:
            paper = self._papers[seen.st_ino]
            paper.flushed = paper.live

    def _below(self, path: str | bytes | os.PathLike[str]) -> str | None:
        full = Path(os.path.abspath(os.fsdecode(path)))  # noqa: PTH100 - links are not followed
        return full.relative_to(self.root).as_posix() if full.is_relative_to(self.root) else None

    def _look(self) -> None:
        busy, self._busy = self._busy, True
        there: dict[int, _Paper] = {}
        self._live = {}
        for at, folders, files in os.walk(self.root):
            here: _Folder = dict.fromkeys(folders)
            for name in files:
                path = Path(at) / name
                number = path.lstat().st_ino
                paper = there.get(number) or self._papers.get(number) or _Paper()
                if number not in there:
                    known = number in self._papers
                    paper.before = paper.live if known else b""
                    paper.live = path.read_bytes()
                    there[number] = paper
                here[name] = paper
            relative = Path(at).relative_to(self.root).as_posix()
            self._live["" if relative == "." else relative] = here
        self._papers = there
        self._busy = busy

    def _named(self, content: Callable[[_Paper], bytes]) -> Tree:
        return self._tree(self._live, lambda _at, names: names, content)

    def _by_chance(self) -> Tree:
        """Each name as it was flushed or as it is, and each file's bytes likewise."""

        def names(at: str, kept: _Folder) -> _Folder:
            live = self._live.get(at, {})
            mixed: _Folder = {}
            for name in sorted({*kept, *live}):
                side = self.dice.choice((kept, live))
                if name in side:
                    mixed[name] = side[name]
            return mixed

        def content(one: _Paper) -> bytes:
            return self.dice.choice((one.lasting, one.live, one.torn))

        everywhere = {at: self._kept.get(at, {}) for at in {*self._kept, *self._live}}
        return self._tree(everywhere, names, content)

    @staticmethod
    def _tree(
        folders: Mapping[str, _Folder],
        names: Callable[[str, _Folder], _Folder],
        content: Callable[[_Paper], bytes],
    ) -> Tree:
        told: dict[str, bytes | None] = {}
        ways = [""]
        for at in ways:
            for name, paper in names(at, folders.get(at, {})).items():
                way = f"{at}/{name}".removeprefix("/")
                told[way] = None if paper is None else content(paper)
                if paper is None:
                    ways.append(way)
        return told


def laid_out(tree: Tree, root: Path) -> None:
    """Make the folder ``root`` hold just this."""
    root.mkdir(parents=True)
    for name in sorted(tree):
        content = tree[name]
        if content is None:
            (root / name).mkdir(exist_ok=True)
        else:
            (root / name).write_bytes(content)


def failing(at: int, number: int, *, for_good: bool = False) -> Hears:
    """The system refuses step ``at`` with ``number``, or each from there on."""

    def hears(step: int, what: str) -> None:
        if step == at or (for_good and step > at):
            raise OSError(number, os.strerror(number), what)

    return hears


_WATCHED: list[Disk] = []
_hooked: list[bool] = []


def _hook_in() -> None:
    """An audit hook cannot be taken out again, so there is one, and it hears seldom."""
    if not _hooked:
        _hooked.append(True)
        sys.addaudithook(_overheard)


def _overheard(event: str, words: tuple[Any, ...]) -> None:
    if _WATCHED and (event == "open" or event in PLACES):
        for disk in tuple(_WATCHED):
            disk.overheard(event, words)
