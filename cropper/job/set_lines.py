"""The sets of a job on the disk: one line to a set, the newest of a name counts.

JOB/planned/sets.jsonl    [{"name": ..., "versions": [...], "basis": ...}, {the whole set}]

The first half of a line is all that opening a job needs; the second is read when somebody looks
at that set. Changing a set adds its line, however many sets there are.
"""

from __future__ import annotations

import json
import os
from functools import cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from cropper._layout import finite
from cropper.disk import plain, short
from cropper.errors import JobError
from cropper.job.plan import PlannedSet
from cropper.job.putting import appended, made_folder, own, reason, signature, write_text
from cropper.job.rival_sets import SetEntry, Sets

SETS: Final = "sets.jsonl"
SPARE_LINES: Final = 2000
"""The lines are written anew when so many more than sets stand there (house, as the cards')."""
WAY_OUT: Final = (
    "Restore it from a copy, or take it away and plan its sets again with `cropper plan --set`"
)


@cache
def _sets() -> TypeAdapter[PlannedSet]:
    return TypeAdapter(PlannedSet)


class SetLines:
    """Where one job's sets stand. Reading needs no lock; writing needs the job's."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / SETS
        self._seen: tuple[int, int, int] | None = None
        self._known = Sets()
        self._lines = 0

    def read(self) -> Sets:
        """The sets, read again only when somebody else wrote; none when there is no file."""
        seen = signature(self.file)
        if seen != self._seen:
            self._known = self._read() if seen else Sets()
            self._seen = seen
        return self._known

    def _read(self) -> Sets:
        told: dict[str, SetEntry] = {}
        lines = self._text().split("\n")[:-1]  # a line without its end was never finished
        self._lines = len(lines)
        for number, line in enumerate(lines, start=1):
            self._take(line, number, told)
        return Sets(told.values())

    def _take(self, line: str, number: int, told: dict[str, SetEntry]) -> None:
        try:
            if not line.startswith("["):
                raise ValueError("no list")  # noqa: TRY301 - one place says it
            head, end = json.JSONDecoder().raw_decode(line, 1)
            name = str(head["name"])
            if head.get("gone"):
                told.pop(name, None)
                return
            told[name] = SetEntry(
                name,
                tuple(map(str, head["versions"])),
                basis=str(head["basis"]),
                text=line[end:].removeprefix(",").removesuffix("]"),
                reader=self._opened,
            )
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
            raise self._damaged(f"line {number} is no set") from error

    def _text(self) -> str:
        try:
            return short(self.file).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise self._damaged(f"it cannot be read ({reason(error)})") from error

    def _opened(self, entry: SetEntry) -> PlannedSet:
        try:
            planned = _sets().validate_json(entry.text)
        except ValidationError as error:
            raise self._damaged(f"the set '{entry.name}' is damaged") from error
        if (planned.name, planned.versions) != (entry.name, entry.versions):
            raise self._damaged(f"the line of '{entry.name}' tells of two different sets")
        return planned

    def _damaged(self, said: str) -> JobError:
        return JobError(f"{self.file}: {said}", way_out=WAY_OUT)

    def write(self, sets: Sets, *, anew: bool = False) -> Sets:
        """Put on the disk what differs; gives the same sets, standing there."""
        there = {} if anew else {one.name: one for one in self.read().entries}
        entries = [_written(one, self._opened) for one in sets.entries]
        kept = {one.name for one in entries}
        gone = [name for name in there if name not in kept]
        fresh = [one for one in entries if one.name not in there or not one.same(there[one.name])]
        lines = [*(_gone(name) for name in gone), *(_line(one) for one in fresh)]
        order = [*(name for name in there if name in kept), *(one.name for one in fresh)]
        in_order = tuple(dict.fromkeys(order)) == tuple(one.name for one in entries)
        if lines or anew or not in_order:
            short = self._lines + len(lines) <= len(entries) + SPARE_LINES
            if anew or not in_order or not short:
                lines = [_line(one) for one in entries]
                self._put(lines)
            else:
                made_folder(self.file.parent)
                appended(self.file, "".join(lines))
                self._lines += len(lines)
            self._known, self._seen = Sets(entries), signature(self.file)
        return Sets(entries)

    def _put(self, lines: list[str]) -> None:
        if lines or self.file.exists():
            made_folder(self.file.parent)
            write_text(self.file, lines)
        self._lines = len(lines)

    def mend(self) -> None:
        """Cut off a line that a killed run did not finish; only under the job's lock."""
        if signature(self.file) is None:  # seen before or not: whoever looked cut nothing off
            return
        data = plain(self.file).read_bytes()
        whole = data.rfind(b"\n") + 1
        if whole < len(data):
            own(self.file)
            with self.file.open("r+b") as file:
                file.truncate(whole)
                os.fsync(file.fileno())


def _written(entry: SetEntry, reader: Any) -> SetEntry:
    if entry.text:
        return entry
    told = finite(_sets().dump_python(entry.planned, mode="json"))
    text = json.dumps(told, ensure_ascii=False, separators=(",", ":"))
    return SetEntry(entry.name, entry.versions, basis=entry.basis, text=text, reader=reader)


def _line(entry: SetEntry) -> str:
    head = {"name": entry.name, "versions": entry.versions, "basis": entry.basis}
    return f"[{json.dumps(head, ensure_ascii=False, separators=(',', ':'))},{entry.text}]\n"


def _gone(name: str) -> str:
    return json.dumps([{"name": name, "gone": True}], ensure_ascii=False) + "\n"
