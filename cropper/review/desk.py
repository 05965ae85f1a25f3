"""The plan on the desk: read when it changed, saved at every deed, never over somebody's.

Whoever changes something says which revision was looked at. A revision is a digest of what the
plan's files hold, so a change by a command or by another page counts as much as one of ours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from threading import RLock
from typing import Final

from cropper.errors import JobError
from cropper.job.outlets import read_outlets
from cropper.job.plan import Plan, PlannedMaster
from cropper.job.recording import standing_in
from cropper.job.sets import assigned
from cropper.job.store import JobFolder
from cropper.review.history import STEPS, History, Raw, Step, step_of
from cropper.subject.subject import Finding

FOLDER: Final = "review"
"""Where, in the job, the page keeps what can be made or done again."""
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
    """Something done on the page: what changes, and what it is called when taken back.

    ``version`` is the one master that it changes; ``versions`` are several.
    """

    label: str
    change: Callable[[Plan], Plan]
    version: str = ""
    versions: tuple[str, ...] = ()
    destination: str = ""
    gesture: str = ""
    set_name: str = ""

    @property
    def touched(self) -> tuple[str, ...]:
        """Every master that it may change."""
        return self.versions or ((self.version,) if self.version else ())


def as_found(master: PlannedMaster) -> Finding:
    """What is known of a master's people without looking again."""
    return master.finding


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
        raw: Raw = as_found,
    ) -> None:
        self.folder = JobFolder(job)
        self.record = record
        self.clock = clock
        self.raw = raw
        self.history = History(job / FOLDER / STEPS)
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
            step = step_of(
                before.plan, after, deed.touched, label=deed.label, set_name=deed.set_name
            )
            self.history.add(replace(step, destination=deed.destination, gesture=deed.gesture))
            return current

    def undo(self, revision: str, version: str = "") -> tuple[Current, Step | None]:
        """Take the last step back, of one master or of all; None when there is none."""
        with self._lock, self._to_write():
            current = self._fresh(revision)
            step = self.history.to_undo(current.plan, version)
            if step is None:
                return current, None
            plan = step.taken_back(current.plan, self.raw, self.clock())
            current = self._save(self._settled_after(plan, step))
            self.history.undone(step)
            return current, step

    def redo(self, revision: str, version: str = "") -> tuple[Current, Step | None]:
        """Do the step again that was taken back last; None when there is none."""
        with self._lock, self._to_write():
            current = self._fresh(revision)
            step = self.history.to_redo(current.plan, version)
            if step is None:
                return current, None
            plan = step.done_again(current.plan, self.raw, self.clock())
            current = self._save(self._settled_after(plan, step))
            self.history.redone(step)
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
        """The plan with the assignment of the sets that were touched worked out again."""
        if after is before:
            return after
        return self._assigned(after, deed.touched, (deed.set_name,) if deed.set_name else ())

    def _settled_after(self, plan: Plan, step: Step) -> Plan:
        versions = (one.version for one in step.changes)
        return self._assigned(plan, versions, (one.set_name for one in step.fixings))

    def _assigned(self, plan: Plan, versions: Iterable[str], names: Iterable[str]) -> Plan:
        held = (plan.set_of(one) for one in versions)
        touched = dict.fromkeys([*names, *(one.name for one in held if one is not None)])
        for name in touched:
            rivals = plan.rivals.get(name)
            if rivals is not None:
                alone, outlets = replace(plan, sets=(rivals,)), read_outlets(self.job)
                known = standing_in(outlets, alone, self.job, address=self.record, now=self.clock())
                done, _ = assigned(alone, known.outlets)
                plan = replace(plan, sets=plan.rivals.put(done.sets[0]))
        return plan

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
