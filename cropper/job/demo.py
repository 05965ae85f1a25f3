"""The demo's job: the shipped masters for every destination, two of them as a set of rivals."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Final

from cropper._resources import shipped
from cropper.deliverable.writing import write_whole
from cropper.destination.presets import load_presets
from cropper.errors import weightiest
from cropper.job.asked import Asked
from cropper.job.running import run_plan
from cropper.job.wording import WORDS_FILE

ENDINGS: Final = (".jpg", ".tif", ".png")
MASTERS: Final = "masters"


def demo_masters(job: Path) -> tuple[Path, ...]:
    """The shipped masters, as files; copied beside the job where they come out of an archive."""
    found = sorted(
        (one for one in shipped("demo_images").iterdir() if one.name.endswith(ENDINGS)),
        key=lambda one: one.name,
    )
    return tuple(_as_file(one, job / MASTERS) for one in found)


def _as_file(one: Traversable, folder: Path) -> Path:
    if isinstance(one, Path):
        return one
    copy = folder / one.name
    if not copy.exists():
        write_whole(copy, one.read_bytes())
    return copy


def demo_words(job: Path) -> None:
    """The demo's invented words, unless the job has words of its own already."""
    path = job / WORDS_FILE
    if not path.exists():
        write_whole(path, (shipped("demo_images") / WORDS_FILE).read_bytes())


def plan_demo(
    job: Path,
    masters: Sequence[Path],
    *,
    set_name: str,
    rivals: Sequence[str],
    now: datetime,
    say: Callable[[str], None],
) -> int:
    """Plan the rivals as a set and the others singly, everywhere; gives the exit code."""
    destinations = load_presets().choose(["all"])
    set_files = tuple(one for one in masters if one.stem in rivals)
    others = tuple(one for one in masters if one.stem not in rivals)
    codes = []
    for files, name in ((set_files, set_name), (others, "")):
        if files:
            asked = Asked(files=files, destinations=destinations)
            codes.append(run_plan(job, asked, now=now, set_name=name, say=say).exit_code)
    return weightiest(*codes)
