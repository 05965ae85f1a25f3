"""Real runs that start quickly: all of the program but the engine that looks for faces.

``python -m tests.harness.quick plan JOB FOLDER``, ``... export JOB``, and ``... both JOB FOLDER``
in one run. The eyes stand where the pictures of the harness have them; masters, plans, files and
manifests are real.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from cropper.destination.presets import load_presets
from cropper.geometry import Point
from cropper.job.asked import Asked
from cropper.job.exporting import Wish
from cropper.job.manifesting import run_export
from cropper.job.one_master import Seen
from cropper.job.plan import HandMarks
from cropper.job.planning import one_by_one
from cropper.job.running import run_plan
from cropper.job.store import DELIVERABLES
from cropper.master.opening import master_digest, open_master
from cropper.subject.by_hand import by_hand
from cropper.subject.subject import Finding, Origin

DESTINATIONS = ("square-post", "tall-post")


class QuickLooker:
    """Knows where the eyes are."""

    name = "quick"

    def digest(self, path: Path) -> str:
        return master_digest(path)

    def look(self, path: Path, marks: HandMarks) -> Seen:
        del marks
        master = open_master(path)
        size = master.size
        half, down = 0.035 * size.width, 0.36 * size.height
        left, right = Point(size.width / 2 - half, down), Point(size.width / 2 + half, down)
        person = replace(by_hand(size, left, right), eyes_from=Origin.FOUND)
        finding = Finding(size=size, subjects=(person,), finder="quick")
        return Seen(sha256=master.sha256, size=size, finding=finding)


def plan(job: Path, folder: Path, *, finish: bool = False) -> None:
    asked = Asked(
        files=tuple(sorted(folder.iterdir())), destinations=load_presets().choose(DESTINATIONS)
    )
    work = one_by_one(QuickLooker())
    run_plan(job, asked, now=datetime.now(UTC), spread=work, finish=finish)


def export(job: Path) -> None:
    wish = Wish(folder=job / DELIVERABLES, day="20260304", with_problems=True)
    run_export(job, wish, now=datetime.now(UTC))


if __name__ == "__main__":
    print("ready", flush=True)  # noqa: T201 - the harness waits for it
    verb, job, *rest = sys.argv[1:]
    if verb != "export":
        plan(Path(job), Path(rest[0]), finish=verb == "both")
    if verb != "plan":
        export(Path(job))
