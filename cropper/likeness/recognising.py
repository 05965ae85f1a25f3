"""Which known picture a found file shows: sure, undecided between some, or honestly unknown.

Looks at the file small first, then turned over, then larger (a picture amid an interface). Every
look's candidates are laid on; rivals of one idea lie on each other nearly as well as on
themselves, so the tiles in which *they* differ decide between them, and where those do not, both
are named. A place that differs from the only candidate makes the answer undecided, not sure:
it may be another version of the idea that nobody has recorded. Faces that differ at a closer look
do so, too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.geometry import Size
from cropper.likeness.agreement import SMOOTHED_PX, TILE_PX, Tiles, compared_at
from cropper.likeness.faces import Faces, faces_seen
from cropper.likeness.features import features
from cropper.likeness.fingerprint import MOST_FEATURES, VIEW_PX, Fingerprint, Thumb, reduced_grey
from cropper.likeness.hashing import perceptual_hash
from cropper.likeness.laying import Laid, Look, laid_on
from cropper.likeness.likeness import Likeness
from cropper.likeness.overlay import overlaid
from cropper.likeness.registration import Lie
from cropper.likeness.shelf import Shelf

LARGE_PX: Final = 1536
"""Long side of the second look (house: a picture of 300 px in a screen of 1600 is found)."""
LARGE_FEATURES: Final = 3000
RIVALS_DIFFER: Final = 0.9
"""Tiles of two known pictures that correlate less than this tell them apart (house)."""
EDGE_PX: Final = 3
"""An edge of the picture within the file is told to about this: no border is taken for a face
that differs (house)."""
LEAST_LEAD: Final = 0.4
"""Summed lead in correlation over those tiles that decides (house: none of 60 went wrong)."""
LEAST_WINS: Final = 0.75
"""And the share of those tiles that the winner must win (house)."""

Load = Callable[[str], Fingerprint | None]
"""The fingerprint of a SHA-256."""


class State(StrEnum):
    """How sure the answer is."""

    EXACT = "exact"
    SURE = "sure"
    UNDECIDED = "undecided"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recognised:
    """The answer: one likeness when sure, one or more when undecided, the nearest if unknown."""

    state: State
    likenesses: tuple[Likeness, ...] = ()


def recognised(pixels: Thumb, shelf: Shelf, load: Load) -> Recognised:
    """What ``pixels`` (upright sRGB, any size) shows of the pictures on ``shelf``."""
    nearest: Likeness | None = None
    mostly: Recognised | None = None
    for look in _looks(pixels):
        laid = _laid(look, shelf, load)
        sure = [one for one in laid if one.likeness.sure]
        if sure:
            return _settled(look, pixels, sure)
        if mostly is None:
            mostly = _partly([one.likeness for one in laid if one.likeness.mostly])
        for one in laid:
            if nearest is None or one.likeness.agreeing > nearest.agreeing:
                nearest = one.likeness
    if mostly is not None:
        return mostly
    told = (nearest,) if nearest is not None and nearest.near else ()
    return Recognised(state=State.UNKNOWN, likenesses=told)


def _looks(pixels: Thumb) -> Iterator[Look]:
    """Small, small and turned over, large: each made only when the one before did not do."""
    high, wide = pixels.shape[:2]
    size = Size(wide, high)
    small = reduced_grey(pixels, VIEW_PX)
    yield Look(grey=small, features=features(small, MOST_FEATURES), file_size=size)
    over = np.ascontiguousarray(small[:, ::-1])
    yield Look(grey=over, features=features(over, MOST_FEATURES), file_size=size, mirrored=True)
    if max(size.width, size.height) > VIEW_PX:
        large = reduced_grey(pixels, LARGE_PX)
        yield Look(grey=large, features=features(large, LARGE_FEATURES), file_size=size)


def _laid(look: Look, shelf: Shelf, load: Load) -> list[Laid]:
    """The look on each candidate that it lies on at all, best first."""
    hashes = (perceptual_hash(look.grey),)
    known = (load(name) for name in shelf.candidates(look.features, hashes))
    laid = (laid_on(look, one) for one in known if one is not None)
    return sorted(
        (one for one in laid if one is not None),
        key=lambda one: (-one.likeness.agreeing, -one.likeness.correlation),
    )


def _partly(likenesses: list[Likeness]) -> Recognised | None:
    """Undecided: the file is the best of these but for some places."""
    if not likenesses:
        return None
    return Recognised(state=State.UNDECIDED, likenesses=(likenesses[0],))


def _settled(look: Look, pixels: Thumb, sure: list[Laid]) -> Recognised:
    """The best of the sure ones, and those the file cannot tell from it."""
    best = sure[0]
    for other in sure[1:]:
        if _lead(look, other, best) > 0:
            best = other
    level = [one for one in sure if one is best or not _lead(look, best, one)]
    told = [_closer(look, pixels, one) for one in level]
    same = [one for one in told if one.faces is not Faces.DIFFER] or told
    doubtful = len(same) > 1 or same[0].doubtful
    return Recognised(state=State.UNDECIDED if doubtful else State.SURE, likenesses=tuple(same))


def _closer(look: Look, pixels: Thumb, laid: Laid) -> Likeness:
    """The likeness after a closer look at the faces."""
    turned = pixels[:, ::-1] if look.mirrored else pixels
    wide, high, shown = look.file_size.width, look.file_size.height, laid.likeness.shown
    x0, x1 = (wide - shown.x1, wide - shown.x0) if look.mirrored else (shown.x0, shown.x1)
    left, right = _inner(x0, x1, wide)
    top, bottom = _inner(shown.y0, shown.y1, high)
    to_file = Lie.scaled(1, 1, left, top)
    to_master = to_file.then(look.to_file.back()).then(laid.lie).then(laid.view.to_master)
    faces = faces_seen(turned[top:bottom, left:right], to_master, laid.known.closeups)
    return replace(laid.likeness, faces=faces)


def _inner(start: float, stop: float, side: int) -> tuple[int, int]:
    """The pixels surely within the picture; an edge that is the file's own is sure."""
    first = 0 if start < 1 else round(start) + EDGE_PX
    last = side if stop > side - 1 else round(stop) - EDGE_PX
    return first, max(first, last)


