"""``python -m tests.harness --kills 200``: minutes of kills, on real commands."""

from __future__ import annotations

import argparse
import random
import tempfile
import time
from pathlib import Path

from tests.harness.kills import Harness, quick, real

PER_JOB = 6
"""Kills before a job may finish: three while planning, three while exporting."""


def tell(line: str) -> None:
    print(line, flush=True)  # noqa: T201 - a command of its own


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--masters", type=int, default=12)
    parser.add_argument("--seed", type=int, default=time.time_ns() % 100_000)
    parser.add_argument("--workers", type=int, default=0)
    parser.add_argument("--quick", action="store_true", help="without the finding engine")
    asked = parser.parse_args()
    command = quick if asked.quick else real(asked.workers or None)
    tell(f"seed {asked.seed}")
    with tempfile.TemporaryDirectory() as home:
        harness = Harness(Path(home), command, asked.masters, random.Random(asked.seed))  # noqa: S311
        harness.prepare()
        number = 0
        while harness.kills < asked.kills:
            harness.round(number, PER_JOB)
            number += 1
            tell(f"{harness.kills} kills survived on {number} jobs ({harness.too_late} too late)")


if __name__ == "__main__":
    main()
