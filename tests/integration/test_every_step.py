"""A small run ended before each of its steps: by a kill, a power cut, a full or failing disk.

None is left out, so a writer that is not whole or not flushed cannot slip through; that this net
catches such a writer is proved here, too.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from cropper import disk
from tests.harness.disk import Disk
from tests.harness.steps import REFUSALS, Small, different

Patch = pytest.MonkeyPatch


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Small:
    small = Small(tmp_path_factory.mktemp("small"))
    small.prepare()
    return small


@pytest.fixture(scope="module")
def heard(small: Small) -> Disk:
    return small.overheard(small.work, small.fresh())


def test_whatever_a_run_is_ended_by_the_next_makes_it_whole(small: Small, heard: Disk) -> None:
    assert heard.steps > 100
    for number, left in enumerate(different(heard.left)):
        small.survives(left, again=number % 6 == 0)  # `make harness` lets all go on


def test_a_run_that_is_done_outlasts_a_power_cut_at_once(heard: Disk) -> None:
    assert heard.lasting() == heard.now()


def test_a_job_that_is_there_outlasts_whatever_ends_its_second_run(small: Small) -> None:
    job = small.fresh()
    small.plan(job, masters=1)
    small.export(job)
    heard = small.overheard(small.work, job)
    for number, left in enumerate(different(heard.left)):
        small.survives(left, again=number % 6 == 1)


@pytest.mark.parametrize("for_good", [False, True], ids=["once", "for good"])
def test_a_disk_that_refuses_is_told_of_and_the_next_run_makes_it_whole(
    small: Small, heard: Disk, *, for_good: bool
) -> None:
    for step in range(1 + 4 * for_good, heard.steps, 17):
        number = REFUSALS[step % len(REFUSALS)]
        assert small.refused(step, number, for_good=for_good)


def _at_once(path: Path, text: str | Iterable[str]) -> None:
    """Flushed, but not aside: half of it is there for an instant."""
    _bytes_at_once(path, "".join(text).encode())


def _bytes_at_once(path: Path, data: bytes, **_: Any) -> None:
    disk.made(path.parent)
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    disk.settle(path.parent)


def _unflushed(path: Path, text: str | Iterable[str]) -> None:
    """Aside, but renamed before its bytes are on the disk; flushed too late."""
    aside = path.with_name(f".{path.name}.part")
    aside.write_text("".join(text), "utf-8")
    aside.replace(path)
    disk.settle(path.parent)
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _unflushed_line(path: Path, line: str) -> None:
    with path.open("a", encoding="utf-8") as file:
        file.write(line)


SOUND_IN_THE_END: dict[str, tuple[str, Callable[..., None]]] = {
    "a plan's head that grows in place": ("cropper.job.store.write_text", _at_once),
    "a head that is renamed before it is flushed": ("cropper.job.store.write_text", _unflushed),
    "a master's file that grows in place": ("cropper.job.shelf.write_text", _at_once),
    "a ledger that grows in place": ("cropper.job.ledger.write_text", _at_once),
    "a deliverable that grows in place": ("cropper.job.making.write_whole", _bytes_at_once),
}
LOST: dict[str, tuple[str, Callable[..., None]]] = {
    "a card that is not flushed": ("cropper.job.shelf.appended", _unflushed_line),
    "folders that are never flushed": ("cropper.disk.settle", lambda _folder: None),
}


@pytest.mark.parametrize("broken", SOUND_IN_THE_END)
def test_the_net_catches_for_an_instant(small: Small, broken: str, monkeypatch: Patch) -> None:
    with monkeypatch.context() as mutated:
        mutated.setattr(*SOUND_IN_THE_END[broken])
        heard = small.overheard(small.work, small.fresh())
    assert heard.lasting() == heard.now()

    def all_survive() -> None:
        for left in different(heard.left):
            small.survives(left, again=False)

    with pytest.raises(AssertionError, match="before: "):
        all_survive()


@pytest.mark.parametrize("broken", LOST)
def test_the_net_catches_what_is_lost(small: Small, broken: str, monkeypatch: Patch) -> None:
    with monkeypatch.context() as mutated:
        mutated.setattr(*LOST[broken])
        heard = small.overheard(small.work, small.fresh())
    assert heard.lasting() != heard.now()
