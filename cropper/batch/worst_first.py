"""The worst crops of a batch on one page, the worst first: what to look at in an hour."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Final

from cropper.batch.status import worst
from cropper.job.store import JobFolder
from cropper.proof import from_plan
from cropper.proof.entry import ProofEntry, ProofMaster
from cropper.proof.making import proofs, put
from cropper.proof.parting import ON_A_SHEET, among
from cropper.proposal.proposal import Verdict

FILE: Final = "worst-first.html"
_ORDER: Final = (
    Verdict.BREAKS,
    Verdict.UNCERTAIN,
    Verdict.NO_CROP,
    Verdict.BENDS,
    Verdict.HOLDS,
)


def put_worst_first(
    job: Path, *, most: int = ON_A_SHEET, progress: Callable[[str], None] = lambda _: None
) -> tuple[Path | None, int]:
    """Write the page into the job's folder; gives where it lies and how many masters are on it.

    None when nothing needs a look. Raises :class:`CropperError` when no master can be opened.
    """
    plan = JobFolder(job).must_read()
    versions = worst(plan, most)
    if not versions:
        return None, 0
    title = f"{job.resolve().name}: the worst first"
    sheet = from_plan.sheet(among(plan, versions), job, title)
    masters = tuple(_worst_entries(one) for one in sheet.masters)
    made = proofs(replace(sheet, masters=masters, matrices=()), pdf=False, progress=progress)
    put(job / FILE, made.html or b"")
    return job / FILE, len(masters)


def _worst_entries(master: ProofMaster) -> ProofMaster:
    """The master's crops, the worst first; those that hold are left out where others do not."""
    ranked = sorted(master.entries, key=_rank)
    shown = tuple(one for one in ranked if one.verdict is not Verdict.HOLDS)
    return replace(master, entries=shown or tuple(ranked))


def _rank(entry: ProofEntry) -> int:
    return _ORDER.index(entry.verdict)
