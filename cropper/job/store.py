"""The job folder on the disk: read, written piece by piece, and held by one run at a time.

JOB/plan.json          the plan's head: destinations and more (see docs/reference/plan-format.md)
JOB/planned/           the masters: a file each, a journal of their cards; the sets, a line each
JOB/exported.json      which files an export has claimed and finished
JOB/outlets.toml       the photographer's own, read and never written
JOB/deliverables/      finished files and their manifest

A plan of format 1 held all masters in plan.json, one of format 2 still its sets; either is read as
it is, and becomes this at the first write. The old file is kept beside it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from cropper import disk
from cropper.errors import JobError
from cropper.job import codec
from cropper.job.cards import Card, card_of
from cropper.job.masters import Entry, Masters
from cropper.job.plan import Plan
from cropper.job.putting import ELSEWHERE, reason, signature, write_text
from cropper.job.set_lines import SetLines
from cropper.job.shelf import Shelf, file_digest

PLAN: Final = "plan.json"
OLD_PLANS: Final = ("plan-format-1.json", "plan-format-2.json")
LEDGER: Final = "exported.json"
OUTLETS: Final = "outlets.toml"
DELIVERABLES: Final = "deliverables"
LOCK: Final = "job.lock"

__all__ = ["JobFolder", "reason", "write_text"]


@dataclass(frozen=True, slots=True)
class JobFolder:
    """A folder that a job lives in; it need not exist yet. ``lean``: see :class:`Shelf`."""

    at: Path
    lean: bool = field(default=False, repr=False, compare=False, kw_only=True)
    shelf: Shelf = field(init=False, repr=False, compare=False)
    lines: SetLines = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "shelf", Shelf(self.at, lean=self.lean))
        object.__setattr__(self, "lines", SetLines(self.shelf.at))

    @property
    def plan_file(self) -> Path:
        """Where the plan's head lies."""
        return self.at / PLAN

    def read(self) -> Plan | None:
        """The plan; None when there is none yet. Raises :class:`JobError` if it cannot be read."""
        text = self._head_text()
        if text is None:
            return None
        try:
            plan = codec.from_text(text)
        except JobError as error:
            raise error.inside(str(self.plan_file)) from error
        masters, sets = codec.holds_inside(text)
        if masters:
            return plan
        return self._with_masters(plan if sets else replace(plan, sets=self.lines.read()))

    def _head_text(self) -> str | None:
        try:
            return disk.short(self.plan_file).read_text(encoding="utf-8")
        except FileNotFoundError:
            return None
        except (OSError, UnicodeDecodeError) as error:
            raise JobError(
                f"{self.plan_file} cannot be read ({reason(error)})", way_out=codec.RESTORE
            ) from error

    def _with_masters(self, plan: Plan) -> Plan:
        """The head and what stands on the shelf; what stands there waits no longer."""
        cards = self.shelf.cards()
        waiting = tuple(one for one in plan.waiting if one.version not in cards)
        masters = Masters(self.entry(card) for card in cards.values())
        return replace(plan, masters=masters, waiting=waiting)

    def in_today_s_format(self) -> Plan | None:
        """The plan, its masters and sets standing on their own. Only under :meth:`held`."""
        plan, text = self.read(), self._head_text()
        return self.write(plan) if plan and text and any(codec.holds_inside(text)) else plan

    def entry(self, card: Card) -> Entry:
        """The place of a master that stands on the shelf."""
        return Entry(card.version, card.place, card=card, opener=self.shelf.open)

    def must_read(self) -> Plan:
        """The plan; raises :class:`JobError` when there is none."""
        plan = self.read()
        if plan is None:
            raise JobError(
                f"{self.at} holds no plan",
                way_out="Make one first: cropper plan PICTURE --for NAME --job FOLDER",
            )
        return plan

    def write(self, plan: Plan) -> Plan:
        """Put on the disk what differs from it: masters one by one, then sets, the head last.

        Gives the same plan, its masters standing on the shelf. Only under :meth:`held`.
        """
        anew = self._keep_old_format()
        on_disk = self.shelf.cards()
        entries = [self._put(entry, on_disk.get(entry.version)) for entry in plan.shelf.entries]
        for version in on_disk.keys() - {one.version for one in entries}:
            self.shelf.take_away(version)
        sets = self.lines.write(plan.rivals, anew=anew)
        self.write_head(plan)
        return replace(plan, masters=Masters(entries), sets=sets)

    def _put(self, entry: Entry, there: Card | None) -> Entry:
        """The entry on the shelf; written only if it is not what stands there."""
        card = entry.card
        if card is not None and there is not None and card.text == there.text:
            return entry
        master = entry.master
        text = codec.master_text(master, entry.place)
        fresh = card_of(master, place=entry.place, text=file_digest(text))
        if there is None or there.text != fresh.text:
            self.shelf.put(fresh, text)
            self.shelf.remember(master, fresh.text)
        return self.entry(fresh)

    def write_head(self, plan: Plan) -> None:
        """Put the head in place of the old one, whole or not at all; an equal one stays."""
        text = codec.head_text(plan)
        if text != self._head_text():
            write_text(self.plan_file, text)

    def _keep_old_format(self) -> bool:
        """Before a plan of an older format is replaced: its text aside, no remains of another.

        Whether there was one.
        """
        text = self._head_text()
        masters, sets = codec.holds_inside(text) if text is not None else (False, False)
        if text is None or not (masters or sets):
            return False
        write_text(self.at / OLD_PLANS[0 if masters else 1], text)
        if masters:
            self.shelf.write_anew(())
        return True

    def revision(self, plan: Plan) -> str:
        """Names the state of a plan read from here or written here, by its content."""
        told = hashlib.sha256((self._head_text() or "").encode())
        told.update(plan.rivals.digest.encode())
        for entry in plan.shelf.entries:
            told.update(f"{entry.version}\n{entry.card.text if entry.card else ''}\n".encode())
        return told.hexdigest()[:20]

    def signature(self) -> tuple[tuple[int, int, int] | None, ...]:
        """What the file system says of the plan's files; another one means: read it again."""
        return tuple(
            signature(path) for path in (self.plan_file, self.shelf.journal, self.lines.file)
        )

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the folder for one run; raises :class:`JobError` when another run has it."""
        from filelock import FileLock, Timeout  # noqa: PLC0415 - only writers need it

        if not disk.is_text(self.at):
            raise JobError(
                f"the name of the job folder {disk.spelled(self.at)} is not UTF-8",
                way_out="Rename the folder, or choose another with --job",
            )
        self._make()
        lock = FileLock(self.at / LOCK, timeout=0)
        try:
            lock.acquire()
        except Timeout as error:
            raise JobError(
                f"another run of cropper is working in {self.at}",
                way_out="Wait until it is done, then run this again; nothing was changed",
            ) from error
        except OSError as error:
            raise JobError(
                f"{self.at} cannot be written to ({reason(error)})", way_out=ELSEWHERE
            ) from error
        try:
            self.shelf.mend()
            self.lines.mend()
            yield
        finally:
            lock.release()

    def _make(self) -> None:
        try:
            disk.made(self.at)
        except OSError as error:
            raise JobError(
                f"the job folder {self.at} cannot be made ({reason(error)})", way_out=ELSEWHERE
            ) from error
