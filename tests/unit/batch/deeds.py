"""Things for a crew to do; they stand in a module of their own so that any process finds them."""

from __future__ import annotations

import ctypes
import os
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image


def squared(number: int) -> int:
    return number * number


def decoded(file: str) -> int:
    """Opens a picture; the one called ``deadly`` ends in native code, in the middle of it."""
    with Image.open(file) as picture:
        if "deadly" in file:
            ctypes.string_at(0)  # reads where nothing may be read
        if "stuck" in file:
            time.sleep(60)
        if "shot" in file:
            os.kill(os.getpid(), signal.SIGKILL)
        return picture.size[0]


def mistaken(number: int) -> int:
    raise ValueError(f"{number} is our own fault")


def threads_of_arithmetic(side: int) -> int:
    """How many threads this process has after a product of matrices."""
    matrix = np.ones((side, side))
    assert (matrix @ matrix)[0, 0] == side
    return sum(1 for _ in Path("/proc/self/task").iterdir())


def slowly(number: int) -> int:
    """Long enough to be killed in the middle of it."""
    time.sleep(0.3)
    return number


def stuck(number: int) -> int:
    """Never comes back, as far as anybody can tell."""
    time.sleep(30)
    return number


def unless_deadly(word: str) -> str:
    """Does as it is told, and dies of one word."""
    if word == "deadly":
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.05)
    return word


def in_native_code(function: Callable[[Any], Any], task: Any) -> Any:
    """Do a task of the program; the decoding of a picture called ``deadly`` dies in native code."""
    from cropper.master import decoding  # noqa: PLC0415 - in the process that dies

    decode = decoding.decoded

    def decoded(path: Path, orientation: int, colour_channels: int) -> decoding.Pixels:
        if "deadly" in path.name:
            ctypes.string_at(0)
        return decode(path, orientation, colour_channels)

    decoding.decoded = decoded
    return function(task)
