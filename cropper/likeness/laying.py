"""Laying a found file on one known picture: register, overlay, find its extent, compare tiles."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from cropper.geometry import Extent, Size
from cropper.likeness.agreement import TILE_PX, Tiles, compared
from cropper.likeness.extent import standing
from cropper.likeness.features import Features, Grey
from cropper.likeness.fingerprint import Fingerprint, View
from cropper.likeness.likeness import FoundCrop, Likeness, crop_through
from cropper.likeness.overlay import Overlay, overlaid
from cropper.likeness.registration import Lie, Registered, registered

LEAST_FOREIGN: Final = 2
"""Touching foreign tiles make a place that differs; worn files had none (design/likeness)."""
WORTH_STEP: Final = 0.02
"""Views that show the same share of the file to this step are as good; the sharper wins (house)."""
GUESSED_EDGE: Final = 0.05
"""Where no real edge is seen (a border toned like the backdrop) an edge may be off by this share
of the longer side: 11 % at most in 108 edges of the bench (house)."""
CORNER_LEVERAGE: Final = 2.0
"""The map is surest amid its pairs; at the corners it is about twice as unsure (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One look at a file: its grey pixels at some size, and the features in them.

    ``to_file`` leads from the look's pixels to those of the file (turned over if ``mirrored``).
    """

    grey: Grey
    features: Features
    file_size: Size
    mirrored: bool = False

    @property
    def to_file(self) -> Lie:
        """From the look to the file, not turned back."""
        high, wide = self.grey.shape
        return Lie.scaled(self.file_size.width / wide, self.file_size.height / high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A likeness, with what a comparison of two of them needs."""

    likeness: Likeness
    known: Fingerprint
    view: View
    lie: Lie
    file_area: float


def laid_on(look: Look, known: Fingerprint) -> Laid | None:
    """The file on the known picture's best view; None where it lies on none."""
    told = [one for fit in _fits(look, known) if (one := _told(look, known, *fit)) is not None]
    return max(told, key=_worth, default=None)


def _fits(look: Look, known: Fingerprint) -> Iterator[tuple[View, Registered]]:
    """Views that the file lies on; with a nearer view also the whole, through the same map.

    A file may show more than a nearer view does, and yet its features be found in that alone.
    """
    whole = known.views[0]
    for view in known.views:
        found = registered(look.features, view.features)
        if found is None:
            continue
        yield view, found
        if view is not whole:
            to_whole = found.lie.then(view.to_master).then(whole.to_master.back())
            share = to_whole.scale / found.lie.scale
            yield whole, replace(found, lie=to_whole, residual_px=found.residual_px * share)


def _worth(one: Laid) -> tuple[bool, float, float]:
    """Sure ones first, then by how much of the file is the picture, then by agreement."""
    like = one.likeness
    area = round(like.shown.width * like.shown.height / one.file_area / WORTH_STEP)
    return like.sure, area if like.sure else 0.0, like.agreeing * math.log1p(like.tiles)


def _told(look: Look, known: Fingerprint, view: View, found: Registered) -> Laid | None:
    overlay = overlaid(look.grey, view.grey, found.lie)
    if min(overlay.size) < TILE_PX:
        return None
    tiles = compared(overlay.found, overlay.known, overlay.covered)
    part = standing(overlay, tiles)
    if part is not None:
        tiles = tiles_within(overlay, part)
    if not tiles.count:
        return None
    shown = part or covered_part(overlay)
    places = _places(look, overlay, tiles, shown)
    likeness = Likeness(
        sha256=known.sha256,
        size=known.size,
        crop=_crop(overlay, view, found, shown, guessed=part is None),
        shown=_in_file(look, overlay, shown),
        mirrored=look.mirrored,
        pairs=found.pairs,
        residual_px=found.residual_px * view.to_master.scale,
        tiles=tiles.count,
        agreeing=tiles.agreeing,
        correlation=tiles.mean,
        differs=places.largest,
        elsewhere=places.elsewhere,
        shear=found.lie.shear,
    )
    area = float(look.file_size.width * look.file_size.height)
    return Laid(likeness=likeness, known=known, view=view, lie=found.lie, file_area=area)


def _crop(
    overlay: Overlay, view: View, found: Registered, shown: Extent, *, guessed: bool
) -> FoundCrop:
    """The shown part in the master, and how far its edges may be off."""
    to_master = overlay.from_found.back().then(found.lie).then(view.to_master)
    wobble = CORNER_LEVERAGE * found.residual_px * view.to_master.scale / math.sqrt(found.pairs)
    whole = (shown.x0, shown.y0, shown.x1, shown.y1) == (0, 0, *overlay.size)
    # An edge told to the whole pixel is off by 1/sqrt(12) of it on average.
    edge = 0.0 if whole else to_master.scale / math.sqrt(12)
    if guessed:
        edge = GUESSED_EDGE * to_master.scale * max(shown.width, shown.height)
    return crop_through(to_master, shown, math.hypot(wobble, edge))


def tiles_within(overlay: Overlay, part: Extent) -> Tiles:
    """The tiles of that part of the overlay alone, laid out from its own corner."""
    rows = slice(math.ceil(part.y0), max(math.floor(part.y1), math.ceil(part.y0) + 1))
    columns = slice(math.ceil(part.x0), max(math.floor(part.x1), math.ceil(part.x0) + 1))
    return compared(
        overlay.found[rows, columns], overlay.known[rows, columns], overlay.covered[rows, columns]
    )


def covered_part(overlay: Overlay) -> Extent:
    """The upright box round what the known picture covers."""
    rows, columns = (np.flatnonzero(overlay.covered.any(axis=axis)) for axis in (1, 0))
    if not len(rows):
        return Extent(0, 0, *overlay.size)
    return Extent(int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1)


def _in_file(look: Look, overlay: Overlay, part: Extent) -> Extent:
    """A part of the overlay in pixels of the file as it is, turned back if need be."""
    lie = overlay.from_found.back().then(look.to_file)
    (x0, y0), (x1, y1) = lie(np.array([[part.x0, part.y0], [part.x1, part.y1]]))
    if look.mirrored:
        x0, x1 = look.file_size.width - x1, look.file_size.width - x0
    return Extent(float(x0), float(y0), float(x1), float(y1))


@dataclass(frozen=True, slots=True)
class _Places:
    """Where touching tiles show something else: the largest place, and what agrees elsewhere."""

    largest: Extent | None
    elsewhere: float


def _places(look: Look, overlay: Overlay, tiles: Tiles, shown: Extent) -> _Places:
    """The places that differ, each with the tiles round it that it touches."""
    import cv2  # noqa: PLC0415

    foreign = tiles.foreign.astype(np.uint8)
    count, labels, facts, _ = cv2.connectedComponentsWithStats(foreign, connectivity=8)
    large = [n for n in range(1, count) if facts[n, cv2.CC_STAT_AREA] >= LEAST_FOREIGN]
    if not large:
        return _Places(None, tiles.agreeing)
    touched = cv2.dilate(np.isin(labels, large).astype(np.uint8), np.ones((3, 3), np.uint8))
    rest = Tiles(correlation=tiles.correlation, telling=tiles.telling & (touched == 0))
    worst = max(large, key=lambda n: int(facts[n, cv2.CC_STAT_AREA]))
    left, top, wide, high, _ = (int(v) * TILE_PX for v in facts[worst])
    x0, y0 = math.ceil(shown.x0) + left, math.ceil(shown.y0) + top
    return _Places(_in_file(look, overlay, Extent(x0, y0, x0 + wide, y0 + high)), rest.agreeing)
