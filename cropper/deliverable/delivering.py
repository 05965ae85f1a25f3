"""Many deliverables of one master: rendered and encoded together, two at a time."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

from cropper.deliverable.encoding import Encoded, encoded
from cropper.deliverable.rendering import WORKERS, Darkroom
from cropper.deliverable.words import NO_WORDS, Words
from cropper.destination.destination import Destination
from cropper.errors import DeliveryError
from cropper.geometry import Crop, Size
from cropper.master.opening import Master


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One file to make."""

    crop: Crop
    destination: Destination
    words: Words = field(default=NO_WORDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """The file's bytes and what is to be said of it, without its pixels.

    ``fault`` says why there is no file; everything else is empty then.
    """

    order: Order
    data: bytes = b""
    size: Size | None = None
    enlargement: float = 0.0
    ppi: float | None = None
    quality: int = 0
    notes: tuple[str, ...] = ()
    fault: DeliveryError | None = None


def deliver_all(
    master: Master, orders: Iterable[Order], *, workers: int = WORKERS
) -> Iterator[Finished]:
    """Every order's file, in the order asked, made ahead by ``workers`` threads.

    One that cannot be made never stops the others: it comes back with its ``fault``.
    """
    room = Darkroom(master)
    with ThreadPoolExecutor(max_workers=workers) as pool:
        ahead: deque[Future[Finished]] = deque()
        for order in orders:
            ahead.append(pool.submit(_finished, room, order))
            if len(ahead) > workers:
                yield ahead.popleft().result()
        while ahead:
            yield ahead.popleft().result()


def _finished(room: Darkroom, order: Order) -> Finished:
    """One order, rendered and encoded."""
    try:
        rendered = room.render(order.crop, order.destination)
        file: Encoded = encoded(rendered, order.destination.finish, order.words)
    except DeliveryError as fault:
        return Finished(order=order, fault=fault)
    return Finished(
        order=order,
        data=file.data,
        size=rendered.size,
        enlargement=rendered.enlargement,
        ppi=rendered.ppi,
        quality=file.quality,
        notes=(*rendered.notes, *file.notes),
    )
