"""Remarks from a CSV file, row by row: a million of them need no more memory than ten.

The first row names the columns. Authors are dropped unless they are asked to be kept. A row that
cannot be read is named and left out; the others go on.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from types import MappingProxyType
from typing import IO, Final

from cropper.disk import sha256_of
from cropper.errors import CropperError, MisuseError, RecordError
from cropper.publication.responses import ANY_VERSION, Question, Remark
from cropper.record.spreadsheet import MARKS, SEPARATORS

COLUMNS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "text": ("text", "remark", "remarks", "comment"),
        "version": ("version",),
        "outlet": ("outlet",),
        "at": ("at", "time", "date"),
        "author": ("author", "name", "by"),
    }
)
"""What a column holds, and the headings it is looked for under."""

NAMED: Final = 20
"""House value: so many faulty rows are named one by one, the rest counted."""
STEP: Final = 5_000
"""House value: progress is told every so many rows."""

Progress = Callable[[int, int], None]
"""Hears bytes read and bytes in all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file of remarks and what is known about all its rows.

    ``outlet`` and ``version`` hold for rows that name none themselves. ``zone`` is where times
    without a zone belong; without it, such rows are refused. ``columns``: what a column holds to
    its heading in this file, where that is not one of :data:`COLUMNS`.
    """

    path: Path
    question: Question
    outlet: str = ""
    version: str = ANY_VERSION
    zone: tzinfo | None = None
    keep_authors: bool = False
    encoding: str = ""
    columns: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(slots=True)
class Taking:
    """How the reading went; filled while the remarks are drawn."""

    kept: int = 0
    empty: int = 0
    faulty: int = 0
    known: int = 0
    named: list[tuple[int, str]] = field(default_factory=list)

    def refuse(self, row: int, why: str) -> None:
        """Note a row that is left out."""
        self.faulty += 1
        if len(self.named) < NAMED:
            self.named.append((row, why))


def digest(path: Path) -> str:
    """SHA-256 of a file, by which the record knows that it was taken in before."""
    try:
        return sha256_of(path)
    except OSError as error:
        raise _unreadable(path, error) from error


def remarks(source: Source, taking: Taking, progress: Progress | None = None) -> Iterator[Remark]:
    """The file's remarks, one at a time; rows are numbered as a spreadsheet does, heading = 1.

    Raises :class:`RecordError` when the file cannot be read, :class:`MisuseError` when it has no
    column of remarks, or rows of which nobody knows the outlet.
    """
    mark = digest(source.path)
    try:
        size = source.path.stat().st_size
        with (
            source.path.open("rb") as raw,
            _decoded(raw, source) as text,
        ):
            rows = _rows(text, source)
            sheet = _Sheet(source=source, mark=mark, places=_places(next(rows, []), source))
            for number, cells in enumerate(rows, start=2):
                if progress is not None and number % STEP == 0:
                    progress(raw.tell(), size)
                one = sheet.remark(cells, number, taking)
                if one is not None:
                    taking.kept += 1
                    yield one
            if progress is not None:
                progress(size, size)
    except OSError as error:
        raise _unreadable(source.path, error) from error


def _unreadable(path: Path, error: OSError) -> RecordError:
    said = (error.strerror or str(error)).lower()
    return RecordError(f"{path} cannot be read ({said})", way_out="Check the name")


def _decoded(raw: IO[bytes], source: Source) -> IO[str]:
    """The file as text; letters that do not decode are let through, to be named by their row."""
    import io  # noqa: PLC0415 - only here

    start = raw.read(4)
    raw.seek(0)
    marked = next((name for mark, name in MARKS if start.startswith(mark)), "utf-8")
    try:
        return io.TextIOWrapper(
            raw,
            encoding=source.encoding or marked,
            errors="surrogateescape",
            newline="",
        )
    except LookupError as error:
        raise MisuseError(
            f"'{source.encoding}' is no encoding that is known here",
            way_out="Try utf-8, utf-16, cp1252 or latin-1",
        ) from error


def _rows(text: IO[str], source: Source) -> Iterator[list[str]]:
    """Rows of cells, split at whatever separates the headings."""
    heading = text.readline()
    separator = max(SEPARATORS, key=heading.count)
    yield next(csv.reader([heading.rstrip("\r\n")], delimiter=separator), [])
    reader = csv.reader(text, delimiter=separator)
    try:
        yield from reader
    except csv.Error as error:
        raise RecordError(
            f"{source.path}: the row that begins near line {reader.line_num + 1} cannot be read"
            f" ({error}); nothing was taken in",
            way_out="Often a quotation mark that is never closed. Mend it, then take it in again",
        ) from error


def _places(headings: Sequence[str], source: Source) -> dict[str, int]:
    """Which column holds what."""
    found = {name.strip().casefold(): at for at, name in enumerate(headings)}
    places: dict[str, int] = {}
    for what, usual in COLUMNS.items():
        given = source.columns.get(what)
        if given is not None and given.strip().casefold() not in found:
            raise _no_column(source, f"no column is headed '{given}'", headings)
        looked_for = (given.strip().casefold(),) if given else usual
        at = next((found[name] for name in looked_for if name in found), None)
        if at is not None:
            places[what] = at
    if "text" not in places:
        raise _no_column(source, "no column holds the remarks", headings)
    if "outlet" not in places and not source.outlet:
        raise _no_column(source, "no column tells the outlet", headings, "--at OUTLET, or ")
    return places


def _no_column(
    source: Source, what: str, headings: Sequence[str], way_out: str = ""
) -> MisuseError:
    shown = ", ".join(f"'{_printable(name[:40])}'" for name in headings[:12]) or "none"
    return MisuseError(
        f"{source.path}: {what}. Its headings: {shown}",
        way_out=f"Give {way_out}--column text=HEADING (or outlet=, version=, at=, author=)",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """The file, its digest, and which column holds what."""

    source: Source
    mark: str
    places: Mapping[str, int]

    def remark(self, cells: Sequence[str], row: int, taking: Taking) -> Remark | None:
        """A row's remark; None when it is empty or faulty, which ``taking`` notes."""
        told = {what: cells[at].strip() for what, at in self.places.items() if at < len(cells)}
        if not told.get("text"):
            taking.empty += 1
            return None
        try:
            _refuse_undecodable(told.values())
            return self._remark(told, row)
        except CropperError as fault:
            taking.refuse(row, str(fault))
            return None

    def _remark(self, told: Mapping[str, str], row: int) -> Remark:
        source = self.source
        return Remark(
            question=source.question.name,
            text=told["text"],
            outlet=told.get("outlet", "") or source.outlet,
            version=_version(told.get("version", "") or source.version, source.question),
            at=_instant(told.get("at", ""), source.zone),
            author=told.get("author", "") if source.keep_authors else "",
            source=self.mark,
            row=row,
        )


def _refuse_undecodable(cells: Iterable[str]) -> None:
    if any("\ud800" <= sign <= "\udfff" for cell in cells for sign in cell):
        raise MisuseError(
            "letters that do not fit the file's encoding", way_out="Say it: --encoding cp1252"
        )


def _printable(text: str) -> str:
    """Text that any terminal can show, whatever file it came from."""
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def _version(name: str, question: Question) -> str:
    if name != ANY_VERSION and name not in question.versions:
        raise question.stranger(name)
    return name


def _instant(text: str, zone: tzinfo | None) -> datetime | None:
    """An instant in UTC; a time without a zone belongs to ``zone``."""
    if not text:
        return None
    try:
        told = datetime.fromisoformat(text)
    except ValueError as error:
        raise MisuseError(
            f"'{text[:40]}' is no time such as 2026-03-02T14:05+01:00", way_out="Mend the row"
        ) from error
    if told.tzinfo is None:
        if zone is None:
            raise MisuseError(
                f"'{text[:40]}' is told without a time zone", way_out="Say it: --zone Europe/Oslo"
            )
        told = told.replace(tzinfo=zone)
    return told.astimezone(UTC)
