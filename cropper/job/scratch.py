"""Scratch paper of an export: what is too long for the memory, in a nameless file of this machine.

It is gone with the run, and nothing rests on it after a kill: what must last stands in the
ledger's own files. A table of it is looked up in the same time however long it is.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final

_TABLES: Final = """
PRAGMA journal_mode = OFF;
PRAGMA synchronous = OFF;
CREATE TABLE entry (
    number INTEGER PRIMARY KEY, folder TEXT, file TEXT, version TEXT, destination TEXT, said TEXT,
    UNIQUE (folder, file)
);
CREATE INDEX owner ON entry (folder, version, destination);
CREATE TABLE word (kind TEXT, word TEXT, PRIMARY KEY (kind, word)) WITHOUT ROWID;
CREATE TABLE jotted (number INTEGER PRIMARY KEY, said TEXT);
CREATE TABLE earlier (
    number INTEGER PRIMARY KEY, file TEXT UNIQUE, version TEXT, destination TEXT, said TEXT
);
CREATE INDEX earlier_owner ON earlier (version, destination);
"""


class Scratch:
    """Entries by folder and file, words that were said, and lines in their order."""

    def __init__(self) -> None:
        self._paper = sqlite3.connect("", isolation_level=None)
        self._paper.executescript(_TABLES)

    def put(self, folder: str, file: str, owner: tuple[str, str], said: str) -> None:
        """An entry, the newest of all; ``owner`` is its version and destination."""
        self._paper.execute(
            "INSERT OR REPLACE INTO entry (folder, file, version, destination, said)"
            " VALUES (?, ?, ?, ?, ?)",
            (folder, file, *owner, said),
        )

    def drop(self, folder: str, file: str) -> None:
        """Forget an entry."""
        self._paper.execute("DELETE FROM entry WHERE folder = ? AND file = ?", (folder, file))

    def said_of(self, folder: str, file: str) -> str | None:
        """What an entry says."""
        asked = "SELECT said FROM entry WHERE folder = ? AND file = ?"
        return self._one(asked, folder, file)

    def file_of(self, folder: str, owner: tuple[str, str]) -> str | None:
        """The newest file of this version for this destination."""
        asked = (
            "SELECT file FROM entry WHERE folder = ? AND version = ? AND destination = ?"
            " ORDER BY number DESC LIMIT 1"
        )
        return self._one(asked, folder, *owner)

    def files(self, folder: str) -> Iterator[str]:
        """The files of a folder, oldest first; nothing may be written meanwhile."""
        asked = "SELECT file FROM entry WHERE folder = ? ORDER BY number"
        return (file for (file,) in self._paper.execute(asked, (folder,)))

    def folders(self) -> Iterator[tuple[str, Iterator[tuple[str, str]]]]:
        """Every folder with its files and what their entries say, as they first came."""
        asked = "SELECT folder FROM entry GROUP BY folder ORDER BY min(number)"
        rows = "SELECT file, said FROM entry WHERE folder = ? ORDER BY number"
        for (folder,) in self._paper.execute(asked).fetchall():
            yield folder, self._paper.execute(rows, (folder,))

    def say(self, kind: str, word: str) -> bool:
        """Say a word; whether nobody had said it before."""
        said = self._paper.execute("INSERT OR IGNORE INTO word VALUES (?, ?)", (kind, word))
        return said.rowcount == 1

    def was_said(self, kind: str, word: str) -> bool:
        """Whether somebody said it."""
        return self._one("SELECT 1 FROM word WHERE kind = ? AND word = ?", kind, word) is not None

    def jot(self, line: str) -> None:
        """One more line."""
        self._paper.execute("INSERT INTO jotted (said) VALUES (?)", (line,))

    def jotted(self) -> Iterator[str]:
        """All lines, in order."""
        asked = "SELECT said FROM jotted ORDER BY number"
        return (said for (said,) in self._paper.execute(asked))

    def put_earlier(self, file: str, owner: tuple[str, str], said: str) -> None:
        """A row of the manifest that stood there before; ``owner`` as in :meth:`put`."""
        self._paper.execute(
            "INSERT OR REPLACE INTO earlier (file, version, destination, said) VALUES (?, ?, ?, ?)",
            (file, *owner, said),
        )

    def earlier(self, owner: tuple[str, str]) -> Iterator[str]:
        """What the earlier manifest said of this version for this destination, newest first."""
        asked = (
            "SELECT said FROM earlier WHERE version = ? AND destination = ? ORDER BY number DESC"
        )
        return (said for (said,) in self._paper.execute(asked, owner).fetchall())

    def close(self) -> None:
        """Throw it away."""
        self._paper.close()

    def _one(self, asked: str, *values: str) -> str | None:
        row = self._paper.execute(asked, values).fetchone()
        return None if row is None else row[0]
