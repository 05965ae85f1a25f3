"""What an export keeps in memory: ``python -m bench.season_export COUNT``, one count per run.

Masters are copies of one real plan; no pixels are made, and flushing to the disk is left out.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from bench import season
from cropper.job import codec
from cropper.job.cards import card_of
from cropper.job.exporting import Wish
from cropper.job.ledger import Entry
from cropper.job.making import FileMade, MasterOrder
from cropper.job.manifesting import run_export
from cropper.job.shelf import file_digest
from cropper.job.store import JobFolder


def noted_only(orders: Iterable[MasterOrder]) -> Iterator[FileMade]:
    """As if every file had been made."""
    for one in (file for order in orders for file in order.files):
        entry = Entry(
            version=one.version,
            destination=one.destination.name,
            basis=one.basis,
            sha256=hashlib.sha256(one.name.encode()).hexdigest(),
            bytes=1,
            width=100,
            height=100,
            written=True,
        )
        yield FileMade(number=one.number, name=one.name, entry=entry, fresh=True)


def peak_mb() -> float:
    told = Path("/proc/self/status").read_text()
    return int(next(one for one in told.splitlines() if "VmHWM" in one).split()[1]) / 1000


def main() -> None:
    count, season.TWELVE = int(sys.argv[1]), 22
    with tempfile.TemporaryDirectory() as place:
        head, master = season.one_planned(Path(place))
        os.fsync = lambda fd: None  # noqa: ARG005 - as the original names it
        job = Path(place) / "job"
        job.mkdir()
        folder, text = JobFolder(job), codec.master_text(master, 0)
        folder.write(replace(head, masters=(), sets=()))
        for number in range(count):
            version = f"wool-{number:06d}"
            mine = text.replace(f'"version": "{master.version}"', f'"version": "{version}"', 1)
            mine = mine.replace('"place": 0', f'"place": {number}', 1)
            card = card_of(replace(master, version=version), place=number, text=file_digest(mine))
            folder.shelf.put(card, mine)
        Path("/proc/self/clear_refs").write_text("5")
        before = peak_mb()
        wish = Wish(folder=job / "deliverables", day="20260304", with_problems=True)
        done = run_export(job, wish, now=season.NOW, spread=noted_only)
        files = done.delivered
        print(f"{count} masters, {files} files: peak {peak_mb():.0f} MB, {before:.0f} before")


if __name__ == "__main__":
    main()
