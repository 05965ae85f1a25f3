"""How far a batch is, truly: done, failed, waiting for the eye, how fast, and how long yet."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Final

LINE_EVERY_S: Final = 5.0
"""Where nobody watches (a file, another program), a line stands at most this often (house)."""


class State(StrEnum):
    """What became of one thing."""

    DONE = "done"
    AS_BEFORE = "as before"
    EYE = "waits for the eye"
    FAILED = "failed"


_SAID: Final = {
    State.AS_BEFORE: "as before",
    State.EYE: "waiting for the eye",
    State.FAILED: "failed",
}


@dataclass(slots=True)
class Tally:
    """Counts of a batch under way. ``clock`` gives seconds that only grow."""

    clock: Callable[[], float]
    of: int = 0
    counts: dict[State, int] = field(default_factory=lambda: dict.fromkeys(State, 0))
    _began: float | None = None

    def begin(self) -> None:
        """From now on time counts."""
        self._began = self.clock()

    def add(self, state: State, of: int) -> None:
        """One more."""
        if self._began is None:
            self.begin()
        self.of = max(of, self.done + 1)
        self.counts[state] += 1

    @property
    def done(self) -> int:
        """How many are through, whatever became of them."""
        return sum(self.counts.values())

    @property
    def rate_per_s(self) -> float | None:
        """How many get through in a second, over the whole run; None before the first."""
        spent = self.clock() - self._began if self._began is not None else 0.0
        return self.done / spent if self.done and spent > 0 else None

    @property
    def left_s(self) -> float | None:
        """How long it will take yet, if it goes on like this."""
        rate = self.rate_per_s
        return (self.of - self.done) / rate if rate else None

    def sentence(self) -> str:
        """All of it on a line."""
        parts = [f"{self.done} of {self.of}"]
        parts += [
            f"{self.counts[state]} {said}" for state, said in _SAID.items() if self.counts[state]
        ]
        if self.rate_per_s is not None:
            parts.append(pace(self.rate_per_s))
        if self.left_s is not None and self.done < self.of:
            parts.append(f"{span(self.left_s)} left")
        return ", ".join(parts)

    def mapping(self) -> dict[str, Any]:
        """The same as JSON values; rates and spans in seconds."""
        rate, left = self.rate_per_s, self.left_s
        return {
            "through": self.done,
            "of": self.of,
            **{str(state).replace(" ", "_"): count for state, count in self.counts.items()},
            "per_s": None if rate is None else round(rate, 3),
            "left_s": None if left is None else round(left, 1),
        }


def pace(rate_per_s: float) -> str:
    """A rate that people can picture.

    >>> pace(2.5), pace(0.05)
    ('2.5 a second', '3.0 a minute')
    """
    return f"{rate_per_s:.1f} a second" if rate_per_s >= 1 else f"{rate_per_s * 60:.1f} a minute"


def span(seconds: float) -> str:
    """A span of time in words.

    >>> span(4), span(200), span(9000)
    ('4 s', '3 min', '2 h 30 min')
    """
    minutes = round(seconds / 60)
    if seconds < 100:  # noqa: PLR2004 - people count seconds up to about here (house)
        return f"{max(1, round(seconds))} s"
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"  # noqa: PLR2004 - an hour


def event(kind: str, **values: Any) -> str:
    """One line of ``--json-lines``."""
    return json.dumps({"event": kind, **values}, ensure_ascii=False)
