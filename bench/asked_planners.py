"""Planners as processes of their own: today's, and that of the release before the sum of rules.

The older one's files come out of the project's own history (``git archive``) into a temporary
folder. Both answer line by line, so that one run asks them in turn.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import IO, Any, Final, cast

ROOT: Final = Path(__file__).parents[1]
FORMER: Final = "3c1f515"
"""The last commit of the first design: rules in ranked tiers."""


class Planner:
    """A planner that answers requests of :mod:`bench.planner_worker`."""

    def __init__(self, tree: Path) -> None:
        self._process = subprocess.Popen(
            [sys.executable, ROOT / "bench" / "planner_worker.py"],
            cwd=tree,
            env=os.environ | {"PYTHONPATH": str(tree)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def ask(
        self, finding: dict[str, Any], destinations: list[str], *, pixels: bool
    ) -> dict[str, Any]:
        """Crops by destination, and the CPU milliseconds they took."""
        told = {"finding": finding, "destinations": destinations, "pixels": pixels}
        into, out = cast("IO[str]", self._process.stdin), cast("IO[str]", self._process.stdout)
        into.write(json.dumps(told) + "\n")
        into.flush()
        answer: dict[str, Any] = json.loads(out.readline())
        return answer

    def close(self) -> None:
        """End the process."""
        cast("IO[str]", self._process.stdin).close()
        self._process.wait()


@contextmanager
def planners() -> Iterator[dict[str, Planner]]:
    """``today`` and, where the history is at hand, ``former``."""
    with tempfile.TemporaryDirectory() as folder:
        trees = {"today": ROOT}
        if (former := _former_tree(Path(folder))) is not None:
            trees["former"] = former
        asked = {name: Planner(tree) for name, tree in trees.items()}
        try:
            yield asked
        finally:
            for one in asked.values():
                one.close()


def _former_tree(folder: Path) -> Path | None:
    """The older release's program and presets; None without its history (a downloaded copy)."""
    packed = subprocess.run(
        ["git", "-C", ROOT, "archive", FORMER, "cropper", "presets", "pyproject.toml"],
        capture_output=True,
        check=False,
    )
    if packed.returncode:
        print("the history of the first design is not at hand: it is left out", file=sys.stderr)
        return None
    with tarfile.open(fileobj=BytesIO(packed.stdout)) as tar:
        tar.extractall(folder, filter="data")
    return folder
