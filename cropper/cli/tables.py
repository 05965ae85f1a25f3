"""Tables for people, and talk on stderr; a terminal gets colour, a pipe gets plain wide lines."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Final, Protocol

import click

PIPE_WIDTH: Final = 160
"""Columns of a table that goes into a file or another program (house)."""
COLOURS: Final = {
    "holds": "green",
    "bends": "yellow",
    "uncertain": "magenta",
    "breaks": "red",
    "no crop": "red",
}


def print_table(headings: Sequence[str], rows: Iterable[Sequence[str]], title: str = "") -> None:
    """A table on stdout. A verdict's code stands as its word; the colour only repeats it."""
    from rich.console import Console  # noqa: PLC0415 - keeps --help instant
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    listed = list(rows)
    if not listed:
        return  # headings over nothing tell nothing; what went wrong is said on stderr
    width = None if sys.stdout.isatty() else PIPE_WIDTH
    table = Table(box=None, pad_edge=False, title=title or None, title_justify="left")
    for heading in headings:
        table.add_column(heading, overflow="fold")
    for row in listed:
        table.add_row(*(Text(worded(cell), style=COLOURS.get(cell, "")) for cell in row))
    Console(width=width, highlight=False, file=sys.stdout).print(table)


def worded(code: str) -> str:
    """A verdict's word for its code; anything else as it is.

    >>> worded("breaks"), worded("story")
    ('problem', 'story')
    """
    from cropper.proposal.proposal import VERDICT_WORDS, Verdict  # noqa: PLC0415 - keeps --help instant

    return VERDICT_WORDS[Verdict(code)] if code in COLOURS else code


def counted(count: int, noun: str, plural: str = "") -> str:
    """A number with its noun.

    >>> counted(1, "file"), counted(2, "file"), counted(0, "copy", "copies")
    ('1 file', '2 files', '0 copies')
    """
    return f"{count} {noun if count == 1 else plural or noun + 's'}"


def say(sentence: str) -> None:
    """Talk, on stderr. What no terminal can show, such as a name that is no text, is escaped."""
    click.echo(sentence.encode("utf-8", "backslashreplace").decode(), err=True)


class Step(Protocol):
    """Hears how far a long work is."""

    def __call__(self, done: int, of: int, what: str) -> None:
        """``what`` is the thing just done."""
        ...


@contextmanager
def progress(doing: str) -> Iterator[Step]:
    """A bar on stderr while the work lasts; silent when stderr is no terminal."""
    from rich.console import Console  # noqa: PLC0415 - keeps --help instant
    from rich.progress import Progress  # noqa: PLC0415

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task(doing, total=None)

        def step(done: int, of: int, what: str) -> None:
            bar.update(task, completed=done, total=of, description=f"{doing}: {what}")

        yield step
