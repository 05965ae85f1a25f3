"""How deep and how long JSON of a job folder may be, looked at before a parser sees it.

The compiled parser takes a number of any length and nests without end: six thousand digits end
the process, a hundred thousand brackets fill the memory. Whatever streams JSON reads through
:class:`Bounded`. Python's own ``json`` and pydantic keep such bounds by themselves.
"""

from __future__ import annotations

import re
from typing import IO, Final

DEEPEST: Final = 64
"""Nested brackets (house): no file of ours has more than eight."""
LONGEST_NUMBER: Final = 1000
"""Characters of a number (house): the longest float of Python has 24, a fraction's part fewer."""
LONGEST_TEXT: Final = 1 << 20
"""Bytes of a text (house): a caption or a name, never a megabyte."""
LONGEST_VALUE: Final = 1 << 26
"""Bytes of one row, which is held in memory (house): 64 MB, where a row has some 4 kB."""
ROW_DEPTH: Final = 3
"""Deeper than this, bytes belong to one row: the object, its list or folder, the row."""

_TEXT: Final = re.compile(rb'"(?:[^"\\]++|\\.)*+"', re.DOTALL)
_NOT_BRACKETS: Final = bytes(one for one in range(256) if one not in b"[]{}")
_NUMBER: Final = re.compile(rb"[0-9.eE+-]{%d,}" % LONGEST_NUMBER)
_NUMBER_TAIL: Final = re.compile(rb"[0-9.eE+-]+\Z")


class Bounded:
    """A binary file whose ``read`` raises :class:`ValueError` where the JSON leaves its bounds."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self._carried = b""  # a text or a number that the last chunk cut in two
        self._depth = self._inside = 0

    def read(self, size: int = -1) -> bytes:
        """The next bytes of the file, once they are known to be within bounds."""
        data = self._file.read(size)
        if data:
            self._look(data)
        return data

    def _look(self, data: bytes) -> None:
        bare = _TEXT.sub(b"", self._carried + data)
        begun = bare.find(b'"')
        if begun >= 0:
            bare, self._carried = bare[:begun], bare[begun:]
            if len(self._carried) > LONGEST_TEXT:
                raise ValueError("a text is longer than any file of this program has")
        elif tail := _NUMBER_TAIL.search(bare):
            self._carried = tail.group()
        else:
            self._carried = b""
        if _NUMBER.search(bare):
            raise ValueError("a number is longer than any file of this program has")
        self._nest(bare)
        self._inside = self._inside + len(data) if self._depth >= ROW_DEPTH else 0
        if self._inside > LONGEST_VALUE:
            raise ValueError("a row is longer than any file of this program has")

    def _nest(self, bare: bytes) -> None:
        depth, shallowest = self._depth, self._depth
        for one in bare.translate(None, _NOT_BRACKETS):
            depth += 1 if one in b"[{" else -1
            shallowest = min(shallowest, depth)
            if depth > DEEPEST:
                raise ValueError("it is nested deeper than any file of this program is")
        if shallowest < ROW_DEPTH:
            self._inside = 0
        self._depth = depth
