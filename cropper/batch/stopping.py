"""Ctrl-C: once finishes what is in hand, twice stops at once."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TypeVar

Task = TypeVar("Task")


class Stop:
    """Whether somebody asked to stop."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self.asked = False
        self._at_once = False

    def ask(self) -> None:
        """Ask; a second time raises :class:`KeyboardInterrupt`."""
        if self.asked:
            self._at_once = True
            self.heed()
        self.asked = True
        self._say(
            "Stopping: what is in hand is finished first. Press Ctrl-C again to stop at once."
        )

    def heed(self) -> None:
        """Raise again what was asked the second time.

        Where a signal arrives while Python clears something away, what it raises there is lost.
        """
        if self._at_once:
            raise KeyboardInterrupt

    def until(self, tasks: Iterable[Task]) -> Iterator[Task]:
        """The tasks, until somebody asks to stop."""
        for task in tasks:
            if self.asked:
                return
            yield task


@contextmanager
def listening(say: Callable[[str], None]) -> Iterator[Stop]:
    """Hear Ctrl-C, and a polite request to end (SIGTERM), while the work lasts."""
    stop = Stop(say)

    def heard(_number: int, _frame: FrameType | None) -> None:
        stop.ask()

    if threading.current_thread() is not threading.main_thread():
        yield stop
        return
    before = {one: signal.signal(one, heard) for one in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)
