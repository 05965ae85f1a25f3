"""A small run, ended before each of its steps once: killed, by a power cut, or by a failing disk.

The random kills of :mod:`tests.harness.kills` meet an instant by luck; here none is left out. What
is left is looked at as after any kill, and the next run must come to what a run comes to that
nobody disturbed.
"""

from __future__ import annotations

import errno
import os
import random
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from unittest.mock import patch

from cropper.destination.destination import Destination
from cropper.destination.presets import load_presets
from cropper.errors import CropperError
from cropper.job.asked import Asked
from cropper.job.exporting import Wish
from cropper.job.manifesting import run_export
from cropper.job.planning import one_by_one
from cropper.job.running import run_plan
from cropper.job.store import DELIVERABLES
from tests.harness.disk import Disk, Hears, Left, failing, laid_out
from tests.harness.kills import digests, look, result, shoot
from tests.harness.quick import QuickLooker

STAMPS = """[stamp]
title = "Stamp"
size_px = [48, 48]
framing = ["close-up", "half length"]
[ticket]
title = "Ticket"
size_px = [48, 60]
framing = ["close-up", "half length"]
"""
SIZE = (104, 130)
DAY = "20260304"
REFUSALS = (errno.ENOSPC, errno.EIO, errno.EROFS, errno.ESTALE, errno.EACCES)
"""Full, broken, locked, a share that went away, and rights that were taken."""

Deed = Callable[[Path], None]


@dataclass(slots=True)
class Small:
    """A shoot of ``masters`` tiny masters, and what comes of it when nobody disturbs."""

    home: Path
    masters: int = 2
    reference: dict[str, str] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)
    destinations: tuple[Destination, ...] = ()
    _tries: Iterator[int] = field(default_factory=count)

    def prepare(self) -> None:
        """Draw the masters; plan and export them once."""
        shoot(self.folder, self.masters, SIZE)
        (self.home / "presets").mkdir()
        (self.home / "presets" / "small.toml").write_text(STAMPS, "utf-8")
        presets = load_presets(folders=(self.home / "presets",))
        self.destinations = presets.choose(("stamp", "ticket"))
        self.digests = digests(self.folder)
        job = self.fresh()
        self.work(job)
        self.reference = result(job)
        assert sum(one.endswith(".jpg") for one in self.reference) == 2 * self.masters

    @property
    def folder(self) -> Path:
        return self.home / "shoot"

    def fresh(self) -> Path:
        """Where a job may begin; all as far from the masters, so that they look alike."""
        return self.home / f"try-{next(self._tries)}" / "job"

    def plan(self, job: Path, masters: int | None = None) -> None:
        files = tuple(sorted(self.folder.iterdir()))[:masters]
        asked = Asked(files=files, destinations=self.destinations)
        looked = one_by_one(QuickLooker())
        in_set = "" if masters == 1 else "knit"
        run_plan(job, asked, now=datetime.now(UTC), spread=looked, set_name=in_set)

    def export(self, job: Path) -> None:
        run_export(
            job,
            Wish(folder=job / DELIVERABLES, day=DAY, everything=True, with_problems=True),
            now=datetime.now(UTC),
        )

    def work(self, job: Path) -> None:
        """Both, one after the other."""
        self.plan(job)
        self.export(job)

    def overheard(self, deed: Deed, job: Path, hears: Hears = lambda _number, _step: None) -> Disk:
        """Do it with every step noted."""
        job.parent.mkdir(parents=True, exist_ok=True)
        disk = Disk(job.parent, hears, random.Random(7))  # noqa: S311 - the same every time
        with disk.watched():
            deed(job)
        return disk

    def survives(self, left: Left, *, again: bool) -> None:
        """Look at what is left; ``again``: and let the next run come to its end."""
        job = self.fresh()
        laid_out(left.tree, job.parent)
        try:
            look(job, self.folder, self.digests, self.reference)
            if again:
                self._made_whole(job)
        except (AssertionError, CropperError, ValueError, OSError) as error:
            raise AssertionError(f"{left.how}, before: {left.step}: {error}") from error
        shutil.rmtree(job.parent)

    def as_undisturbed(self, job: Path) -> None:
        """Whether it came to the same, and left nothing half done."""
        mine = result(job)
        apart = {one for one in mine | self.reference if mine.get(one) != self.reference.get(one)}
        assert not apart, f"unlike an undisturbed run: {sorted(apart)}"
        half = [one for one in job.rglob("*") if ".part" in one.name]
        # Fingerprints are written without the job's lock, so nobody may sweep there.
        assert {one.parent.name for one in half} <= {"fingerprints"}, f"{half} were never finished"

    def refused(self, step: int, number: int, *, for_good: bool) -> bool:
        """Let the system refuse a step; whether the run came so far. The next run mends it."""
        job = self.fresh()
        job.parent.mkdir()
        disk = Disk(job.parent, failing(step, number, for_good=for_good), noting=False)
        said = "nothing"
        with disk.watched():
            try:
                self.work(job)
            except CropperError as error:
                said = error.way_out
        assert said, f"no way out of {os.strerror(number)} at step {step} is told"
        look(job, self.folder, self.digests, self.reference)
        self._made_whole(job)
        shutil.rmtree(job.parent)
        return disk.steps >= step

    def _made_whole(self, job: Path) -> None:
        with patch("os.fsync"):  # the power stays on here, and flushing takes most of the time
            self.work(job)
        self.as_undisturbed(job)


def different(left: Iterable[Left]) -> Iterator[Left]:
    """Each state of the folder once, at the first step that leaves it."""
    seen: set[int] = set()
    for one in left:
        key = hash(frozenset(one.tree.items()))
        if key not in seen:
            seen.add(key)
            yield one