def _lead(look: Look, one: Laid, other: Laid) -> int:
    """1 when the file shows ``one`` rather than ``other``, -1 the other way, 0 undecided."""
    mine, theirs, between = _three_ways(look, one, other)
    apart = between.telling & mine.telling & theirs.telling
    apart &= between.correlation < RIVALS_DIFFER
    leads = (mine.correlation - theirs.correlation)[apart]
    if abs(leads.sum()) < LEAST_LEAD:
        return 0
    sign = 1 if leads.sum() > 0 else -1
    return sign if float((leads * sign > 0).mean()) >= LEAST_WINS else 0


def _three_ways(look: Look, one: Laid, other: Laid) -> tuple[Tiles, Tiles, Tiles]:
    """File against one, file against other, one against other, on one grid."""
    share = min(1.0, one.lie.scale, other.lie.scale)
    first = overlaid(look.grey, one.view.grey, one.lie, share)
    second = overlaid(look.grey, other.view.grey, other.lie, share)
    covered: npt.NDArray[Any] = first.covered & second.covered
    if min(first.size) < TILE_PX:
        nothing = Tiles(correlation=np.zeros((1, 1), np.float32), telling=np.zeros((1, 1), bool))
        return nothing, nothing, nothing
    sigma = SMOOTHED_PX[0]  # one blur for all three, or the softer comparison would win
    return (
        compared_at(first.found, first.known, covered, sigma),
        compared_at(first.found, second.known, covered, sigma),
        compared_at(first.known, second.known, covered, sigma),
    )
