"""Planning and exporting in one run against two: ``python -m bench.season_one_run [COUNT]``.

CPU seconds of the commands with their starting up, for masters of 24 MP and the group "social";
the ways take turns.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from bench.season import CROPPER, FACE

SIZE = (4000, 6000)
FOR = ("--for", "social")


def shoot(folder: Path, count: int) -> Path:
    """Masters of 24 MP, each a little unlike the others."""
    folder.mkdir()
    with Image.open(FACE) as picture:
        face = np.asarray(picture.resize(SIZE), np.uint8)
    for number in range(count):
        pixels = np.minimum(face, 255 - number) + np.uint8(number)
        Image.fromarray(pixels).save(folder / f"wool-{number:03d}.jpg", quality=92)
    return folder


def cpu_s(*words: object) -> float:
    """CPU seconds of a command and its workers."""
    before = os.times()
    done = subprocess.run([CROPPER, *map(str, words)], capture_output=True, check=False)
    assert done.returncode in {0, 5}, done.stderr.decode()
    after = os.times()
    spent = after.children_user + after.children_system
    return spent - before.children_user - before.children_system


def main() -> None:
    count = int(sys.argv[1]) if sys.argv[1:] else 12
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        folder = shoot(home / "shoot", count)
        for shared in ((), ("--workers", 2)):
            two, one = home / f"two-{len(shared)}", home / f"one-{len(shared)}"
            apart = cpu_s("plan", folder, *FOR, "--job", two, *shared)
            apart += cpu_s("export", "--job", two, *shared)
            together = cpu_s("plan", folder, *FOR, "--job", one, "--export", *shared)
            print(
                f"{count} masters, {shared[-1] if shared else 'no'} workers: "
                f"{apart / count:.2f} CPU s a master in two runs, {together / count:.2f} in one"
            )


if __name__ == "__main__":
    main()
