"""The masters of a job on the disk: a file each, and a journal of their cards.

JOB/planned/cards.jsonl          one card to a line; the newest of a version counts
JOB/planned/3f/shawl-3f9a....json  one master with all that was proposed and chosen for it

Changing a master appends its card and then puts its file in place, one after the other, each
flushed to the disk before the next step. So whatever happens, at most the last card can speak of
a file that is not there yet, and :meth:`Shelf.mend` looks at that one.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections import OrderedDict
from collections.abc import Collection, Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from threading import Lock
from typing import Final

from cropper.disk import lines, plain, short
from cropper.errors import JobError
from cropper.job import codec
from cropper.job.cards import Card, OtherKindError, card_from, card_of, without_lines
from cropper.job.plan import PlannedMaster
from cropper.job.putting import appended, made_folder, own, reason, signature, write_text

FOLDER: Final = "planned"
CARDS: Final = "cards.jsonl"
KEPT_OPEN: Final = 128
"""So many masters stay in memory after a look (house: about 1 MB each)."""
SPARE_LINES: Final = 2000
"""The journal is written anew when so many more lines than masters stand in it (house)."""
STEM: Final = 60
"""A file's name keeps so much of the version's (house); a digest keeps it unlike all others."""
ANEW: Final = "Take cards.jsonl away: it is made again from the masters' files beside it"


def file_digest(text: str) -> str:
    """The SHA-256 of a master's file."""
    return hashlib.sha256(text.encode()).hexdigest()


