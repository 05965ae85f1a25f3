"""One picture may take its time and its memory, and no more; the others go on."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from cropper.batch.time_limit import each_within
from cropper.errors import MasterError
from cropper.geometry import Size
from cropper.master import affording
from cropper.master.affording import refuse_unaffordable


def test_a_step_that_takes_too_long_is_ended_with_a_sentence() -> None:
    with pytest.raises(MasterError, match="longer than"):
        list(each_within(iter(lambda: time.sleep(5), None), 0.1, "a.jpg"))


def test_time_spent_by_whoever_takes_the_results_does_not_count() -> None:
    told = []
    for one in each_within(iter(range(3)), 0.2, "a.jpg"):
        time.sleep(0.15)
        told.append(one)
    assert told == [0, 1, 2]


def test_what_was_done_before_the_limit_is_kept() -> None:
    def slow() -> Iterator[int]:
        yield 1
        time.sleep(5)

    made = each_within(slow(), 0.2, "a.jpg")
    assert next(made) == 1
    with pytest.raises(MasterError, match=r"a\.jpg"):
        next(made)


@pytest.mark.parametrize(("free", "refused"), [(200_000_000, True), (2_000_000_000, False)])
def test_a_picture_that_does_not_fit_is_refused_from_its_header(
    monkeypatch: pytest.MonkeyPatch, free: int, *, refused: bool
) -> None:
    monkeypatch.setattr(affording, "free_bytes", lambda: free)
    size = Size(10_000, 10_000)
    if refused:
        with pytest.raises(MasterError, match="memory"):
            refuse_unaffordable(Path("a.tif"), size, bands=3, bit_depth=8)
    else:
        refuse_unaffordable(Path("a.tif"), size, bands=3, bit_depth=8)


def test_this_machine_tells_how_much_is_free_or_nothing() -> None:
    free = affording.free_bytes()
    assert free is None or free > 0
