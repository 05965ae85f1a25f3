"""Rendering: one decode, shared levels, and a finished picture per crop and destination.

    decode -> upright -> linear 16 bit -> half levels -> Lanczos-3 -> primaries, curve
           -> sharpening -> one rounding

Why in this order: resizing is averaging of light, so it is done on linear light; sharpening is for
the eye, so it is done on codes; and rounding is done once. See docs/reference/finishing.md.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np

from cropper.deliverable import finishing, straightening
from cropper.deliverable.conversion import Target, converted_out, master_light, target_of
from cropper.deliverable.finishing import Codes, finisher_for, strip_rows
from cropper.deliverable.gamut import share_outside
from cropper.deliverable.ink import ink_of
from cropper.deliverable.levels import Levels, Lit
from cropper.deliverable.sharpening import sharpening_for
from cropper.deliverable.sizing import Sized, sized
from cropper.destination.destination import Destination
from cropper.destination.formats import format_named
from cropper.errors import DeliveryError
from cropper.geometry import Crop, Extent, Size
from cropper.master.opening import Master

WORKERS: Final = 2
"""Pictures rendered at a time; each needs its own pixels in memory."""
GAMUT_LOOK_PX: Final = 256
"""The share outside the gamut is measured on a picture of this long side."""
SAID_FROM: Final = 0.001
DEEP: Final = 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rendered:
    """A finished picture, not yet a file. ``pixels``: (rows, columns, 1 | 3 | 4), 8 or 16 bit.

    ``enlargement`` is delivered px per master px; ``ppi`` is None on screens; ``out_of_gamut`` the
    share of the picture that the destination's colours could not hold (None: grey).
    """

    pixels: Codes
    size: Size
    enlargement: float
    ppi: float | None
    profile: bytes
    profile_name: str
    out_of_gamut: float | None
    notes: tuple[str, ...]


class Darkroom:
    """One master, decoded, with the levels that all its deliverables share."""

    def __init__(self, master: Master) -> None:
        _one_thread_each()
        self.master: Final = master
        pixels, self._light = master_light(master)
        self._levels: Final = Levels(pixels, self._light)

    def render(
        self,
        crop: Crop,
        destination: Destination,
        *,
        intent: str = "relative",
        black_point: bool = True,
    ) -> Rendered:
        """The crop as the destination wants it. Safe to call from several threads."""
        straightening.refuse_outside(crop, self.master.size)
        asked = sized(crop, destination)
        finish = asked.destination.finish
        target = target_of(finish.profile, intent=intent, black_point=black_point)
        deep = finish.bit_depth == DEEP or target.device is not None
        how = finisher_for(
            self._light.matrix,
            target.space,
            sharpening_for(finish, asked.ppi),
            deep=deep,
            # A file that keeps every pixel would keep the dither as well, at twice its bytes.
            dither=format_named(finish.format).lossy,
        )
        codes = finishing.finished(self._strips(crop, asked.size), asked.size, how)
        if target.device is not None:
            codes = converted_out(np.asarray(codes, np.uint16), target, finish.bit_depth)
        outside = self._outside(crop, target)
        return self._told(codes, asked, target, outside)

    def _strips(self, crop: Crop, size: Size) -> Iterator[Lit]:
        """The crop at its delivered size, top to bottom."""
        rows = strip_rows(size)
        if crop.straighten_deg:
            way = straightening.turned(crop, size)
            tops = range(0, size.height, rows)
            spans = ((top, min(top + rows, size.height)) for top in tops)
            return (straightening.strip(way, size, *span, self._levels) for span in spans)
        return self._levels.strips(self._levels.part(_extent(crop), size), size, rows)

    def _outside(self, crop: Crop, target: Target) -> float | None:
        """Share of the crop whose colours the target cannot hold."""
        box = _extent(crop)
        per_px = max(box.width, box.height) / min(GAMUT_LOOK_PX, max(box.width, box.height))
        small = Size(max(1, int(box.width / per_px)), max(1, int(box.height / per_px)))
        part = self._levels.part(box, small)
        lit = np.concatenate(list(self._levels.strips(part, small, small.height)))
        return share_outside(lit, self._light.matrix, target)

    def _told(self, codes: Codes, asked: Sized, target: Target, outside: float | None) -> Rendered:
        """The value with its notes."""
        notes = (*self.master.notes, *asked.notes)
        if outside is not None and outside >= SAID_FROM:
            moved = "was clipped" if target.device is None else "is printed as the nearest it holds"
            notes = (*notes, f"{outside:.1%} of it lies outside {target.title} and {moved}")
        ink = ink_of(codes, target)
        if ink is not None:
            notes = (*notes, ink.sentence())
        return Rendered(
            pixels=codes,
            size=asked.size,
            enlargement=float(asked.enlargement),
            ppi=float(asked.ppi) if asked.ppi else None,
            profile=target.profile,
            profile_name=target.title,
            out_of_gamut=outside,
            notes=notes,
        )


def _extent(crop: Crop) -> Extent:
    """The crop's box with fractional edges."""
    return Extent(crop.box.x0, crop.box.y0, crop.box.x1, crop.box.y1)


def render(master: Master, crop: Crop, destination: Destination) -> Rendered:
    """One finished picture. For several of one master use :func:`render_all`: it decodes once."""
    return Darkroom(master).render(crop, destination)


def render_all(
    master: Master, jobs: Iterable[tuple[Crop, Destination]], *, workers: int = WORKERS
) -> Iterator[Rendered]:
    """Every job's picture in the order given, rendered ahead by ``workers`` threads.

    A job that cannot be done raises its DeliveryError when its turn comes; asking goes no further
    then, so a caller who wants the others renders them one by one with a :class:`Darkroom`.
    """
    room = Darkroom(master)
    with ThreadPoolExecutor(max_workers=workers) as pool:
        ahead: deque[Future[Rendered]] = deque()
        for crop, destination in jobs:
            ahead.append(pool.submit(room.render, crop, destination))
            if len(ahead) > workers:
                yield ahead.popleft().result()
        while ahead:
            yield ahead.popleft().result()


def _one_thread_each() -> None:
    """The threads are ours, one per picture: the engines' own would only fight over the cores."""
    import cv2  # noqa: PLC0415

    cv2.setNumThreads(1)


__all__ = ["Darkroom", "DeliveryError", "Rendered", "render", "render_all"]
