"""Kill real runs at random instants, and look at what is left.

After every kill: no half file under a final name, no stale line in a manifest, masters untouched.
After the next run, left alone: the result of a run that nobody disturbed, and nothing that was
done before the kill was done again.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image

from cropper.deliverable.writing import PART
from cropper.job import codec
from cropper.job.ledger import read_ledger
from cropper.job.shelf import file_digest
from cropper.job.stage import STAGE
from cropper.job.store import JobFolder

Command = Callable[[str, Path, Path], list[str]]


FACE: Final = Path(__file__).parents[2] / "demo_images" / "fernhollow_a_frontal.jpg"
SIZE: Final = (1300, 1625)
OF_THIS_RUN: Final = ("at", "made_at", "id", "job", "folder")
"""Keys whose values differ between two jobs that come to the same: times, names and places."""


def shoot(folder: Path, count: int, size: tuple[int, int] = SIZE) -> Path:
    """Small masters of one face, each a little unlike the others."""
    folder.mkdir()
    with Image.open(FACE) as picture:
        face = np.asarray(picture.resize(size), np.int16)
    for number in range(count):
        pixels = np.clip(face + number % 50, 0, 255).astype(np.uint8)
        Image.fromarray(pixels).save(folder / f"wool-{number:03d}.jpg", quality=90)
    return folder


def quick(verb: str, job: Path, folder: Path) -> list[str]:
    """The command of a run without the finding engine."""
    words = [verb, str(job), *([str(folder)] if verb != "export" else [])]
    return [sys.executable, "-m", "tests.harness.quick", *words]


def real(workers: int | None) -> Command:
    """The commands as a photographer types them."""

    def command(verb: str, job: Path, folder: Path) -> list[str]:
        cropper = str(Path(sys.executable).with_name("cropper"))
        shared = ["--workers", str(workers)] if workers else []
        if verb != "export":
            asked = [str(folder), "--for", "square-post,tall-post"]
            finish = ["--export"] if verb == "both" else []
            return [cropper, "plan", *asked, *finish, "--job", str(job), *shared]
        return [cropper, "export", "--job", str(job), *shared]

    return command


@dataclass(slots=True)
class Harness:
    """A shoot, the result of an undisturbed run on it, and a job to be disturbed."""

    home: Path
    command: Command
    masters: int
    random: random.Random
    kills: int = 0
    too_late: int = 0
    reference: dict[str, str] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)

    @property
    def folder(self) -> Path:
        return self.home / "shoot"

    def prepare(self) -> None:
        """The shoot, and what comes of it when nobody disturbs."""
        shoot(self.folder, self.masters)
        self.digests = digests(self.folder)
        job = self.home / "undisturbed"
        for verb in ("plan", "export"):
            self._run(verb, job)
        self.reference = result(job)
        assert sum(one.startswith("planned/") for one in self.reference) == self.masters
        assert sum(one.endswith(".jpg") for one in self.reference) == 2 * self.masters

    def round(self, number: int, kills: int, verbs: Sequence[str] = ("plan", "export")) -> None:
        """Kill ``kills`` runs of one job, as many of each verb; "both" plans and exports."""
        job = self.home / f"job-{number}"
        for place, verb in enumerate(verbs):
            for _ in range(place, kills, len(verbs)):
                self._killed(verb, job)
            before = _stamps(job)
            self._run(verb, job)
            self._only_what_was_missing(before, _stamps(job))
        mine = result(job)
        apart = [one for one in mine | self.reference if mine.get(one) != self.reference.get(one)]
        assert not apart, f"unlike an undisturbed run: {apart}"

    def _run(self, verb: str, job: Path) -> None:
        done = subprocess.run(
            self.command(verb, job, self.folder), capture_output=True, text=True, check=False
        )
        assert done.returncode in {0, 5}, done.stderr

    def _killed(self, verb: str, job: Path) -> None:
        """Start a run, kill it and all its workers when it has come some way, and look.

        The instant follows the work and not the clock alone, so that it does not matter how busy
        the machine is: after none, one or two more things done, and up to 50 ms later.
        """
        command = self.command(verb, job, self.folder)
        quiet = subprocess.DEVNULL
        goal = _come_so_far(job) + self.random.choice((0, 1, 1, 2))
        run = subprocess.Popen(command, stdout=quiet, stderr=quiet, start_new_session=True)
        while run.poll() is None and _come_so_far(job) < goal:
            time.sleep(0.002)
        time.sleep(self.random.uniform(0, 0.05))
        if run.poll() is None:
            os.killpg(run.pid, signal.SIGKILL)
            self.kills += 1
        else:
            self.too_late += 1
        run.wait()
        look(job, self.folder, self.digests, self.reference)

    def _only_what_was_missing(self, before: dict[str, Stamp], after: dict[str, Stamp]) -> None:
        again = [name for name in before if after.get(name) != before[name]]
        assert not again, f"done again: {again}"


def look(job: Path, folder: Path, masters: dict[str, str], reference: dict[str, str]) -> None:
    """What must hold whenever somebody looks at a job of the masters in ``folder``."""
    assert digests(folder) == masters, "a master was touched"
    if not job.exists():
        return
    plan = JobFolder(job).read()
    for path in job.glob("planned/??/[!.]*.json"):
        codec.master_from(path.read_bytes())
    for entry in plan.shelf.entries if plan is not None else ():
        if JobFolder(job).shelf.file_of(entry.version).exists():
            assert entry.master.version == entry.version
    read_ledger(job)
    for path in job.glob("deliverables/[!.]*.jpg"):
        with Image.open(path) as picture:
            picture.load()
        key = f"deliverables/{path.name}"
        assert hashlib.sha256(path.read_bytes()).hexdigest() == reference[key]
    manifest = job / "deliverables" / "manifest.json"
    if manifest.exists():
        for row in json.loads(manifest.read_bytes())["delivered"]:
            data = (manifest.parent / row["file"]).read_bytes()
            assert hashlib.sha256(data).hexdigest() == row["sha256"]


def _come_so_far(job: Path) -> int:
    """Masters noted, files made ready, and files delivered."""
    journal = job / "planned" / "cards.jsonl"
    lines = journal.read_bytes().count(b"\n") if journal.exists() else 0
    ready = sum(1 for one in job.glob(f"{STAGE}/*/*") if not one.name.startswith(PART))
    return lines + ready + sum(1 for _ in job.glob("deliverables/[!.]*.jpg"))


Stamp = tuple[int, int]


def _stamps(job: Path) -> dict[str, Stamp]:
    """File numbers and times of what is done: masters planned with a true card, deliverables."""
    if not job.exists():
        return {}
    folder = JobFolder(job)
    true = [
        folder.shelf.file_of(card.version)
        for card in (folder.shelf.cards().values() if folder.plan_file.exists() else ())
        if folder.shelf.file_of(card.version).exists()
        and file_digest(folder.shelf.text(card)) == card.text
    ]
    files = [*true, *job.glob("deliverables/*.jpg")]
    return {str(one): (one.stat().st_ino, one.stat().st_mtime_ns) for one in files}


def digests(folder: Path) -> dict[str, str]:
    return {one.name: hashlib.sha256(one.read_bytes()).hexdigest() for one in folder.iterdir()}


def result(job: Path) -> dict[str, str]:
    """All that a job came to, but for its times and its id."""
    told = {}
    for path in sorted(job.rglob("*")):
        name = path.relative_to(job).as_posix()
        if path.suffix == ".jpg":
            told[name] = hashlib.sha256(path.read_bytes()).hexdigest()
        elif path.name == "exported.json":  # in whatever order the workers were done
            told[name] = json.dumps(json.loads(path.read_bytes()), sort_keys=True)
        elif path.suffix in {".json", ".csv"}:
            lines = path.read_text(encoding="utf-8").splitlines()
            told[name] = "\n".join(
                one for one in lines if not any(f'"{key}"' in one for key in OF_THIS_RUN)
            )
    order = JobFolder(job).must_read().shelf.versions
    told["the order"] = " ".join(order)
    return told
