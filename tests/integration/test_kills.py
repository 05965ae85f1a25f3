"""A dozen kills of real runs; ``make harness`` does hundreds, with the engines."""

from __future__ import annotations

import random
from pathlib import Path

from tests.harness.kills import Harness, quick


def test_runs_killed_anywhere_leave_nothing_half_done_and_the_next_does_the_rest(
    tmp_path: Path,
) -> None:
    dice = random.Random(20260304)  # noqa: S311 - the same instants every time
    harness = Harness(tmp_path, quick, masters=8, random=dice)
    harness.prepare()
    harness.round(1, kills=12)
    assert harness.kills >= 8, "most of them came in time"
    harness.round(2, kills=4, verbs=("both",))
    assert harness.kills >= 10, "most of these, too"
