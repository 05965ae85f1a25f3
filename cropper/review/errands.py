"""Long work that the page asks for: an export with progress, and the sheet for a client."""

from __future__ import annotations

import traceback
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Lock, Thread
from typing import Any, Final

from cropper.errors import CropperError
from cropper.job.approving import why_withheld
from cropper.job.exporting import Exported, Wish, export_job
from cropper.job.plan import Plan
from cropper.job.store import DELIVERABLES
from cropper.proof import from_plan
from cropper.proof.entry import ProofEntry, Sheet
from cropper.proof.making import proofs, put
from cropper.review.desk import Desk

CLIENT_SHEET: Final = "client-sheet.html"
OUR_FAULT: Final = "This is a fault of cropper's own; the terminal shows where."


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far an export has come. ``problem``: why it stopped."""

    running: bool = False
    done: int = 0
    of: int = 0
    file: str = ""
    problem: str = ""
    told: dict[str, Any] | None = None

    def mapping(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "running": self.running,
            "done": self.done,
            "of": self.of,
            "file": self.file,
            "problem": self.problem,
            "told": self.told,
        }


class Exporter:
    """One export at a time, in a thread of its own; the page may ask how far it is."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lock = Lock()
        self._progress = Progress()
        self._thread: Thread | None = None

    @property
    def progress(self) -> Progress:
        """How far it is."""
        with self._lock:
            return self._progress

    def start(self, *, approved_only: bool, everything: bool, by_recipient: bool) -> None:
        """Begin; raises :class:`CropperError` when one is running already."""
        wish = Wish(
            folder=self._desk.job / DELIVERABLES,
            day=f"{self._desk.clock().astimezone():%Y%m%d}",
            everything=everything,
            by_recipient=by_recipient,
            approved_only=approved_only,
        )
        with self._lock:
            if self._progress.running:
                raise CropperError("an export is running already", way_out="Wait until it is done")
            self._progress = Progress(running=True)
            self._thread = Thread(target=self._run, args=(wish,), name="export", daemon=True)
            self._thread.start()

    def wait(self, seconds: float) -> None:
        """Let a running export come to its end."""
        if self._thread is not None:
            self._thread.join(seconds)

    def _note(self, progress: Progress) -> None:
        with self._lock:
            self._progress = progress

    def _run(self, wish: Wish) -> None:
        try:
            with self._desk.held():
                plan = self._desk.look().plan
                now = self._desk.clock()
                exported = export_job(self._desk.job, plan, wish, self._step, now=now)
        except CropperError as error:
            self._note(Progress(problem=str(error)))
        except Exception:  # noqa: BLE001 - a thread's last line of defence; told in full
            traceback.print_exc()
            self._note(Progress(problem=OUR_FAULT))
        else:
            self._note(replace(self.progress, running=False, told=_told(exported, wish.folder)))

    def _step(self, done: int, of: int, file: str) -> None:
        self._note(Progress(running=True, done=done, of=of, file=file))


def _told(exported: Exported, folder: Path) -> dict[str, Any]:
    return {
        "folder": str(folder),
        "files": exported.delivered,
        "written": exported.written,
        "failures": [
            {"version": one.version, "destination": one.destination, "reason": one.reason}
            for one in exported.failures
        ],
        "not_delivered": [
            {"version": one.version, "destination": one.destination, "reason": one.reason}
            for one in exported.first_missing
        ],
        "without": exported.not_delivered,
        "set_aside": [str(one) for one in exported.set_aside],
        "clash": exported.clash,
    }


def client_sheet(plan: Plan, job: Path, *, approved_only: bool) -> Path:
    """One HTML file to look at, with the crops that count and nothing that was passed over.

    Raises :class:`CropperError` when there would be nothing on it.
    """
    whole = from_plan.sheet(plan, job, job.resolve().name)
    masters = tuple(
        replace(one, entries=_for_a_client(plan, one.version, one.entries, approved_only))
        for one in whole.masters
    )
    shown = tuple(one for one in masters if one.entries)
    if not shown:
        raise CropperError(
            "nothing is approved yet, so a sheet would be empty" if approved_only else "no crop",
            way_out="Approve something first, or ask for all crops",
        )
    sheet = Sheet(title=whole.title, masters=shown, dated=whole.dated)
    made = proofs(sheet, html=True, pdf=False)
    path = job / CLIENT_SHEET
    put(path, made.html or b"")
    return path


def _for_a_client(
    plan: Plan,
    version: str,
    entries: tuple[ProofEntry, ...],
    approved_only: bool,  # noqa: FBT001
) -> tuple[ProofEntry, ...]:
    master = plan.master(version)
    if master is None:
        return ()
    kept = []
    for one in entries:
        shown = one.shown
        name = one.destination.name
        if shown is None or why_withheld(master, name, approved_only=approved_only):
            continue
        kept.append(replace(one, answer=replace(one.answer, proposals=(shown,)), note=""))
    return tuple(kept)
