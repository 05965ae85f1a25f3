"""A crew on other machines: the workers of a Dask scheduler that somebody started.

A scheduler runs whatever code it is sent, and so does whoever listens in on the way there. An
address on this machine may be plain; any other must be ``tls://``, with the certificates where
Dask looks for them (its own configuration, ``distributed.comm.tls``). Workers open the masters by
the same absolute paths, on storage that all of them see.
"""

from __future__ import annotations

import importlib
import ipaddress
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final
from urllib.parse import urlsplit

from cropper.batch.here import IN_HAND
from cropper.batch.work import AHEAD, Came, Result, Task, even, largest_first
from cropper.errors import CropperError, MisuseError

ANSWER_WITHIN_S: Final = 15.0
"""A scheduler that does not answer within this is taken for gone (house)."""
INSTALL: Final = "Install what it needs: pip install 'cropper[cluster]'"


class ClusterError(CropperError):
    """The scheduler cannot be reached, or went away."""


@dataclass(frozen=True, slots=True)
class Cluster:
    """The workers behind the scheduler at ``address``; refuses an address that is not safe."""

    address: str

    def __post_init__(self) -> None:
        refuse_unsafe(self.address)

    def do(
        self,
        function: Callable[[Task], Result],
        tasks: Iterable[Task],
        *,
        until: Callable[[Iterator[Task]], Iterator[Task]] = iter,
        weight: Callable[[Task], int] = even,
        ahead: int = AHEAD,
    ) -> Iterator[Came[Task, Result]]:
        """Do all tasks; see :class:`cropper.batch.work.Crew`."""
        with self._client() as client:
            yield from self._through(client, function, until(largest_first(tasks, weight, ahead)))

    def _client(self) -> Any:
        try:
            return _engine().Client(self.address, timeout=ANSWER_WITHIN_S, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise ClusterError(
                f"the scheduler at {self.address} does not answer",
                way_out="Start it, or look at the address: dask scheduler, then dask worker",
            ) from error

    def _through(
        self, client: Any, function: Callable[[Task], Result], tasks: Iterator[Task]
    ) -> Iterator[Came[Task, Result]]:
        """Keep a few tasks in hand until there are no more."""
        in_hand: dict[str, Task] = {}
        done: Any = _engine().as_completed(loop=client.loop)
        while True:
            for task in islice(tasks, max(1, self._hands(client) * IN_HAND) - len(in_hand)):
                future = client.submit(function, task, pure=False)
                in_hand[future.key] = task
                done.add(future)
            if not in_hand:
                return
            future = next(done)
            yield self._came(future, in_hand.pop(future.key))

    def _hands(self, client: Any) -> int:
        """How many tasks the workers do at once; a scheduler without workers is waited for."""
        count: int = sum(client.nthreads().values())
        if count == 0:
            try:
                client.wait_for_workers(1, timeout=ANSWER_WITHIN_S)
            except TimeoutError as error:
                raise ClusterError(
                    f"the scheduler at {self.address} has no workers",
                    way_out="Start some: dask worker ADDRESS --nthreads 1",
                ) from error
        return max(1, count)

    def _came(self, future: Any, task: Task) -> Came[Task, Result]:
        if future.status in {"cancelled", "lost"}:
            raise ClusterError(
                f"the scheduler at {self.address} went away",
                way_out="Run it again when it is back; what was done is kept",
            )
        try:
            return Came(task, future.result(timeout=ANSWER_WITHIN_S))
        except _engine().KilledWorker:
            return Came(task, lost="every worker that read it died")


def _engine() -> Any:
    """The optional engine, loaded only when a cluster is asked for."""
    try:
        return importlib.import_module("distributed")
    except ImportError as error:
        raise ClusterError("no cluster engine is installed", way_out=INSTALL) from error


def refuse_unsafe(address: str) -> None:
    """Refuse a scheduler's address that is neither on this machine nor secured by TLS.

    >>> refuse_unsafe("tcp://127.0.0.1:8786")
    >>> refuse_unsafe("tls://studio.example:8786")
    """
    parts = urlsplit(address if "://" in address else f"tcp://{address}")
    if parts.scheme == "tls" and parts.hostname:
        return
    if parts.scheme == "tcp" and parts.hostname and _loopback(parts.hostname):
        return
    raise MisuseError(
        f"a scheduler at '{address}' would be spoken to in the clear, and it runs code",
        way_out="Secure it and write tls://HOST:PORT; only 127.0.0.1, ::1 and localhost may be tcp",
    )


def _loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
