"""A crew of processes on this machine, each with an engine of its own, none with our memory.

Processes are started fresh ("spawn"): the engines do not survive being copied in the middle of
their work, and do not stand being shared between threads.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import warnings
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final

from cropper.batch.work import AHEAD, Came, Result, Task, even, largest_first
from cropper.cores import one_core

LONGEST_S: Final = 900.0
"""A task that takes longer is given up (house: a 100 MP master for 30 destinations takes 60 s)."""
IN_HAND: Final = 2
"""Tasks in hand per process: one being done, one ready (house: memory stays flat)."""


@dataclass(frozen=True, slots=True)
class Processes:
    """``number`` processes; ``longest_s`` bounds one task."""

    number: int
    longest_s: float = LONGEST_S

    def __post_init__(self) -> None:
        if self.number < 1:
            raise ValueError(f"a crew needs at least one process, not {self.number}")

    def do(
        self,
        function: Callable[[Task], Result],
        tasks: Iterable[Task],
        *,
        until: Callable[[Iterator[Task]], Iterator[Task]] = iter,
        weight: Callable[[Task], int] = even,
        ahead: int = AHEAD,
    ) -> Iterator[Came[Task, Result]]:
        """Do all tasks; see :class:`cropper.batch.work.Crew`."""
        pool = self._pool()
        try:
            yield from self._through(pool, function, until(largest_first(tasks, weight, ahead)))
        except BaseException:
            pool.stop()
            raise
        else:
            pool.close()
        finally:
            pool.stop()
            pool.join()

    def _pool(self) -> Any:
        from pebble import ProcessPool  # noqa: PLC0415 - only batches need it

        context = multiprocessing.get_context("spawn")
        return ProcessPool(max_workers=self.number, context=context, initializer=_ready)

    def _through(
        self, pool: Any, function: Callable[[Task], Result], tasks: Iterator[Task]
    ) -> Iterator[Came[Task, Result]]:
        """Keep a few tasks in hand until there are no more."""
        in_hand: dict[Future[Any], Task] = {}
        room = self.number * IN_HAND
        while True:
            for task in islice(tasks, room - len(in_hand)):
                in_hand[pool.schedule(function, args=[task], timeout=self.longest_s)] = task
            if not in_hand:
                return
            done, _ = wait(in_hand, return_when=FIRST_COMPLETED)
            for future in done:
                yield self._came(future, in_hand.pop(future))

    def _came(self, future: Future[Any], task: Task) -> Came[Task, Result]:
        from pebble import ProcessExpired  # noqa: PLC0415 - as above

        try:
            return Came(task, future.result())
        except ProcessExpired as error:
            return Came(task, lost=death(error.exitcode))
        except TimeoutError:
            return Came(task, lost=f"it took longer than {self.longest_s:.0f} s and was given up")


def death(code: int | None) -> str:
    """How a process ended, in words.

    >>> death(-11)
    'the process that read it died (SIGSEGV)'
    """
    said = "the process that read it died"
    if code is not None and code < 0:
        return f"{said} ({signal.Signals(-code).name})"
    return said


def _ready() -> None:
    """In each process: the keyboard is the parent's, and one picture uses one core."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    warnings.filterwarnings("ignore", module="PIL")  # as in the command
    one_core_a_picture()


def one_core_a_picture() -> None:
    """Before the engines are loaded: cores are for pictures side by side, not for each."""
    os.environ.setdefault("VIPS_CONCURRENCY", "1")
    one_core()
