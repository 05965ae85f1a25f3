"""The process that breaks, so that the one which counts does not: one input after another."""

from __future__ import annotations

import os
import resource
import sys
import traceback
import warnings
from multiprocessing.connection import Connection
from pathlib import Path

from cropper.errors import CropperError
from tests.fuzz.targets import TARGETS, picture

KILOBYTES = 1024


def serve(pipe: Connection, folder: str) -> None:
    """Answer (how it went, words, peak bytes) to each (target, name, data), until the pipe ends.

    ``folder`` is whoever counts' to clear away: this process may be killed at any time.
    """
    warnings.simplefilter("ignore")
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 2)  # native decoders complain there
    sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115 - for good
    while True:
        try:
            target, name, data = pipe.recv()
        except EOFError:
            return
        how, said = _tried(target, name, data, Path(folder))
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * KILOBYTES
        pipe.send((how, said, peak))


def _tried(target: str, name: str, data: bytes, folder: Path) -> tuple[str, str]:
    try:
        if target == "picture":
            picture(folder, data, f"broken{Path(name).suffix}")
        else:
            TARGETS[target](folder, data)
    except CropperError as error:
        return "refused", str(error)
    except Exception:  # noqa: BLE001 - this is what is looked for
        return "broke", traceback.format_exc()
    return "value", ""
