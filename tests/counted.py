"""Real decodes counted, in this process and in those of a crew; a line in a file for each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

from cropper.batch.here import Processes
from cropper.batch.planning import plan_one
from cropper.batch.work import Came
from cropper.job.finishing_ahead import bring_up_and_finish
from cropper.job.making import FileMade, MasterOrder, make_files
from cropper.job.one_master import MasterDone, MasterTask
from cropper.master import decoding
from tests.integration.conftest import DrawnLooker

DECODES = "decodes.txt"


@contextmanager
def counted(beside: Path) -> Iterator[None]:
    """Note every decode of a whole master in a file beside the job ``beside``."""
    decoded = decoding.decoded

    def noted(path: Path, orientation: int, colour_channels: int) -> decoding.Pixels:
        with (beside.parent / DECODES).open("a") as file:
            file.write(f"{path.name}\n")
        return decoded(path, orientation, colour_channels)

    with patch.object(decoding, "decoded", noted):
        yield


def decodes(beside: Path) -> list[str]:
    """Names of the masters decoded, in order, one for each time."""
    noted = beside.parent / DECODES
    return noted.read_text().splitlines() if noted.exists() else []


def plan_one_counted(task: MasterTask) -> MasterDone:
    with counted(task.job):
        return bring_up_and_finish(task, DrawnLooker())


def make_files_counted(order: MasterOrder) -> tuple[FileMade, ...]:
    with counted(order.folder.parent):
        return make_files(order)


class CountingProcesses:
    """Real processes that do the very tasks, and count."""

    def __init__(self, number: int) -> None:
        self._crew = Processes(number)

    def do(
        self, function: Callable[[Any], Any], tasks: Iterable[Any], **how: Any
    ) -> Iterator[Came[Any, Any]]:
        counting: dict[Callable[[Any], Any], Callable[[Any], Any]]
        counting = {plan_one: plan_one_counted, make_files: make_files_counted}
        return self._crew.do(counting[function], tasks, **how)
