"""Deliverables made whole again: what was changed is moved aside, what is missing made anew."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from cropper import disk
from cropper.batch.verifying import Fault, Found, Verified, rows, verify
from cropper.deliverable.manifest_reading import head_of
from cropper.errors import JobError
from cropper.job.approving import NOT_APPROVED
from cropper.job.exporting import Wish, refuse_linked
from cropper.job.manifesting import JSON_FILE, run_export
from cropper.job.plan import Plan
from cropper.job.store import JobFolder

ASIDE: Final = "set_aside"
"""Where a file goes that somebody changed: nothing is thrown away."""


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
        _moved(job, folder, one, now) for one in verified.found if one.fault is Fault.CHANGED
    )
    for one in verified.found:
        if one.fault is Fault.UNFINISHED:
            (folder / one.file).unlink(missing_ok=True)
    run_export(job, wish, now=now, progress=progress)
    return verify(folder), moved


def _moved(job: Path, folder: Path, found: Found, now: datetime) -> Path:
    """The changed file in the job's own corner, under the time it was found at."""
    target = job / ASIDE / f"{now:%Y%m%dT%H%M%S}" / found.file
    try:
        disk.made(target.parent, within=job)
        (folder / found.file).rename(target)
    except OSError as error:
        raise JobError(
            f"{folder / found.file} cannot be moved to {target} ({error.strerror or error})",
            way_out="Move it away yourself, then run this again",
        ) from error
    return target


def wish_of(folder: Path, plan: Plan) -> Wish:
    """What the export was asked for that the manifest of ``folder`` tells of.

    Raises :class:`JobError` when the manifest is damaged.
    """
    planned = {one.name for one in plan.destinations}
    named: set[Any] = set()
    passed_over, sorted_by_recipient, approved_only = False, True, False
    for one in rows(folder):
        named.add(one.get("destination"))
        passed_over = passed_over or _passed_over(one, plan)
        sorted_by_recipient = sorted_by_recipient and "/" in one["file"]
    by_recipient = sorted_by_recipient and bool(named)
    for one in rows(folder, "not_delivered"):
        named.add(one.get("destination"))
        approved_only = approved_only or one.get("reason") == NOT_APPROVED
    named &= planned
    return Wish(
        folder=folder,
        day=str(head_of(folder / JSON_FILE, "made_at"))[:10].replace("-", ""),
        everything=passed_over,
        by_recipient=by_recipient,
        only=() if named == planned else tuple(sorted(named)),
        approved_only=approved_only,
    )


def _passed_over(row: dict[str, Any], plan: Plan) -> bool:
    """Whether a file was delivered of a version that its set sends elsewhere."""
    rivals = plan.set_of(str(row.get("version")))
    if rivals is None:
        return False
    return rivals.best.get(str(row.get("destination"))) != row.get("version")
