"""The manifest written row by row, so that its length costs no memory.

It grows aside and is put in place at the end, and only if it says anything else than the one that
stands there: the time it was made does not count.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from itertools import chain, islice, zip_longest
from pathlib import Path
from typing import Any, Final

from cropper._layout import laid_out_within
from cropper.deliverable.manifest import (
    FIELDS,
    FORMAT,
    MANIFEST,
    MISSING,
    Delivered,
    NotDelivered,
    TextFile,
    cells,
)
from cropper.deliverable.writing import Aside
from cropper.disk import plain

JSON_FILE: Final = MANIFEST
CSV_FILE: Final = "manifest.csv"
NOT_DELIVERED_FILE: Final = "not_delivered.csv"
FIT_A_LINE: Final = 1
"""No more rows than this fit on a line: their keys and a digest alone fill it."""
MADE_AT: Final = b'  "made_at": '


class OpenManifest:
    """A manifest under way: :meth:`add` every row in order, then :meth:`close`."""

    def __init__(self, folder: Path, *, made_by: str, made_at: str, job: str = "") -> None:
        self._asides: list[Aside] = []
        self._rows = 0
        try:
            self._json, self._csv, self._missing = (
                self._begun(folder / name) for name in (JSON_FILE, CSV_FILE, NOT_DELIVERED_FILE)
            )
            for aside, heads in ((self._csv, FIELDS), (self._missing, MISSING)):
                _line(aside, heads)
            head = {"format": FORMAT, "made_by": made_by, "made_at": made_at, "job": job}
            said = "".join(f"  {json.dumps(key)}: {_json(one)},\n" for key, one in head.items())
            self._json.write("{\n" + said + '  "delivered": [')
        except BaseException:
            self.drop()
            raise

    def _begun(self, path: Path) -> Aside:
        aside = Aside(path)
        self._asides.append(aside)
        return aside

    def add(self, row: Delivered) -> None:
        """One more delivered file."""
        before = ",\n    " if self._rows else "\n    "
        self._json.write(before + laid_out_within(asdict(row), 2))
        _line(self._csv, cells(row))
        self._rows += 1

    def close(self, missing: Iterable[NotDelivered], texts: Iterable[TextFile]) -> None:
        """The rest; put in place if anything changed, each file whole or not at all."""
        self._json.write("\n  ]" if self._rows else "]")
        self._json.write(',\n  "not_delivered": ')
        self._list(self._said(missing))
        self._json.write(',\n  "texts": ')
        self._list(map(asdict, texts))
        self._json.write("\n}\n")
        for aside in self._asides:
            aside.close()
        if not (all(one.path.exists() for one in self._asides) and self._says_the_same()):
            for aside in reversed(self._asides):
                aside.put()  # JSON last: a run cut short before it is begun again

    def _said(self, missing: Iterable[NotDelivered]) -> Iterator[dict[str, Any]]:
        for one in missing:
            _line(self._missing, cells(one))
            yield asdict(one)

    def _list(self, rows: Iterator[dict[str, Any]]) -> None:
        """A list row by row; one that may fit on a line is short, and laid out at once."""
        first = list(islice(rows, FIT_A_LINE))
        second = next(rows, None)
        if second is None:
            self._json.write(laid_out_within(first, 1))
            return
        before = "[\n    "
        for row in chain(first, [second], rows):
            self._json.write(before + laid_out_within(row, 2))
            before = ",\n    "
        self._json.write("\n  ]")

    def _says_the_same(self) -> bool:
        """Line by line, the time it was made aside."""
        try:
            with self._json.beside.open("rb") as mine, plain(self._json.path).open("rb") as there:
                return all(
                    one == other or (_tells_time(one) and _tells_time(other))
                    for one, other in zip_longest(mine, there)
                )
        except OSError:
            return False

    def drop(self) -> None:
        """Leave nothing half done."""
        for aside in self._asides:
            aside.drop()


@contextmanager
def open_manifest(
    folder: Path, *, made_by: str, made_at: str, job: str = ""
) -> Iterator[OpenManifest]:
    """A manifest of ``folder`` under way; one that is not closed leaves the old one standing."""
    manifest = OpenManifest(folder, made_by=made_by, made_at=made_at, job=job)
    try:
        yield manifest
    finally:
        manifest.drop()


def _tells_time(line: bytes | None) -> bool:
    return line is not None and line.startswith(MADE_AT)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def _line(aside: Aside, row: Iterable[str]) -> None:
    csv.writer(aside, lineterminator="\r\n").writerow(row)
