"""Which preview is made next: what is looked at first, the smallest first, what was left never."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event

from cropper.geometry import Size
from cropper.job.plan import PlannedMaster
from cropper.review.cabinet import Cabinet
from cropper.review.preview_queue import AHEAD, LOOKED_AT, ON_THE_WALL, PreviewQueue
from cropper.subject.subject import Finding


def master(name: str) -> PlannedMaster:
    return PlannedMaster(
        file=name,
        path=name,
        sha256=name,
        width=30,
        height=20,
        version=name,
        finding=Finding(size=Size(30, 20)),
    )


class SlowCabinet(Cabinet):
    """Makes a preview when it is told to, and remembers the order."""

    def __init__(self) -> None:
        super().__init__(Path())
        self.made: list[tuple[str, int]] = []
        self.go = Event()

    def ready(self, master: PlannedMaster, longest: int) -> bytes | None:
        return b"jpeg" if (master.version, longest) in self.made else None

    def make(self, master: PlannedMaster, longest: int) -> bytes:
        self.go.wait(10)
        self.made.append((master.version, longest))
        return b"jpeg"


async def _asked(cabinet: SlowCabinet) -> list[bytes | None]:
    queue = PreviewQueue(cabinet)

    async def never() -> bool:
        return False

    async def left() -> bool:
        return True

    wanted = [
        queue.preview(master("first"), 960, rank=ON_THE_WALL, gone=never),
        queue.preview(master("ahead"), 1600, rank=AHEAD, gone=never),
        queue.preview(master("left"), 960, rank=ON_THE_WALL, gone=left),
        queue.preview(master("wall"), 960, rank=ON_THE_WALL, gone=never),
        queue.preview(master("newer"), 960, rank=ON_THE_WALL, gone=never),
        queue.preview(master("looked-at"), 2880, rank=LOOKED_AT, gone=never),
        queue.preview(master("looked-at"), 960, rank=LOOKED_AT, gone=never),
    ]
    tasks = [asyncio.create_task(wanted[0])]
    await asyncio.sleep(0.05)  # the first is under way when the others come
    tasks += [asyncio.create_task(one) for one in wanted[1:]]
    await asyncio.sleep(0.4)
    cabinet.go.set()
    return await asyncio.gather(*tasks)


def test_what_is_looked_at_comes_first_and_what_was_left_is_never_made() -> None:
    cabinet = SlowCabinet()

    with ThreadPoolExecutor(1) as aside:  # whatever loop another test left running here
        answers = aside.submit(asyncio.run, _asked(cabinet)).result()

    assert cabinet.made == [
        ("first", 960),
        ("looked-at", 960),
        ("looked-at", 2880),
        ("newer", 960),
        ("wall", 960),
        ("ahead", 1600),
    ]
    assert answers[2] is None
    assert [one for one in answers if one is None] == [None]
