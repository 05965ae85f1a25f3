"""A real scheduler with worker processes of its own, on this machine alone."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[1]
LONGEST_S = 60.0


@dataclass
class Machines:
    """A scheduler and its workers. ``words`` go to both, such as where the certificates are."""

    folder: Path
    words: Sequence[str] = ()
    scheme: str = "tcp"
    address: str = ""
    scheduler: subprocess.Popen[bytes] | None = None
    workers: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def start(self, port: int = 0) -> None:
        """Start the scheduler and wait for its address."""
        place = self.folder / "scheduler.json"
        place.unlink(missing_ok=True)
        self.scheduler = self._run(
            "distributed.cli.dask_scheduler",
            *("--host", f"{self.scheme}://127.0.0.1", "--port", str(port), "--no-dashboard"),
            *("--scheduler-file", str(place), *self.words),
        )
        until = time.monotonic() + LONGEST_S
        while not (place.exists() and place.read_text().strip()):
            assert time.monotonic() < until, (self.folder / "log").read_text()
            time.sleep(0.05)
        self.address = json.loads(place.read_text())["address"]

    def hire(
        self,
        number: int = 1,
        *,
        nanny: bool = False,
        bare: bool = False,
        environment: Mapping[str, str] | None = None,
    ) -> None:
        """Start workers, with a nanny that starts a dead one anew or without.

        ``bare``: with no packages but those of ``PYTHONPATH``.
        """
        for _ in range(number):
            self.workers.append(
                self._run(
                    "distributed.cli.dask_worker",
                    *(self.address, "--nthreads", "1", "--no-dashboard", "--host"),
                    *(f"{self.scheme}://127.0.0.1", "--local-directory", str(self.folder)),
                    *(() if nanny else ("--no-nanny",)),
                    *self.words,
                    bare=bare,
                    environment=environment,
                )
            )

    def wait_for(self, number: int) -> None:
        """Wait until so many workers are there."""
        from distributed import Client  # noqa: PLC0415 - an optional engine

        with Client(self.address, set_as_default=False) as client:  # type: ignore[no-untyped-call]
            client.wait_for_workers(number, timeout=LONGEST_S)

    def stop(self) -> None:
        """End what was started here."""
        for one in (*self.workers, self.scheduler):
            if one is not None:
                end_all(one)

    def _run(
        self,
        module: str,
        *words: str,
        bare: bool = False,
        environment: Mapping[str, str] | None = None,
    ) -> subprocess.Popen[bytes]:
        python = [sys.executable, *(("-S",) if bare else ()), "-W", "ignore", "-m", module]
        where = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "DASK_TEMPORARY_DIRECTORY": str(self.folder),
            **(environment or {}),
        }
        log = (self.folder / "log").open("ab")
        with log:
            return subprocess.Popen(
                [*python, *words],
                env=where,
                cwd=self.folder,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )


def end_all(one: subprocess.Popen[bytes]) -> None:
    """Kill a process and whatever it started."""
    with suppress(ProcessLookupError):
        os.killpg(one.pid, signal.SIGKILL)
    one.wait(timeout=20)


@contextmanager
def machines(folder: Path, number: int = 2, **words: object) -> Iterator[Machines]:
    """A scheduler with ``number`` workers; all are gone afterwards."""
    them = Machines(folder, **words)  # type: ignore[arg-type]
    try:
        them.start()
        them.hire(number)
        yield them
    finally:
        them.stop()
