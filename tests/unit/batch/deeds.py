"""Things for a crew to do; they stand in a module of their own so that any process finds them."""

from __future__ import annotations

import ctypes
import os
import signal
import time

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
