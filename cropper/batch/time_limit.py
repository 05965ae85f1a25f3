"""A limit of time for each picture where all are done in this very process.

Processes and a cluster end a task from outside (:mod:`cropper.batch.here`). In one process an
alarm ends it at the next step of Python: a single call into an engine is waited for.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TypeVar

from cropper.errors import MasterError

Made = TypeVar("Made")


def each_within(made: Iterator[Made], longest_s: float, what: str) -> Iterator[Made]:
    """The same, but the work of them all, on the picture ``what``, may take ``longest_s`` at most.

    Raises :class:`MasterError` inside ``made`` when it does, for whoever works there to tell. The
    time between two of them is not counted. Without an alarm (another thread, another system)
    there is no limit.
    """
    left = longest_s
    while True:
        with _alarm(left, longest_s, what) as clock:
            try:
                one = next(made)
            except StopIteration:
                return
        left = max(clock(), 1e-3)
        yield one


class _Clock:
    """How much of an alarm's time is left, once it is over."""

    left = 0.0

    def __call__(self) -> float:
        return self.left


@contextmanager
def _alarm(after_s: float, longest_s: float, what: str) -> Iterator[_Clock]:
    clock = _Clock()
    if threading.current_thread() is not threading.main_thread() or not hasattr(signal, "SIGALRM"):
        clock.left = after_s
        yield clock
        return

    def too_long(_number: int, _frame: FrameType | None) -> None:
        raise MasterError(
            f"{what}: it took longer than {longest_s:.0f} s and was given up",
            way_out="Work on it alone, or make a smaller copy of it",
        )

    before = signal.signal(signal.SIGALRM, too_long)
    signal.setitimer(signal.ITIMER_REAL, after_s)
    try:
        yield clock
    finally:
        clock.left = signal.setitimer(signal.ITIMER_REAL, 0)[0]
        signal.signal(signal.SIGALRM, before)
