"""A whole export, held by one run alone; its manifest lies beside the files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from cropper.deliverable.manifest_writing import CSV_FILE, JSON_FILE, NOT_DELIVERED_FILE
from cropper.errors import JobError
from cropper.job.exporting import Exported, Spread, Wish, export_job, in_turn
from cropper.job.relinking import Relinked, relink
from cropper.job.store import JobFolder

__all__ = ["CSV_FILE", "JSON_FILE", "NOT_DELIVERED_FILE", "run_export"]


def run_export(
    job: Path,
    wish: Wish,
    *,
    now: datetime,
    progress: Callable[[int, int, str], None] | None = None,
    spread: Spread = in_turn,
) -> Exported:
    """Export the job in the folder ``job``, manifest and all."""
    folder = JobFolder(job, lean=True)
    folder.must_read()
    with folder.held():
        masters = _reconnected(folder)
        done = export_job(job, masters.plan, wish, progress, now=now, spread=spread)
        _refuse_vanished(folder)
        return replace(done, absent=tuple(masters.missing))


def _reconnected(folder: JobFolder) -> Relinked:
    """The plan, with masters that were moved or renamed close by found again."""
    done = relink(folder.must_read(), folder.at)
    return replace(done, plan=folder.write(done.plan)) if done.found else done


def _refuse_vanished(folder: JobFolder) -> None:
    """Raise :class:`JobError` when the job was taken away under an export's feet."""
    if not folder.plan_file.exists():
        raise JobError(
            f"{folder.at} was removed or moved while the export ran, so nothing is promised of its "
            "files",
            way_out="Put the folder back, then export again",
        )
