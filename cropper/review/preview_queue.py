"""Which preview is made next: what is looked at now comes first, what was left is dropped.

One master is decoded at a time, which bounds the memory. Requests for the same master share one
decoding, and each is answered as soon as its own size is there, the smallest first.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Final

from starlette.concurrency import run_in_threadpool

from cropper.job.plan import PlannedMaster
from cropper.review.cabinet import Cabinet

LOOKED_AT, ON_THE_WALL, AHEAD = 0, 1, 2
RANKS: Final = {"look": LOOKED_AT, "wall": ON_THE_WALL, "ahead": AHEAD}
"""How an address says what a preview is for; the lowest is made first."""
STILL_THERE_S: Final = 0.2
"""So often a waiting request is asked whether anybody still wants its answer (house)."""


@dataclass(slots=True)
class _Job:
    """One master to decode, and who waits for which long side."""

    master: PlannedMaster
    rank: int
    serial: int
    waiting: dict[int, list[asyncio.Future[None]]] = field(default_factory=dict)

    @property
    def lengths(self) -> tuple[int, ...]:
        """The long sides that somebody still waits for, the smallest first."""
        return tuple(
            sorted(one for one, all_ in self.waiting.items() if any(not f.done() for f in all_))
        )


class PreviewQueue:
    """Previews for the page, made in the order in which they are looked at."""

    def __init__(self, cabinet: Cabinet) -> None:
        self.cabinet = cabinet
        self._jobs: dict[str, _Job] = {}
        self._serial = 0
        self._worker: asyncio.Task[None] | None = None

    async def preview(
        self,
        master: PlannedMaster,
        longest: int,
        *,
        rank: int = ON_THE_WALL,
        gone: Callable[[], Awaitable[bool]] | None = None,
    ) -> bytes | None:
        """The JPEG; None when ``gone`` says that nobody waits for it any more.

        Raises :class:`MasterError` when the file cannot be opened or is not what was planned.
        """
        ready = self.cabinet.ready(master, longest)
        if ready is not None:
            return ready
        waiter = self._wait_for(master, longest, rank)
        while not waiter.done():
            await asyncio.wait([waiter], timeout=STILL_THERE_S)
            if not waiter.done() and gone is not None and await gone():
                waiter.cancel()
                return None
        waiter.result()
        return self.cabinet.ready(master, longest)

    def _wait_for(self, master: PlannedMaster, longest: int, rank: int) -> asyncio.Future[None]:
        self._serial += 1
        waiter = asyncio.get_running_loop().create_future()
        job = self._jobs.get(master.sha256)
        if job is None:
            job = self._jobs[master.sha256] = _Job(master, rank, self._serial)
        job.rank, job.serial = min(job.rank, rank), self._serial
        job.waiting.setdefault(longest, []).append(waiter)
        if self._worker is None or self._worker.done():
            self._worker = asyncio.create_task(self._work())
        return waiter

    async def _work(self) -> None:
        while self._jobs:
            for name in [name for name, job in self._jobs.items() if not job.lengths]:
                del self._jobs[name]
            if not self._jobs:
                return
            # The newest of the most urgent: who leafs on no longer waits for what was left.
            job = min(self._jobs.values(), key=lambda one: (one.rank, -one.serial))
            longest = job.lengths[0]
            fault: Exception | None = None
            try:
                await run_in_threadpool(self.cabinet.make, job.master, longest)
            except Exception as error:  # noqa: BLE001 - handed to whoever waits for it
                fault = error
            _answer(job.waiting.pop(longest, []), fault)


def _answer(waiting: list[asyncio.Future[None]], fault: Exception | None) -> None:
    for one in waiting:
        if one.done():
            continue
        if fault is None:
            one.set_result(None)
        else:
            one.set_exception(fault)
