"""Many deliverables of one master: rendered and encoded together, two at a time."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Final

from cropper.deliverable.carrying import carried_on
from cropper.deliverable.encoding import Encoded, encoded
from cropper.deliverable.press_pdf import page_file
from cropper.deliverable.rendering import WORKERS, Darkroom, Rendered
from cropper.deliverable.surrounding import Added, rendered_in_frame
from cropper.deliverable.words import NO_WORDS, Words
from cropper.destination.destination import Destination
from cropper.destination.formats import format_named
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

    - ``size``: of the whole picture in px, its border and carried-on backdrop counted.
    - ``ppi``: pixels per inch on paper; None on screens.
    - ``quality``: the one used; 100 where every pixel is kept.
    - ``pages``: 1, or 2 for a press PDF of a spread.
    - ``notes``: sentences, for people.
    - ``out_of_gamut``: share 0..1 of the crop's pixels whose colour the destination cannot hold
      (CIEDE2000 above :data:`~cropper.deliverable.gamut.VISIBLE` from the nearest it can); None
      where it means nothing (grey).
    - ``surround``: None, or what was added round the picture; see :class:`Added`.
    - ``fault``: why there is no file; everything else is empty then.
    """

    order: Order
    data: bytes = b""
    size: Size | None = None
    enlargement: float = 0.0
    ppi: float | None = None
    quality: int = 0
    pages: int = 1
    out_of_gamut: float | None = None
    surround: Added | None = None
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
        rendered, added = rendered_in_frame(room, order.crop, order.destination)
        words, said = carried_on(order.words, room.master.own_words)
        file = _file(rendered, replace(order, words=_marked(words, added)))
    except DeliveryError as fault:
        return Finished(order=order, fault=fault)
    return Finished(
        order=order,
        data=file.data,
        size=rendered.size,
        enlargement=rendered.enlargement,
        ppi=rendered.ppi,
        quality=file.quality,
        pages=order.destination.finish.pages,
        out_of_gamut=rendered.out_of_gamut,
        surround=added,
        notes=(*rendered.notes, *said, *file.notes),
    )


COMPOSITE: Final = "http://cv.iptc.org/newscodes/digitalsourcetype/compositeSynthetic"
"""A picture of several parts, at least one of them synthetic (IPTC NewsCodes)."""


def _marked(words: Words, added: Added | None) -> Words:
    """The words, saying of a carried-on backdrop that it was made, not photographed."""
    if added is None or added.kind != "backdrop":
        return words
    sides = (("left", added.left), ("top", added.top), ("right", added.right))
    wide = [f"{px} px at the {side}" for side, px in (*sides, ("bottom", added.bottom)) if px]
    said = f"Backdrop carried on by software, not photographed: {', '.join(wide)}."
    instructions = f"{words.instructions} {said}".strip()
    return replace(words, source_type=COMPOSITE, instructions=instructions)


def _file(rendered: Rendered, order: Order) -> Encoded:
    """The picture as a file of pixels, or as pages."""
    destination = order.destination
    if format_named(destination.finish.format).pages:
        return page_file(rendered, destination, order.words)
    return encoded(rendered, destination.finish, order.words)
