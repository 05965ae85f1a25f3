"""What a season costs: the store at 10,000 masters, masters per second by workers, memory, start.

``python -m bench.season`` (minutes), ``--quick`` (under a minute). Masters are made by code from
one picture. Walls depend on whoever shares the machine, so its load is printed with them, and
ratios come from runs that take turns. Peak memory is of the command and all its workers together,
sampled ten times a second.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import numpy as np
from PIL import Image

from cropper.destination.presets import load_presets
from cropper.job import codec, summary
from cropper.job.cards import card_of
from cropper.job.plan import Choice, Plan, PlannedMaster
from cropper.job.shelf import file_digest
from cropper.job.store import JobFolder

CROPPER = str(Path(sys.executable).with_name("cropper"))
FACE = Path(__file__).parents[1] / "demo_images" / "fernhollow_a_frontal.jpg"
TWELVE = 12
NOW = datetime(2026, 3, 4, tzinfo=UTC)


@contextmanager
def timed(what: str, unit: str = "s") -> Iterator[None]:
    began = time.perf_counter()
    yield
    print(f"{what:58} {time.perf_counter() - began:8.3f} {unit}")


def shoot(folder: Path, count: int) -> Path:
    """Masters of about 1 MP, each a little unlike the others."""
    folder.mkdir()
    with Image.open(FACE) as picture:
        face = np.asarray(picture.resize((900, 1200)), np.int16)
    for number in range(count):
        pixels = np.clip(face + number % 50, 0, 255).astype(np.uint8)
        Image.fromarray(pixels).save(folder / f"wool-{number:05d}.jpg", quality=90)
    return folder


def one_planned(home: Path) -> tuple[Plan, PlannedMaster]:
    """A real master for twelve real destinations."""
    names = ",".join(one.name for one in load_presets().destinations[:TWELVE])
    job = home / "one"
    plan(job, shoot(home / "single", 1), "--for", names)
    read = JobFolder(job).must_read()
    return read, read.masters[0]


def plan(job: Path, *words: object) -> None:
    done = subprocess.run(
        [CROPPER, "plan", *map(str, words), "--job", str(job)], capture_output=True, check=False
    )
    assert done.returncode in {0, 5}, done.stderr.decode()


def store(home: Path, count: int) -> None:
    """Opening, listing and changing one crop of a job of ``count`` simulated masters."""
    head, master = one_planned(home)
    job = home / f"store-{count}"
    folder = JobFolder(job)
    job.mkdir()
    folder.write(replace(head, masters=(), sets=()))
    text = codec.master_text(master, 0)
    with timed(f"simulated: {count} x {TWELVE} put on the disk"):
        for number in range(count):
            version = f"wool-{number:06d}"
            mine = text.replace(f'"version": "{master.version}"', f'"version": "{version}"', 1)
            mine = mine.replace('"place": 0', f'"place": {number}', 1)
            card = card_of(replace(master, version=version), place=number, text=file_digest(mine))
            folder.shelf.put(card, mine)
    fresh = JobFolder(job)
    with timed("  opening"):
        read = fresh.must_read()
    with timed(f"  listing all {count * TWELVE} crops"):
        assert sum(1 for _ in summary.listed(read)) == count * TWELVE
    with timed("  changing one crop, under the lock, flushed to the disk"), fresh.held():
        one = read.masters[count // 2]
        choice = Choice(index=0, chosen_by="photographer", at=NOW)
        fresh.write(read.with_master(one.with_choice(one.answers[0].destination, choice)))
    with timed("  cropper status, as a command"):
        subprocess.run([CROPPER, "status", "--job", str(job)], capture_output=True, check=False)
    size = sum(one.stat().st_size for one in job.rglob("*") if one.is_file())
    print(f"  {size / count / 1000:.0f} kB a master, {size / 1e6:.0f} MB in all")
    shutil.rmtree(job)


def workers(home: Path, count: int, rounds: int) -> None:
    """Masters per second with none, one and two processes, in turns."""
    folder = shoot(home / f"shoot-{count}", count)
    spent: dict[int, list[float]] = {0: [], 1: [], 2: []}
    for number in range(rounds):
        for crew, walls in spent.items():
            job = home / f"job-{crew}-{number}"
            shared = ["--workers", crew] if crew else []
            began = time.perf_counter()
            plan(job, folder, "--for", "social", *shared)
            walls.append(time.perf_counter() - began)
    for crew, walls in spent.items():
        print(
            f"{count} masters, {crew or 'no'} workers: {median(walls):.2f} s, "
            f"{count / median(walls):.2f} a second"
        )
    ratio = median(spent[1]) / median(spent[2])
    print(
        f"  2 workers against 1, starting up and all: {ratio:.2f}x; load {os.getloadavg()[0]:.1f}"
    )


def growth(home: Path, counts: list[int]) -> None:
    """Cost per master and peak memory, by how many there are, with two workers."""
    for count in counts:
        folder = shoot(home / f"grow-{count}", count)
        command = [CROPPER, "plan", str(folder), "--for", "social", "--workers", "2"]
        job = home / f"grown-{count}"
        began = time.perf_counter()
        before = os.times()
        peak = peak_mb([*command, "--job", str(job)])
        wall, after = time.perf_counter() - began, os.times()
        cpu = after.children_user + after.children_system
        cpu -= before.children_user + before.children_system
        each = f"{wall / count * 1000:7.0f} ms wall, {cpu / count * 1000:7.0f} ms CPU a master"
        load = os.getloadavg()[0]
        print(f"{count:6} masters: {each}; peak {peak:.0f} MB; load {load:.1f}")


def peak_mb(command: list[str]) -> float:
    """The largest memory of a command and its children, together (shared pages counted once)."""
    run = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    peak = 0.0
    done = threading.Event()

    def watch() -> None:
        nonlocal peak
        while not done.wait(0.1):
            peak = max(peak, sum(pss_mb(pid) for pid in family(run.pid)))

    watcher = threading.Thread(target=watch)
    watcher.start()
    run.wait()
    done.set()
    watcher.join()
    return peak


def family(pid: int) -> list[int]:
    found = [pid]
    for one in found:
        try:
            listed = Path(f"/proc/{one}/task/{one}/children").read_text()
        except OSError:
            continue
        found.extend(int(child) for child in listed.split())
    return found


def pss_mb(pid: int) -> float:
    try:
        told = Path(f"/proc/{pid}/smaps_rollup").read_text()
    except OSError:
        return 0.0
    line = next((one for one in told.splitlines() if one.startswith("Pss:")), "Pss: 0 kB")
    return int(line.split()[1]) / 1000


def starting(home: Path) -> None:
    """``--help``, and the first result of a batch."""
    walls = []
    for _ in range(5):
        began = time.perf_counter()
        subprocess.run([CROPPER, "--help"], capture_output=True, check=True)
        walls.append(time.perf_counter() - began)
    print(f"cropper --help: {median(walls):.3f} s (least {min(walls):.3f})")
    folder = shoot(home / "first", 4)
    words = ["plan", str(folder), "--for", "social", "--job", str(home / "first-job")]
    began = time.perf_counter()
    run = subprocess.Popen([CROPPER, *words, "--json-lines"], stdout=subprocess.PIPE, text=True)
    assert run.stdout is not None
    for line in run.stdout:
        if '"through"' in line:
            print(f"first result of a batch: {time.perf_counter() - began:.2f} s")
            break
    run.communicate()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true")
    quick = parser.parse_args().quick
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        starting(home)
        store(home, 1_000 if quick else 10_000)
        workers(home, 12 if quick else 60, rounds=1 if quick else 3)
        growth(home, [5, 20] if quick else [10, 100, 1000])


if __name__ == "__main__":
    main()