class Shelf:
    """Where one job's masters stand. Reading needs no lock; writing needs the job's.

    ``lean``: for whoever opens every master anyhow; the cards it gives are without their lines,
    and ten thousand of them take 10 MB instead of 150.
    """

    def __init__(self, job: Path, *, lean: bool = False) -> None:
        self._lean = lean
        self.at = job / FOLDER
        self.journal = self.at / CARDS
        self._open: OrderedDict[tuple[str, str], PlannedMaster] = OrderedDict()
        self._lock = Lock()
        self._lines = 0
        self._known: dict[str, Card] = {}
        self._other_kind = False
        self._seen: tuple[int, int, int] | None = None

    def file_of(self, version: str) -> Path:
        """The file of one version; its name is safe whatever the version is called."""
        key = hashlib.sha256(version.encode()).hexdigest()
        stem = re.sub(r"[^A-Za-z0-9_-]", "_", version)[:STEM]
        return self.at / key[:2] / f"{stem}-{key[:8]}.json"

    def cards(self) -> dict[str, Card]:
        """The newest card of every version, by its name, the newest of all last."""
        if signature(self.journal) is None:
            return {card.version: card for card in self._from_files()}
        return dict(self._current())

    def cards_of(self, versions: Collection[str]) -> dict[str, Card]:
        """The cards of these versions, as far as there are any."""
        return {name: card for name, card in self.cards().items() if name in versions}

    def _current(self) -> dict[str, Card]:
        """What the journal holds now, read again only when somebody else wrote in it."""
        seen = signature(self.journal)
        if seen is None or seen != self._seen:
            try:
                self._known, self._other_kind = self._read() if seen else {}, False
            except OtherKindError:
                found = self._from_files()
                self._known, self._other_kind = {one.version: one for one in found}, True
            self._seen = seen
        return self._known

    def _read(self) -> dict[str, Card]:
        told: dict[str, Card] = {}
        self._lines = 0
        for line in self._journal_lines():
            self._lines += 1
            self._take(line, self._lines, told)
        return told

    def _take(self, line: str, number: int, told: dict[str, Card]) -> None:
        try:
            value = json.loads(line)
            gone = value.get("gone") if isinstance(value, dict) else None
            if gone is not None:
                told.pop(str(gone), None)
            else:
                card = card_from(value)
                card = without_lines(card) if self._lean else card
                told.pop(card.version, None)
                told[card.version] = card
        except OtherKindError:
            raise
        except (ValueError, RecursionError, JobError) as error:
            raise JobError(
                f"{self.journal}, line {number}: this is no card", way_out=ANEW
            ) from error

    def _journal_lines(self) -> Iterator[str]:
        """Line by line; one without its end was never finished."""
        try:
            with plain(self.journal).open(encoding="utf-8", newline="\n") as file:
                yield from (line for line in lines(file) if line.endswith("\n"))
        except (OSError, UnicodeDecodeError) as error:
            raise JobError(
                f"{self.journal} cannot be read ({reason(error)})", way_out=ANEW
            ) from error

    def _from_files(self) -> Iterator[Card]:
        """Cards made again from the files that are there."""
        for path in sorted(self.at.glob("[0-9a-f][0-9a-f]/*.json")):
            filed = self._filed(path)
            if path == self.file_of(filed[0].master.version):
                yield card_of(filed[0].master, place=filed[0].place, text=filed[1])

    def _filed(self, path: Path) -> tuple[codec.MasterFile, str]:
        """A master's file and its digest."""
        try:
            text = short(path).read_bytes()
        except OSError as error:
            raise JobError(
                f"{path} cannot be read ({reason(error)})", way_out=codec.PLAN_AGAIN
            ) from error
        try:
            return codec.master_from(text), hashlib.sha256(text).hexdigest()
        except JobError as error:
            raise error.inside(str(path)) from error

    def open(self, card: Card) -> PlannedMaster:
        """The master of a card, as its file says now."""
        key = (card.version, card.text)
        with self._lock:
            if key in self._open:
                self._open.move_to_end(key)
                return self._open[key]
        filed, digest = self._filed(self.file_of(card.version))
        if filed.master.version != card.version:
            raise JobError(
                f"{self.file_of(card.version)} holds '{filed.master.version}', not "
                f"'{card.version}'",
                way_out=codec.PLAN_AGAIN,
            )
        if digest == card.text:
            self.remember(filed.master, digest)
        return filed.master

    def text(self, card: Card) -> str:
        """The text of a card's file, as it is."""
        path = self.file_of(card.version)
        try:
            return short(path).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise JobError(
                f"{path} cannot be read ({reason(error)})", way_out=codec.PLAN_AGAIN
            ) from error

    def remember(self, master: PlannedMaster, text: str) -> None:
        """Keep a master that was just in hand."""
        with self._lock:
            self._open[master.version, text] = master
            while len(self._open) > KEPT_OPEN:
                self._open.popitem(last=False)

    def put(self, card: Card, text: str | None) -> None:
        """Append a card, then put its file in place; without ``text`` the file stays as it is."""
        known = self._current()
        made_folder(self.at)
        appended(self.journal, card.json_line() + "\n")
        known.pop(card.version, None)
        known[card.version] = card
        self._note(known, self._lines + 1)
        if text is not None:
            path = self.file_of(card.version)
            made_folder(path.parent)
            write_text(path, text)

    def _note(self, known: dict[str, Card], lines: int) -> None:
        """What the journal holds after a write of ours."""
        self._known, self._lines, self._seen = known, lines, signature(self.journal)

    def take_away(self, version: str) -> None:
        """Forget a version: its line first, then its file."""
        known = self._current()
        appended(self.journal, json.dumps({"gone": version}, ensure_ascii=False) + "\n")
        known.pop(version, None)
        self._note(known, self._lines + 1)
        with suppress(FileNotFoundError):
            self.file_of(version).unlink()

    def mend(self) -> None:
        """Make the journal whole after a run that was killed; only under the job's lock."""
        self._sweep()
        if not self.journal.exists():
            found = list(self._from_files())
            if found:
                self.write_anew(found)
            return
        self._cut_torn_line()
        cards = self.cards()
        if self._other_kind:
            self.write_anew(cards.values())
        if cards:
            self._settle(next(reversed(cards.values())), cards)
        if self._lines > len(cards) + SPARE_LINES:
            self.write_anew(self.cards().values())

    def _sweep(self) -> None:
        """Take away what a killed run had not finished writing."""
        job = self.at.parent
        for path in (*job.glob(".plan*.part"), *job.glob(".exported*.part")):
            path.unlink(missing_ok=True)
        for path in self.at.glob(".*.part"):
            path.unlink(missing_ok=True)
        for path in self.at.glob("[0-9a-f][0-9a-f]/.*.part"):
            path.unlink(missing_ok=True)

    def _cut_torn_line(self) -> None:
        with plain(self.journal).open("rb") as file:
            if file.seek(0, os.SEEK_END) and file.seek(-1, os.SEEK_END) and file.read() == b"\n":
                return
        data = self.journal.read_bytes()
        whole = data.rfind(b"\n") + 1
        if whole < len(data):
            own(self.journal)
            with self.journal.open("r+b") as file:
                file.truncate(whole)
                os.fsync(file.fileno())

    def _settle(self, last: Card, cards: dict[str, Card]) -> None:
        """Let the last card say what its file says; without a file there is no card."""
        path = self.file_of(last.version)
        if not path.exists():
            others = (one for one in cards.values() if one.version != last.version)
            self.write_anew(others)
            return
        filed, digest = self._filed(path)
        if digest != last.text:
            self.put(card_of(filed.master, place=filed.place, text=digest), None)

    def write_anew(self, cards: Iterable[Card]) -> None:
        """Write the journal whole, one line to a master."""
        kept = {card.version: card for card in cards}
        if self._lean:
            kept |= Shelf(self.at.parent).cards_of(kept)
        made_folder(self.at)
        write_text(self.journal, "".join(card.json_line() + "\n" for card in kept.values()))
        self._note(kept, len(kept))
