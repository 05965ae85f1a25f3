"""The finished file before it exists: rendered as the export would, kept in memory, never written.

What a browser cannot show (TIFF, press PDF) is shown as a JPEG of the same pixels in sRGB.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace
from threading import Lock
from typing import Any, Final

from cropper.deliverable.delivering import Order, deliver_all
from cropper.deliverable.words import NO_WORDS
from cropper.destination.destination import Destination
from cropper.destination.formats import FORMATS
from cropper.errors import DeliveryError, MisuseError
from cropper.geometry import Crop
from cropper.job.making import basis_of
from cropper.job.plan import PlannedMaster
from cropper.job.wanted import delivered_as
from cropper.proposal.proposal import Proposal
from cropper.review.cabinet import Cabinet

SHOWN: Final = {name: one.media_type for name, one in FORMATS.items() if one.browsers}
"""Formats that every current browser shows, with their media types."""
KEPT: Final = 6
"""So many finished files are kept (house: going back and forth between a few)."""
STAND_IN_QUALITY: Final = 95


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """A finished file as the browser may show it, and what is to be said of it."""

    data: bytes
    media_type: str
    facts: dict[str, Any]


class FinishedFiles:
    """The finished files of the crops that were looked at last."""

    def __init__(self, cabinet: Cabinet) -> None:
        self._cabinet = cabinet
        self._kept: OrderedDict[str, Preview] = OrderedDict()
        self._lock = Lock()

    def of(self, master: PlannedMaster, destination: Destination, proposal: Proposal) -> Preview:
        """The file for this crop; :class:`DeliveryError` says why there is none."""
        destination, crop = delivered_as(destination, proposal), proposal.crop
        with self._lock:  # one at a time bounds the memory
            key = basis_of(master.sha256, crop, destination, NO_WORDS)
            known = self._kept.get(key)
            if known is None:
                known = self._kept[key] = self._made(master, destination, crop)
            self._kept.move_to_end(key)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            return known

    def _made(self, master: PlannedMaster, destination: Destination, crop: Crop) -> Preview:
        finish = destination.finish
        stand_in = finish.format not in SHOWN
        if stand_in:
            finish = replace(
                finish,
                format="jpeg",
                quality=STAND_IN_QUALITY,
                chroma="4:4:4",
                byte_cap=None,
                profile="srgb",
                profile_sha256="",
                bit_depth=8,
                pages=1,
                crop_marks=False,
            )
        order = Order(crop=crop, destination=replace(destination, finish=finish))
        with self._cabinet.opened(master) as opened:
            (made,) = deliver_all(opened, [order], workers=1)
        if made.fault is not None or made.size is None:
            raise made.fault or DeliveryError("nothing was made")
        return Preview(
            data=made.data,
            media_type=SHOWN[finish.format],
            facts={
                "width": made.size.width,
                "height": made.size.height,
                "bytes": None if stand_in else len(made.data),
                "format": destination.finish.format,
                "stand_in": stand_in,
                "enlargement": round(made.enlargement, 3),
                "ppi": made.ppi,
                "notes": list(made.notes),
            },
        )


def crop_to_finish(master: PlannedMaster, destination: str, index: int | None) -> Proposal:
    """The crop that counts, or one of the proposals (0 is best)."""
    answer, chosen = master.answer(destination), master.chosen(destination)
    if index is not None:
        proposals = answer.proposals if answer is not None else ()
        if index >= len(proposals):
            raise MisuseError(f"there is no proposal {index + 1}", way_out="Choose one that is")
        return proposals[index]
    if chosen is None:
        raise MisuseError("there is no crop yet", way_out="Choose or draw one first")
    return chosen
