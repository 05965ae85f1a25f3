"""Deliverables made whole again: what was changed is moved aside, what is missing made anew."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from cropper.batch.verifying import Fault, Verified, noted, rows, verify
from cropper.deliverable.manifest_reading import head_of
from cropper.job.approving import NOT_APPROVED
from cropper.job.exporting import Wish, refuse_linked
from cropper.job.manifesting import JSON_FILE, run_export
from cropper.job.plan import Plan
from cropper.job.set_aside import move_aside
from cropper.job.store import JobFolder
from cropper.proposal.proposal import Verdict


def repair(
    job: Path,
    verified: Verified,
    *,
    now: datetime,
    progress: Callable[[int, int, str], None] | None = None,
) -> tuple[Verified, tuple[Path, ...]]:
    """Export again what is not as it was delivered; gives how it stands now, and what was moved.

    What the earlier export was asked for is read from its manifest. Strangers are left alone.
    Raises :class:`CropperError` when the job cannot be exported.
    """
    folder = verified.folder
    refuse_linked(job, folder)
    wish = wish_of(folder, JobFolder(job).must_read())
    moved = tuple(
        move_aside(job, folder, one.file, now)
        for one in verified.found
        if one.fault is Fault.CHANGED
    )
    for one in verified.found:
        if one.fault is Fault.UNFINISHED:
            (folder / one.file).unlink(missing_ok=True)
    run_export(job, wish, now=now, progress=progress)
    return verify(folder, written=noted(job, folder)), moved


def wish_of(folder: Path, plan: Plan) -> Wish:
    """What the export was asked for that the manifest of ``folder`` tells of.

    Raises :class:`JobError` when the manifest is damaged.
    """
    planned = {one.name for one in plan.destinations}
    named: set[Any] = set()
    passed_over, approved_only, with_problems = False, False, False
    for one in rows(folder):
        named.add(one.get("destination"))
        passed_over = passed_over or _passed_over(one, plan)
        with_problems = with_problems or one.get("verdict") == Verdict.BREAKS
    for one in rows(folder, "not_delivered"):
        named.add(one.get("destination"))
        approved_only = approved_only or one.get("reason") == NOT_APPROVED
    named &= planned
    return Wish(
        folder=folder,
        day=str(head_of(folder / JSON_FILE, "made_at"))[:10].replace("-", ""),
        everything=passed_over,
        only=() if named == planned else tuple(sorted(named)),
        approved_only=approved_only,
        with_problems=with_problems,
        accept_low_ppi=with_problems,
    )


def _passed_over(row: dict[str, Any], plan: Plan) -> bool:
    """Whether a file was delivered of a version that its set sends elsewhere."""
    rivals = plan.set_of(str(row.get("version")))
    if rivals is None:
        return False
    return rivals.best.get(str(row.get("destination"))) != row.get("version")
