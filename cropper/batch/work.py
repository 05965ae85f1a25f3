"""What a batch is made of: pure tasks in, results out, in whatever order they are done.

A task is a plain value, and the function that does it stands at the top of a module: both can be
sent to another process or another machine. Nothing is written by whoever does a task.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import count
from typing import Final, Generic, Protocol, TypeVar

Task = TypeVar("Task")
Result = TypeVar("Result")

AHEAD: Final = 32
"""So many tasks are looked at to begin with the largest (house)."""


@dataclass(frozen=True, slots=True)
class Came(Generic[Task, Result]):
    """What came of a task; ``lost`` says why nothing did: its process died, or took too long."""

    task: Task
    result: Result | None = None
    lost: str = ""


class Crew(Protocol):
    """Whoever does tasks."""

    def do(
        self,
        function: Callable[[Task], Result],
        tasks: Iterable[Task],
        *,
        until: Callable[[Iterator[Task]], Iterator[Task]] = ...,
        weight: Callable[[Task], int] = ...,
        ahead: int = ...,
    ) -> Iterator[Came[Task, Result]]:
        """Do all tasks, a few at a time; one that kills its process costs only itself.

        ``until`` may end the tasks early; what was taken up is finished. Of the next ``ahead``
        tasks the one of most ``weight`` is taken first; 1 keeps their order. An exception of
        ``function`` is raised here: it is a fault of ours.
        """
        ...


def even(_: object) -> int:
    """All tasks are alike."""
    return 0


def largest_first(
    tasks: Iterable[Task], weight: Callable[[Task], int], ahead: int = AHEAD
) -> Iterator[Task]:
    """The same tasks, the largest of the next ``ahead`` first, so that none is left to the end.

    >>> list(largest_first([1, 5, 3], weight=lambda task: task))
    [5, 3, 1]
    >>> list(largest_first([1, 5, 3], weight=lambda task: task, ahead=1))
    [1, 5, 3]
    """
    waiting: list[tuple[int, int, Task]] = []
    numbers = count()
    for task in tasks:
        heapq.heappush(waiting, (-weight(task), next(numbers), task))
        if len(waiting) >= ahead:
            yield heapq.heappop(waiting)[2]
    while waiting:
        yield heapq.heappop(waiting)[2]
