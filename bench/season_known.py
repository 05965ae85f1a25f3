"""What it costs to get to know a season again: ``python -m bench.season_known COUNT``.

COUNT simulated masters for twelve destinations, all of them exported by the manifest's word.
Their rows of the shelf are those of one real one under other names: nothing is decoded. Timed is
what ``identify`` does before it looks at a file: at first, when plan and manifest are new to it,
then again, each in a process of its own, with its peak memory.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import cycle, islice
from pathlib import Path

from bench import season
from bench.season_export import peak_mb
from cropper.deliverable.manifest import Delivered
from cropper.deliverable.manifest_reading import rows_of
from cropper.deliverable.manifest_writing import JSON_FILE, open_manifest
from cropper.job import codec
from cropper.job.cards import card_of
from cropper.job.fingerprints import FOLDER, SHELF, Made, Wanted
from cropper.job.known import known
from cropper.job.shelf import file_digest
from cropper.job.store import DELIVERABLES, JobFolder
from cropper.likeness.shelf import opened


def name(of: str) -> str:
    """A digest as good as any."""
    return hashlib.sha256(of.encode()).hexdigest()


def exported(job: Path) -> list[Delivered]:
    """Twelve rows of a manifest, from those that the one real master got."""
    command = [season.CROPPER, "export", "--job", str(job)]
    subprocess.run(command, check=True, capture_output=True)
    rows = [Delivered(**one) for one in rows_of(job / DELIVERABLES / JSON_FILE)]
    named = enumerate(islice(cycle(rows), season.TWELVE))
    return [replace(one, destination=f"destination-{number}") for number, one in named]


def simulated(home: Path, count: int) -> Path:
    """A job of ``count`` masters with their manifest and fingerprints."""
    head, master = season.one_planned(home)
    rows, job = exported(home / "one"), home / f"known-{count}"
    known([home / "one"], print)
    os.fsync = lambda fd: None  # noqa: ARG005 - as the original names it
    job.mkdir()
    folder, text = JobFolder(job), codec.master_text(master, 0)
    folder.write(replace(head, masters=(), sets=()))
    with open_manifest(job / DELIVERABLES, made_by="bench", made_at="2026-03-04") as manifest:
        for number in range(count):
            sha256, version = name(f"master {number}"), f"wool-{number:06d}"
            mine = text.replace(f'"version": "{master.version}"', f'"version": "{version}"', 1)
            mine = mine.replace(master.sha256, sha256)
            mine = mine.replace('"place": 0', f'"place": {number}', 1)
            named = replace(master, version=version, sha256=sha256)
            folder.shelf.put(card_of(named, place=number, text=file_digest(mine)), mine)
            for row in rows:
                file = f"{version}_{row.destination}.jpg"
                told = replace(row, file=file, sha256=name(file), version=version)
                manifest.add(replace(told, master_sha256=sha256))
        manifest.close((), ())
    return job


def given(masters: Iterable[Wanted]) -> Iterator[Made]:
    """As if every fingerprint had been read."""
    one, _ = opened(Path(sys.argv[2]) / FOLDER / SHELF) or (None, None)
    assert one is not None
    for wanted in masters:
        yield Made(wanted=wanted, rows=replace(one, names=(wanted.sha256,)))


def get_to_know(job: Path) -> None:
    began, cpu = time.perf_counter(), time.process_time()
    found = known([job], print, spread=given)
    wall, cpu = time.perf_counter() - began, time.process_time() - cpu
    print(
        f"{len(found.masters)} masters, {len(found.files)} files: {wall:.1f} s, {cpu:.1f} CPU s, ",
        end="",
    )
    print(f"peak {peak_mb():.0f} MB", flush=True)


def main() -> None:
    if Path(sys.argv[1]).is_dir():
        get_to_know(Path(sys.argv[1]))
        return
    with tempfile.TemporaryDirectory() as place:
        job = simulated(Path(place), int(sys.argv[1]))
        for what in ("at first", "again", "again"):
            print(what, end=": ", flush=True)
            subprocess.run(
                [sys.executable, "-m", "bench.season_known", str(job), f"{place}/one"], check=True
            )


if __name__ == "__main__":
    main()
