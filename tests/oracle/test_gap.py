"""The planner finds the least sum there is, and measures as the checker does.

The checker was written from docs/composition.md by another hand; see tests/oracle/checker.py.
"""

from __future__ import annotations

import time

import pytest

from tests.oracle.__main__ import report
from tests.oracle.gaps import hold_all, told

BATCH = 50


@pytest.mark.parametrize("first", range(0, 200, BATCH))
def test_the_planner_leaves_no_gap_to_trying_every_box(first: int) -> None:
    assert told(hold_all(range(first, first + BATCH))) == ""


def test_the_planner_leaves_no_gap_on_masters_of_up_to_96_px() -> None:
    assert told(hold_all(range(50_000, 50_012), least=64, most=96)) == ""


def test_the_planner_leaves_no_gap_on_masters_of_600_px_and_more() -> None:
    assert told(hold_all(range(500_000, 500_006), least=600, most=900, ranges=False)) == ""


def test_the_planner_measures_its_crops_of_real_masters_as_the_checker_does() -> None:
    results = hold_all(range(700_000, 700_016), least=1500, most=6000, search=False)
    assert told(results) == ""


@pytest.mark.long
def test_ten_thousand_scenes_leave_no_gap(capsys: pytest.CaptureFixture[str]) -> None:
    started = time.perf_counter()
    results = list(hold_all(range(100_000, 110_000)))
    results += hold_all(range(200_000, 200_500), least=64, most=96)
    results += hold_all(range(510_000, 510_500), least=600, most=900, ranges=False)
    with capsys.disabled():
        print(f"\n{report(results, time.perf_counter() - started)}")  # noqa: T201
    assert told(results) == ""
