"""Keep native libraries quiet: they write to file descriptor 2 behind Python's back.

The redirection is process-wide, so it is counted (the last one out restores it) and kept short:
a network is hushed only while it is built, which is when its runtime speaks. Errors still arrive
as exceptions.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator

_STDERR = 2
_lock = threading.Lock()
_inside = 0
_kept: int | None = None


def _enter() -> None:
    global _inside, _kept  # noqa: PLW0603 - file descriptor 2 is global too
    with _lock:
        if _inside == 0:
            with contextlib.suppress(OSError, ValueError, AttributeError):
                sys.stderr.flush()
            try:
                _kept = os.dup(_STDERR)
            except OSError:  # no standard error at all: nothing to hush
                _kept = None
            else:
                nowhere = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nowhere, _STDERR)
                os.close(nowhere)
        _inside += 1


def _leave() -> None:
    global _inside, _kept  # noqa: PLW0603 - as above
    with _lock:
        _inside -= 1
        if _inside == 0 and _kept is not None:
            os.dup2(_kept, _STDERR)
            os.close(_kept)
            _kept = None


@contextlib.contextmanager
def hushed() -> Iterator[None]:
    """Send file descriptor 2 nowhere for the duration; nests, and may be used from threads."""
    _enter()
    try:
        yield
    finally:
        _leave()
