"""Where results and talk go: a stream that is closed or full stops no work.

Nothing that is written fails. Whether all of it arrived is known at the end, and one exit code
says so.
"""

from __future__ import annotations

import io
import os
import sys
from typing import TYPE_CHECKING, Final, TextIO

if TYPE_CHECKING:
    from typing_extensions import Buffer

STDIN: Final = 0
STDOUT: Final = 1
STDERR: Final = 2


class _Steady(io.FileIO):
    """An open stream whose writes never raise; ``lost`` says whether one did not arrive."""

    lost = False

    def write(self, data: Buffer) -> int:
        """All of ``data``, as far as it can be written."""
        view = memoryview(data).cast("B")
        try:
            return super().write(view) or 0
        except OSError:
            self.lost = True
            return len(view)


class Streams:
    """The two streams of a run, made steady."""

    def __init__(self) -> None:
        self._closed = [one for one in (STDIN, STDOUT, STDERR) if _opened(one)]
        self._raw: list[_Steady] = []
        sys.stdout = self._steady(sys.stdout, STDOUT)
        sys.stderr = self._steady(sys.stderr, STDERR)

    def _steady(self, stream: TextIO | None, number: int) -> TextIO:
        """The same stream, steady; one that leads elsewhere already is left as it is."""
        if stream is not None and not _leads_to(stream, number):
            return stream
        raw = _Steady(number, "wb", closefd=False)
        self._raw.append(raw)
        return io.TextIOWrapper(
            io.BufferedWriter(raw),
            encoding=stream.encoding if stream else "utf-8",
            errors="backslashreplace",  # a name that is no text is told all the same
            line_buffering=number == STDERR or raw.isatty(),
        )

    def lost(self) -> bool:
        """Whether something did not arrive; all that waits is written first."""
        sys.stdout.flush()
        sys.stderr.flush()
        return (
            STDOUT in self._closed or STDERR in self._closed or any(one.lost for one in self._raw)
        )


def _opened(number: int) -> bool:
    """Whether a stream was closed; then it is opened to nowhere, or a file would get its number."""
    try:
        os.fstat(number)
    except OSError:
        os.open(os.devnull, os.O_RDWR)
        return True
    return False


def _leads_to(stream: TextIO, number: int) -> bool:
    try:
        return stream.fileno() == number
    except (OSError, ValueError):
        return False
