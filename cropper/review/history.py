"""What can be taken back and done again: whole plans before and after each step.

Plans are frozen and share what did not change, so a step costs the few values that are new. A
change from outside (a command, another program) ends the history: it is never undone from here.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from typing import Final

from cropper.job.plan import Plan

STEPS_KEPT: Final = 500
"""Older steps are forgotten (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One deed, in words, with the plan on either side of it.

    ``gesture`` joins the many small saves of one movement of the hand into one step.
    """

    label: str
    before: Plan
    after: Plan
    version: str = ""
    destination: str = ""
    gesture: str = ""


class History:
    """Steps done, and steps taken back."""

    def __init__(self) -> None:
        self._done: deque[Step] = deque(maxlen=STEPS_KEPT)
        self._undone: list[Step] = []

    def add(self, step: Step) -> None:
        """A new deed; what was taken back before can no longer be done again."""
        self._undone.clear()
        last = self._done[-1] if self._done else None
        if last is not None and step.gesture and last.gesture == step.gesture:
            self._done[-1] = replace(step, before=last.before)
            return
        self._done.append(step)

    def forget(self) -> None:
        """Begin anew."""
        self._done.clear()
        self._undone.clear()

    @property
    def to_undo(self) -> Step | None:
        """The step that would be taken back next."""
        return self._done[-1] if self._done else None

    @property
    def to_redo(self) -> Step | None:
        """The step that would be done again next."""
        return self._undone[-1] if self._undone else None

    def undone(self) -> None:
        """The last step was taken back."""
        self._undone.append(self._done.pop())

    def redone(self) -> None:
        """The step taken back last was done again."""
        self._done.append(self._undone.pop())
