"""A crew on other machines: the workers of a Dask scheduler that somebody started.

Which address may be spoken to is told in :mod:`cropper.batch.addresses`; the certificates of a
``tls://`` one stand where Dask looks for them (its own configuration, ``distributed.comm.tls``).
Workers run this very version, and open the masters by the same names, on storage that all of
them see.
"""

from __future__ import annotations

import importlib
import logging
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.metadata import PackageNotFoundError, version
from itertools import islice
from queue import Empty, SimpleQueue
from typing import Any, Final, Generic

from cropper.batch.addresses import safe_address
from cropper.batch.here import IN_HAND, LONGEST_S, one_core_a_picture
from cropper.batch.work import AHEAD, Came, Result, Task, even, largest_first
from cropper.errors import CropperError

ANSWER_WITHIN_S: Final = 15.0
"""A scheduler that does not answer within this is taken for gone (house)."""
DESERTED_S: Final = 30.0
"""So long a scheduler may be without any worker: a nanny starts one anew in 5 s (house)."""
LOOK_EVERY_S: Final = 1.0
"""How often it is looked whether anybody is still there, while nothing comes back (house)."""
SHOWN: Final = 5
"""Workers that are named in a sentence; of more, their number is told (house)."""
PROGRAM: Final = "cropper"
INSTALL: Final = "Install what it needs: pip install 'cropper[cluster]'"
RUN_AGAIN: Final = "Start it again with its workers, and run this again; what was done is kept"
SAME_EVERYWHERE: Final = "Install the same version on every machine, and start the workers anew"
CERTIFICATES: Final = "Set ca-file, client.cert and client.key of its distributed.comm.tls"


class ClusterError(CropperError):
    """The scheduler cannot be reached, went away, or has workers that are not like this program."""


