"""A byte cap met at the best quality it allows, or refused with a size that would fit."""

from __future__ import annotations

import math
from typing import Final

from cropper.deliverable.ways import Way
from cropper.destination.destination import Finish
from cropper.destination.formats import format_named
from cropper.errors import DeliveryError
from cropper.geometry import Size

NEARLY: Final = 0.995
"""How near the cap a foretold size may come where it must fit (house)."""
STEADY: Final = 0.999
"""The same where it need not: the first encode fits already."""
FEWER: Final = 0.95
"""Of the side that was tried and fits: rendered anew it is a little crisper (house)."""
SHRINKINGS: Final = 6
LEAST_SIDE_PX: Final = 16
"""A picture with a shorter side shows nobody (house)."""
PROGRESSIVE_SAVES: Final = 1.02
"""A progressive file is so much smaller than a baseline one with fitted tables (measured 1.0 to
1.04); only a first guess, the final bytes are counted."""


def too_large(way: Way, finish: Finish, size: int) -> DeliveryError:
    """The sentence for a cap that cannot be met, with the pixels that would fit, tried out."""
    cap, whole = finish.byte_cap or size, way.rendered.size
    fits = _fitting(way, finish, cap, size)
    fewer = f"About {fits.width} x {fits.height} px would fit; or raise" if fits else "Raise"
    return DeliveryError(
        f"{whole.width} x {whole.height} px as {finish.format.upper()} need "
        f"{size} bytes at a decent quality; the cap is {cap}",
        way_out=f"{fewer} the cap",
    )


def _fitting(way: Way, finish: Finish, cap: int, size: int) -> Size | None:
    """A size that fits, found by making the picture smaller; None when none is worth looking at."""
    whole, scale = way.rendered.size, 1.0
    # What does not shrink with the picture: profile, words, tables.
    fixed = len(_smallest(way, Size(LEAST_SIDE_PX, LEAST_SIDE_PX), finish))
    if cap <= fixed:
        return None
    for _ in range(SHRINKINGS):
        scale *= min(0.97, math.sqrt((cap - fixed) / max(1, size - fixed)))
        smaller = Size(int(whole.width * scale), int(whole.height * scale))
        if min(smaller.width, smaller.height) < LEAST_SIDE_PX:
            return None
        size = len(_smallest(way, smaller, finish))
        if size <= cap:
            return Size(int(smaller.width * FEWER), int(smaller.height * FEWER))
    return None


def _smallest(way: Way, size: Size, finish: Finish) -> bytes:
    """The smallest decent file of so many pixels."""
    quality = format_named(finish.format).least_quality or finish.quality
    return way.shrunk(size).written(quality, "4:2:0", progressive=True)


def capped(way: Way, finish: Finish, cap: int) -> tuple[bytes, int]:
    """The best quality that fits: a search, and for JPEG at most two full encodes after it."""
    found, sizes, data = _searched(way, finish, cap)
    if finish.format != "jpeg":
        if data is None:  # the last thing encoded was the least decent, and did not fit
            raise too_large(way, finish, sizes[_least(finish)])
        return data, found
    first = way.written(found, "4:2:0", progressive=True)
    second = _mended(way, finish, cap, found, len(first) / way.size_at(found))
    if second is not None and second != found:
        data = way.written(second, "4:2:0", progressive=True)
        if len(data) <= cap and (second > found or len(first) > cap):
            return data, second
    if len(first) > cap:
        raise too_large(way, finish, len(first))
    return first, found


def _least(finish: Finish) -> int:
    """The least quality that is decent; 1 where nothing says."""
    return format_named(finish.format).least_quality or 1


def _searched(way: Way, finish: Finish, cap: int) -> tuple[int, dict[int, int], bytes | None]:
    """The best quality by halving, every size met, and that quality's file when it fits.

    A JPEG is searched with cheap encodes, whose sizes only foretell; the others' sizes are final.
    """
    saves = PROGRESSIVE_SAVES if finish.format == "jpeg" else 1.0
    least = _least(finish)
    low, high, kept, sizes = least - 1, max(finish.quality, least) + 1, None, dict[int, int]()
    while high - low > 1:
        middle = (low + high) // 2
        data = way.written(middle, "4:2:0", progressive=False, fitted=True)
        sizes[middle] = len(data)
        if len(data) / saves <= cap:
            low, kept = middle, data
        else:
            high = middle
    way.cheap.update(sizes)
    return max(low, least), sizes, kept


def _mended(way: Way, finish: Finish, cap: int, found: int, share: float) -> int | None:
    """The best quality that the first full encode foretells to fit; None: there is no other."""
    if way.size_at(found) * share <= cap:
        up = found
        while up < finish.quality and way.size_at(up + 1) * share <= cap * STEADY:
            up += 1
        return up
    lower = range(found - 1, _least(finish) - 1, -1)
    return next((one for one in lower if way.size_at(one) * share <= cap * NEARLY), None)
