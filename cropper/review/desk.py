"""The plan on the desk: read when it changed, saved at every deed, never over somebody's.

Whoever changes something says which revision was looked at. A revision is a digest of what the
plan's files hold, so a change by a command or by another page counts as much as one of ours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from threading import RLock
from typing import Final

from cropper.errors import JobError
from cropper.job.outlets import read_outlets
from cropper.job.plan import Plan
from cropper.job.recording import standing_in
from cropper.job.sets import assigned
from cropper.job.store import JobFolder
from cropper.review.history import History, Step

LOOK_AT_THE_NEWEST: Final = "Look at the newest first; what you just did here was not saved"


class StaleError(JobError):
    """The page shows an older state of the job than the folder holds."""


@dataclass(frozen=True, slots=True)
class Current:
    """A plan and the revision it has on the disk."""

    plan: Plan
    revision: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """Something done on the page: what changes, and what it is called when taken back."""

    label: str
    change: Callable[[Plan], Plan]
    version: str = ""
    destination: str = ""
    gesture: str = ""
    set_name: str = ""


def now_utc() -> datetime:
    """The time of day, as plans keep it."""
    return datetime.now(UTC)


class Desk:
    """One job folder while its page is open. Safe to call from several threads."""

    def __init__(
        self,
        job: Path,
        *,
        record: str | None = None,
        clock: Callable[[], datetime] = now_utc,
    ) -> None:
        self.folder = JobFolder(job)
        self.record = record
        self.clock = clock
        self.history = History()
        self._lock = RLock()
        self._holding = False
        self._signature: object = None
        self._current: Current | None = None

    @property
    def job(self) -> Path:
        """The folder."""
        return self.folder.at

    def look(self) -> Current:
        """What the folder holds now. Raises :class:`JobError` when there is no plan in it."""
        with self._lock:
            signature = self.folder.signature()
            if self._current is None or signature != self._signature:
                return self._read(signature)
            return self._current

    def glance(self) -> Current:
        """What was last seen of the folder, without waiting for anybody: good for measuring."""
        current = self._current
        return current if current is not None else self.look()

    def _read(self, signature: object) -> Current:
        plan = self.folder.must_read()
        revision = self.folder.revision(plan)
        current = self._current
        if current is None or revision != current.revision:
            self.history.forget()
            self._current = current = Current(plan, revision)
        self._signature = signature
        return current

    def do(self, revision: str, deed: Deed) -> Current:
        """Do it on top of ``revision`` and save at once.

        Raises :class:`StaleError` when the folder holds something newer, and whatever the change
        raises; then nothing was saved.
        """
        with self._lock, self._to_write():
            before = self._fresh(revision)
            after = self._settled(before.plan, deed.change(before.plan), deed)
            if after == before.plan:
                return before
            current = self._save(after)
            self.history.add(
                Step(
                    label=deed.label,
                    before=before.plan,
                    after=after,
                    version=deed.version,
                    destination=deed.destination,
                    gesture=deed.gesture,
                )
            )
            return current

    def undo(self, revision: str) -> tuple[Current, Step | None]:
        """Take the last step back; None when there is none."""
        with self._lock, self._to_write():
            current, step = self._fresh(revision), self.history.to_undo
            if step is None:
                return current, None
            current = self._save(step.before)
            self.history.undone()
            return current, step

    def redo(self, revision: str) -> tuple[Current, Step | None]:
        """Do the step again that was taken back last; None when there is none."""
        with self._lock, self._to_write():
            current, step = self._fresh(revision), self.history.to_redo
            if step is None:
                return current, None
            current = self._save(step.after)
            self.history.redone()
            return current, step

    def _fresh(self, revision: str) -> Current:
        current = self.look()
        if revision != current.revision:
            raise StaleError(
                "this job was changed in another tab or by a command since this page was shown",
                way_out=LOOK_AT_THE_NEWEST,
            )
        return current

    def _settled(self, before: Plan, after: Plan, deed: Deed) -> Plan:
        """The plan with the assignment of the set that was touched worked out again."""
        rivals = after.rivals.get(deed.set_name) or after.set_of(deed.version)
        if rivals is None or after is before:
            return after
        touched, outlets = replace(after, sets=(rivals,)), read_outlets(self.job)
        known = standing_in(outlets, touched, self.job, address=self.record, now=self.clock())
        done, _ = assigned(touched, known.outlets)
        return replace(after, sets=after.rivals.put(done.sets[0]))

    def _save(self, plan: Plan) -> Current:
        saved = self.folder.write(plan)
        self._signature = self.folder.signature()
        self._current = Current(saved, self.folder.revision(saved))
        return self._current

    @contextmanager
    def _to_write(self) -> Iterator[None]:
        """Hold the folder against other runs; an export of our own holds it already."""
        if self._holding:
            yield
            return
        with self.folder.held():
            yield

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the folder for a long run of our own, during which the page may still save."""
        with self._lock:
            if self._holding:
                raise JobError("an export is running already", way_out="Wait until it is done")
            hold = self.folder.held()
            hold.__enter__()
            self._holding = True
        try:
            yield
        finally:
            with self._lock:
                self._holding = False
                hold.__exit__(None, None, None)
