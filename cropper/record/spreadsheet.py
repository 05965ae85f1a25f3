"""Tables as spreadsheets save them: their encoding, their separator, the order of their dates."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import IO, Final

from cropper import disk
from cropper.errors import MisuseError, RecordError
from cropper.publication.dates import Order, order_of

SEPARATORS: Final = ",;\t|"
MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
"""How a file begins that says its own encoding [Unicode 15.0, section 23.8, table 23-4]."""
OTHERWISE: Final = "cp1252"
"""What a file that is no UTF-8 is read as: Latin-1, with its gaps filled (house)."""
CHUNK: Final = 1 << 20


def encoding_of(path: Path) -> str:
    """The encoding of a text file: as it is marked, else UTF-8 if it is that, else Windows-1252."""
    with disk.plain(path).open("rb") as raw:
        start = raw.read(CHUNK)
        marked = next((name for mark, name in MARKS if start.startswith(mark)), None)
        if marked is not None:
            return marked
        if start[1:4:2] == b"\0\0":
            return "utf-16-le"
        if start[0:3:2] == b"\0\0":
            return "utf-16-be"
        decoder = codecs.getincrementaldecoder("utf-8")()
        try:
            while start:
                decoder.decode(start)
                start = raw.read(CHUNK)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return OTHERWISE
    return "utf-8"


@contextmanager
def opened(path: Path, encoding: str = "") -> Iterator[IO[str]]:
    """The file as text, in ``encoding`` or in the one it seems to have."""
    try:
        with disk.plain(path).open(encoding=encoding or encoding_of(path), newline="") as text:
            yield text
    except LookupError as error:
        raise MisuseError(
            f"'{encoding}' is no encoding that is known here",
            way_out="Try utf-8, utf-16, cp1252 or latin-1",
        ) from error


def rows_of(lines: Iterable[str]) -> csv.DictReader[str]:
    """Rows by their headings, whatever separates the cells; headings without case or spaces.

    Raises :class:`RecordError` for what is no table.
    """
    ahead = iter(lines)
    try:
        heading = next(ahead, "")
        separator = max(SEPARATORS, key=heading.count)
        rows = csv.DictReader(chain([heading], ahead), delimiter=separator)
        rows.fieldnames = [name.strip().casefold() for name in rows.fieldnames or []]
    except (csv.Error, UnicodeDecodeError) as error:
        raise RecordError(f"this is no CSV: {error}", way_out="Check the file") from error
    return rows


def order_in(path: Path, columns: Iterable[str], encoding: str = "") -> Order | None:
    """Whether the dates of a file have the day or the month first; None when no date tells.

    Raises :class:`MisuseError` when some tell the one and some the other.
    """
    found: dict[Order, str] = {}
    wanted = tuple(columns)
    with opened(path, encoding) as text:
        try:
            for row in rows_of(text):
                for name in wanted:
                    cell = row.get(name) or ""
                    order = order_of(cell)
                    if order is not None:
                        found.setdefault(order, cell)
        except (csv.Error, UnicodeDecodeError):
            return None  # whoever reads the rows names the one at fault
    if len(found) > 1:
        told = " and ".join(f"'{cell}'" for cell in found.values())
        raise MisuseError(
            f"{path}: {told} cannot both be dates of one kind",
            way_out="Write dates as 2026-03-01",
        )
    return next(iter(found), None)
