"""A crew does pure tasks in processes of its own; a death costs one task, never the batch."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from cropper.batch.crews import crew_of
from cropper.batch.here import IN_HAND, Processes
from cropper.batch.work import largest_first
from cropper.errors import MisuseError
from tests.unit.batch.deeds import decoded, mistaken, squared, threads_of_arithmetic


def test_all_tasks_are_done_and_no_more_are_taken_up_than_can_be_in_hand() -> None:
    taken = 0

    def tasks() -> Iterator[int]:
        nonlocal taken
        for number in range(100):
            taken += 1
            yield number

    results = set()
    for came in Processes(2).do(squared, tasks()):
        results.add(came.result)
        # What is in hand, and what largest_first looks ahead at.
        assert taken <= len(results) + 2 * IN_HAND + 32
    assert results == {number * number for number in range(100)}


def test_a_crash_in_native_code_a_shot_and_a_hang_cost_one_picture_each(tmp_path: Path) -> None:
    names = ["a", "deadly", "b", "shot", "c", "stuck", "d", "e", "f"]
    for name in names:
        Image.new("RGB", (7, 5)).save(tmp_path / f"{name}.png")
    files = [str(tmp_path / f"{name}.png") for name in names]

    came = {Path(one.task).stem: one for one in Processes(2, longest_s=3.0).do(decoded, files)}

    assert set(came) == set(names)
    assert {name for name, one in came.items() if one.lost} == {"deadly", "shot", "stuck"}
    assert "SIGSEGV" in came["deadly"].lost
    assert "SIGKILL" in came["shot"].lost
    assert "longer than 3 s" in came["stuck"].lost
    assert all(one.result == 7 for one in came.values() if not one.lost)


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="threads are counted in /proc")
def test_the_arithmetic_of_a_picture_takes_one_core(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        monkeypatch.delenv(name, raising=False)
    (came,) = Processes(1).do(threads_of_arithmetic, [300])
    assert came.result == 1


def test_a_fault_of_ours_is_raised_and_not_taken_for_a_bad_picture() -> None:
    with pytest.raises(ValueError, match="our own fault"):
        list(Processes(1).do(mistaken, [1]))


@given(st.lists(st.integers(0, 1000), max_size=100))
def test_largest_first_keeps_every_task(tasks: list[int]) -> None:
    ordered = list(largest_first(tasks, weight=lambda task: task))
    assert sorted(ordered) == sorted(tasks)
    if tasks and len(tasks) <= 32:
        assert ordered == sorted(tasks, reverse=True)


def test_one_crew_at_a_time() -> None:
    assert crew_of(None) is None
    assert crew_of(3) == Processes(3)
    with pytest.raises(MisuseError, match="--workers is about this machine"):
        crew_of(2, "tcp://127.0.0.1:8786")