@dataclass(frozen=True, slots=True)
class Cluster:
    """The workers behind the scheduler at ``address``; refuses an address that is not safe."""

    address: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "address", safe_address(self.address))

    def do(
        self,
        function: Callable[[Task], Result],
        tasks: Iterable[Task],
        *,
        until: Callable[[Iterator[Task]], Iterator[Task]] = iter,
        weight: Callable[[Task], int] = even,
        ahead: int = AHEAD,
    ) -> Iterator[Came[Task, Result]]:
        """Do all tasks; see :class:`cropper.batch.work.Crew`. Raises :class:`ClusterError`."""
        with self._client() as client:
            hands = _Hands(client, self.address, function)
            hands.refuse_unlike()
            # Before a task brings the engines with it; who does not answer has died.
            client.run(one_core_a_picture, on_error="ignore")
            yield from hands.through(until(largest_first(tasks, weight, ahead)))

    @contextmanager
    def _client(self) -> Iterator[Any]:
        _refuse_unsecured(self.address)
        try:
            client = _engine().Client(self.address, timeout=ANSWER_WITHIN_S, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise ClusterError(
                f"the scheduler at {self.address} does not answer, or refuses this machine"
                f" ({_said(error)})",
                way_out="Start it, or look at the address and, for tls://, at the certificates:"
                " dask scheduler, then dask worker",
            ) from error
        with client:
            yield client


@dataclass(slots=True)
class _Hands(Generic[Task, Result]):
    """What the workers have in hand: a few tasks each, taken up as others come back.

    The engine blames a worker's death on every task it held, though one alone did it. So whatever
    is blamed too often is tried once more at the end, with nothing else in hand.
    """

    client: Any
    address: str
    function: Callable[[Task], Result]
    _held: dict[str, tuple[Task, Any]] = field(default_factory=dict)
    _back: SimpleQueue[Any] = field(default_factory=SimpleQueue)
    _blamed: deque[Task] = field(default_factory=deque)

    def refuse_unlike(self) -> None:
        """Refuse workers of another version, or without the program, before any work is sent."""
        self._count()
        mine = version(PROGRAM)
        told = self.client.run(version, PROGRAM, on_error="return")
        unlike = {
            one: "none" if isinstance(theirs, PackageNotFoundError) else theirs
            for one, theirs in sorted(told.items())
            if theirs != mine and not isinstance(theirs, OSError)  # it died just now
        }
        if unlike:
            raise ClusterError(
                f"{len(unlike)} of {len(told)} workers at {self.address} have not the {PROGRAM}"
                f" of this machine ({mine}): "
                + ", ".join(f"{one} has {unlike[one]}" for one in list(unlike)[:SHOWN]),
                way_out=SAME_EVERYWHERE,
            )

    def through(self, tasks: Iterator[Task]) -> Iterator[Came[Task, Result]]:
        """Keep a few tasks in hand until there are no more."""
        while True:
            room = self._count() * IN_HAND - len(self._held)  # below 0 when a worker died
            for task in islice(tasks, max(0, room)):
                self._hand_out(task)
            alone = not self._held
            if alone and not self._blamed:
                return
            if alone:
                self._hand_out(self._blamed.popleft())
            came = self._came(alone=alone)
            if came is not None:
                yield came

    def _hand_out(self, task: Task) -> None:
        future = self.client.submit(done_there, self.function, task, version(PROGRAM), pure=False)
        self._held[future.key] = (task, future)
        future.add_done_callback(self._back.put)

    def _came(self, *, alone: bool) -> Came[Task, Result] | None:
        """The next that comes back; None: it is kept to be tried again."""
        future = self._next()
        task, _ = self._held[future.key]
        try:
            return Came(task, self._result(future))
        except _engine().KilledWorker:
            if alone:
                return Came(task, lost="every worker that read it died")
            self._blamed.append(task)
            return None
        finally:
            del self._held[future.key]

    def _result(self, future: Any) -> Result:
        """What a task gave; one whose worker died just after it was done is done once more."""
        watch = self._watch()
        while True:
            self._refuse_gone()
            try:
                result: Result = future.result(timeout=LOOK_EVERY_S)
            except Exception as fault:
                if future.status == "error":
                    self._refuse_lacking(fault)
                    raise
                if not isinstance(fault, OSError):  # a timeout is one, too
                    raise self._gone() from fault
                next(watch)
            else:
                return result

    def _refuse_lacking(self, fault: BaseException) -> None:
        """A worker that came later may be another version, or lack the program."""
        if isinstance(fault, ImportError):
            raise ClusterError(
                f"a worker at {self.address} has not what this machine has ({fault})",
                way_out=SAME_EVERYWHERE,
            ) from fault

    def _next(self) -> Any:
        """Whatever comes back next, while anybody is there to bring it."""
        watch = self._watch()
        while True:
            try:
                return self._back.get(timeout=LOOK_EVERY_S)
            except Empty:
                next(watch)

    def _watch(self) -> Iterator[None]:
        """Looks, each time it is asked, whether anybody is still at work; raises if not."""
        since = deserted = time.monotonic()
        while True:
            now = time.monotonic()
            self._refuse_gone()
            if self._threads():
                deserted = now
            elif now - deserted > DESERTED_S:
                raise ClusterError(
                    f"all workers of the scheduler at {self.address} are gone",
                    way_out="Start some and run it again; what was done is kept",
                )
            if now - since > LONGEST_S * IN_HAND:
                raise ClusterError(
                    f"the workers at {self.address} finished nothing for"
                    f" {LONGEST_S * IN_HAND:.0f} s",
                    way_out="Look at them, start them anew, and run it again",
                )
            yield

    def _count(self) -> int:
        """How many tasks are done at once; a scheduler without workers is waited for."""
        self._refuse_gone()
        count = self._threads()
        if count == 0:
            try:
                self.client.wait_for_workers(1, timeout=ANSWER_WITHIN_S)
            except TimeoutError as error:
                raise ClusterError(
                    f"the scheduler at {self.address} has no workers",
                    way_out="Start some: dask worker ADDRESS --nthreads 1",
                ) from error
            count = self._threads()
        return max(1, count)

    def _threads(self) -> int:
        try:
            return sum(self.client.nthreads().values())
        except OSError as error:
            raise self._gone() from error

    def _refuse_gone(self) -> None:
        """A scheduler that is back already knows nothing of what its former self was given.

        A future that is "lost" is another matter: its worker died, and it is done once more.
        """
        known = all(future.status != "cancelled" for _, future in self._held.values())
        if self.client.status != "running" or not known:
            raise self._gone()

    def _gone(self) -> ClusterError:
        return ClusterError(f"the scheduler at {self.address} went away", way_out=RUN_AGAIN)


class UnlikeError(ImportError):
    """On a worker: its program is another version than the one that sent the task."""


def done_there(function: Callable[[Task], Result], task: Task, wanted: str) -> Result:
    """On a worker: do the task, if this is the version that sent it; it may have come late."""
    mine = version(PROGRAM)
    if mine != wanted:
        raise UnlikeError(f"{PROGRAM} is {mine} there, and {wanted} here")
    return function(task)


def _engine() -> Any:
    """The optional engine, loaded only when a cluster is asked for.

    Its own log of lost connections, with tracebacks, is kept quiet: what happened is told here.
    """
    try:
        engine = importlib.import_module("distributed")
    except ImportError as error:
        raise ClusterError("no cluster engine is installed", way_out=INSTALL) from error
    logging.getLogger("distributed.client").setLevel(logging.CRITICAL)
    return engine


def _refuse_unsecured(address: str) -> None:
    """Refuse to speak TLS without certificates, or in the clear where Dask's configuration forbids.

    The engine would raise a fault of type, and wait at the end for a connection it never had.
    """
    plain = address.startswith("tcp:")
    try:
        security = _engine().Security()
        context = None if plain else security.get_connection_args("client")["ssl_context"]
    except (OSError, ValueError) as error:
        raise ClusterError(
            f"the certificates of Dask's configuration cannot be read ({_said(error)})",
            way_out=CERTIFICATES,
        ) from error
    if plain and security.require_encryption:
        raise ClusterError(
            f"Dask's configuration has encryption required, and {address} is in the clear",
            way_out="Write tls://HOST:PORT, or leave distributed.comm.require-encryption out",
        )
    if not plain and context is None:
        raise ClusterError(
            "Dask's configuration names no certificates for this machine", way_out=CERTIFICATES
        )


def _said(error: Exception) -> str:
    """The engine's words, on one line."""
    return " ".join(str(error).split())[:160] or type(error).__name__
