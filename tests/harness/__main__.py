"""``python -m tests.harness``: every step of a small run, then kills of real commands."""

from __future__ import annotations

import argparse
import random
import tempfile
import time
from pathlib import Path

from tests.harness.kills import Harness, quick, real
from tests.harness.steps import REFUSALS, Small, different

PER_JOB = 20
"""Kills before a job may finish."""
RUNS = (("plan", "export"), ("both",))
"""Every other job is planned and exported in one run."""


def tell(line: str) -> None:
    print(line, flush=True)  # noqa: T201 - a command of its own


def every_step(home: Path) -> None:
    """End a run of three masters before each of its steps, in every way there is."""
    small = Small(home, masters=3)
    small.prepare()
    heard = small.overheard(small.work, small.fresh())
    assert heard.lasting() == heard.now(), "what was done does not last"
    states = list(different(heard.left))
    for left in states:
        small.survives(left, again=True)
    tell(f"{heard.steps} steps: {len(states)} ends by a kill or a power cut survived")
    for step in range(1, heard.steps + 1):
        for for_good in (False, True):
            small.refused(step, REFUSALS[step % len(REFUSALS)], for_good=for_good)
    tell(f"{2 * heard.steps} refusals of the disk survived")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--masters", type=int, default=12)
    parser.add_argument("--seed", type=int, default=time.time_ns() % 100_000)
    parser.add_argument("--workers", type=int, default=0)
    parser.add_argument("--quick", action="store_true", help="without the finding engine")
    asked = parser.parse_args()
    command = quick if asked.quick else real(asked.workers or None)
    tell(f"seed {asked.seed}")
    with tempfile.TemporaryDirectory() as home:
        every_step(Path(home))
    with tempfile.TemporaryDirectory() as home:
        harness = Harness(Path(home), command, asked.masters, random.Random(asked.seed))  # noqa: S311
        harness.prepare()
        number = 0
        while harness.kills < asked.kills:
            harness.round(number, PER_JOB, RUNS[number % len(RUNS)])
            number += 1
            tell(f"{harness.kills} kills survived on {number} jobs ({harness.too_late} too late)")


if __name__ == "__main__":
    main()
