"""Progress tells the truth: what is through, how fast, and how long it will take yet."""

from __future__ import annotations

import contextlib
import os
import signal

import pytest

from cropper.batch.stopping import Stop, listening
from cropper.batch.telling import State, Tally


class Watch:
    """A clock that a test winds."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def test_counts_rate_and_time_left_follow_from_what_was_seen() -> None:
    clock = Watch()
    tally = Tally(clock)
    tally.begin()
    assert tally.rate_per_s is None
    assert tally.left_s is None
    for state in (State.DONE, State.DONE, State.FAILED, State.EYE):
        clock.now += 5.0
        tally.add(state, of=10)
    assert tally.done == 4
    assert tally.rate_per_s == pytest.approx(4 / 20)
    assert tally.left_s == pytest.approx(6 / (4 / 20))
    said = "4 of 10, 1 waiting for the eye, 1 failed, 12.0 a minute, 30 s left"
    assert tally.sentence() == said
    assert tally.mapping()["waits_for_the_eye"] == 1


def test_more_may_come_than_was_thought_and_the_end_has_nothing_left() -> None:
    clock = Watch()
    tally = Tally(clock)
    tally.add(State.DONE, of=1)
    clock.now += 1.0
    tally.add(State.DONE, of=1)
    assert tally.of == 2
    assert tally.left_s == 0
    assert "left" not in tally.sentence()


def test_ctrl_c_once_takes_up_nothing_new_and_twice_stops_at_once() -> None:
    said: list[str] = []
    before = signal.getsignal(signal.SIGINT)
    with listening(said.append) as stop:
        taken = []
        for number in stop.until(range(10)):
            taken.append(number)
            if number == 3:
                os.kill(os.getpid(), signal.SIGINT)
        assert taken == [0, 1, 2, 3]
        assert len(said) == 1
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before


def test_a_stop_that_nobody_asked_for_changes_nothing() -> None:
    stop = Stop(lambda _: None)
    assert list(stop.until(range(3))) == [0, 1, 2]


def test_a_second_stop_that_was_lost_on_the_way_is_heeded_at_the_next_picture() -> None:
    stop = Stop(lambda _: None)
    stop.heed()
    stop.ask()
    stop.heed()
    with contextlib.suppress(KeyboardInterrupt):
        stop.ask()
    with pytest.raises(KeyboardInterrupt):
        stop.heed()
