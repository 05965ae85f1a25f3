"""What a scheduler with two workers costs against two processes of the command's own.

``python -m bench.season_cluster``: masters of 6 MP, planned for twelve destinations and exported,
by either in turn; the files are compared byte for byte. CPU is of the command and all its workers,
and holds where walls do not: the machine's load is printed with them.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from PIL import Image

from cropper.destination.presets import load_presets
from tests.cluster import Machines, machines

CROPPER = str(Path(sys.executable).with_name("cropper"))
FACE = Path(__file__).parents[1] / "demo_images" / "fernhollow_a_frontal.jpg"
TWELVE = 12
AS_A_NANNY_SETS = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def shoot(folder: Path, count: int) -> Path:
    """Masters a little unlike each other."""
    folder.mkdir()
    with Image.open(FACE) as picture:
        face = np.asarray(picture, np.int16)
    for number in range(count):
        pixels = np.clip(face + number % 50, 0, 255).astype(np.uint8)
        Image.fromarray(pixels).save(folder / f"wool-{number:05d}.jpg", quality=90)
    return folder


def spent_by(pids: Sequence[int]) -> float:
    """CPU seconds of running processes, children that are gone not counted."""
    ticks = 0
    for pid in pids:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def timed(command: Sequence[object], workers: Callable[[], float]) -> tuple[float, float]:
    """Wall and CPU seconds of a command, and of ``workers`` meanwhile."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    elsewhere, began = workers(), time.perf_counter()
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, check=False)
    wall = time.perf_counter() - began
    assert done.returncode in {0, 5}, done.stderr
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    own = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, own + workers() - elsewhere


def both(
    folder: Path, job: Path, way: Sequence[str], workers: Callable[[], float]
) -> dict[str, str]:
    """Plan and export one way; print what it took and give the digest of every file."""
    names = ",".join(one.name for one in load_presets().destinations[:TWELVE])
    plan = (CROPPER, "plan", folder, "--for", names, "--job", job, *way)
    for verb, command in (("plan", plan), ("export", (CROPPER, "export", "--job", job, *way))):
        wall, cpu = timed(command, workers)
        load = os.getloadavg()[0]
        print(f"{verb:8} {way[0]:12} {wall:8.1f} s wall {cpu:8.1f} s CPU   load {load:.1f}")
    made = (job / "deliverables").rglob("*.*")
    return {
        one.name: hashlib.sha256(one.read_bytes()).hexdigest()
        for one in made
        if one.is_file() and one.name not in {"manifest.json", "manifest.csv"}
    }


def elsewhere(them: Machines) -> Callable[[], float]:
    """What the cluster's workers have spent so far."""
    return lambda: spent_by([one.pid for one in them.workers])


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--masters", type=int, default=24)
    words.add_argument("--rounds", type=int, default=2)
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as home:
        room = Path(home)
        folder = shoot(room / "shoot", given.masters)
        for turn in range(given.rounds):
            here = both(folder, room / f"here-{turn}", ("--workers", "2"), lambda: 0.0)
            place = room / f"machines-{turn}"
            place.mkdir()
            with machines(place, number=0) as them:
                them.hire(2, environment=AS_A_NANNY_SETS)
                them.wait_for(2)
                way = ("--scheduler", them.address)
                there = both(folder, room / f"there-{turn}", way, elsewhere(them))
            print(f"{len(here)} files, {'the same' if here == there else 'NOT THE SAME'}")


if __name__ == "__main__":
    main()
