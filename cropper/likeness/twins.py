"""Undeclared rivals: pictures that look like versions of one idea and belong to no common set.

Compared is what a thumbnail shows: where light, clothes and backdrop are. Nobody is recognised.
Capture times make it stricter or laxer: frames taken within minutes need to look less alike than
pictures that tell no time, and pictures of different days are left alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.likeness.capture import Capture
from cropper.likeness.features import Floats

SIGHT_PX: Final = 64
"""A sight is a square of this side, the picture squeezed into it (house)."""
ALIKE: Final = 0.9
"""Correlation from which two pictures look like one idea when times are not told. Frames of one
sitting: at least .93; different demo pictures: at most .69 (design/likeness)."""
ALIKE_WITHIN: Final = 0.8
"""Within :data:`CLOSE` of each other (house)."""
CLOSE: Final = timedelta(minutes=5)
"""One idea, one go (house)."""
ANOTHER_DAY: Final = timedelta(hours=12)
"""Further apart than this the photographer has come back to it: no twins (house)."""
MARGIN_PX: Final = 8
"""The inner part of one is looked for in the other: framing may shift by this much of 64."""
MOST_NAMED: Final = 8
"""A larger group is a day's work before one backdrop rather than one idea (house)."""
SCALES: Final = (1.0, 0.9, 1.1, 0.8, 1.25)
"""Framings nearer and farther that are tried (house)."""
CLOSEST: Final = 8
"""So many most alike at first sight are compared closely for each picture: 2 ms each (measured)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """One picture at a glance: ``lab`` (64, 64, 3) float32, its set if it is in one."""

    name: str
    lab: Floats
    taken: Capture | None = None
    set: str | None = None

    def __post_init__(self) -> None:
        if self.lab.shape != (SIGHT_PX, SIGHT_PX, 3):
            message = f"a sight is {SIGHT_PX} px square, not {self.lab.shape}"
            raise ValueError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two pictures alike; ``alike`` is a correlation 0..1, ``apart`` the time between them."""

    one: str
    other: str
    alike: float
    apart: timedelta | None = None


def glance(pixels: npt.NDArray[np.uint8]) -> Floats:
    """The sight's pixels of an sRGB picture (rows, columns, 3)."""
    import cv2  # noqa: PLC0415 - heavy, only when pictures are looked at

    small = cv2.resize(pixels, (SIGHT_PX, SIGHT_PX), interpolation=cv2.INTER_AREA)
    lab: Any = cv2.cvtColor(small, cv2.COLOR_RGB2LAB).astype(np.float32)
    return np.asarray(cv2.GaussianBlur(lab, (0, 0), 1.0), np.float32)


def near_twins(sights: Sequence[Sight]) -> tuple[Pair, ...]:
    """Pairs that look like versions of one idea and are in no common set, most alike first."""
    pairs = (_pair(one, other) for one, other in _worth_it(sights))
    found = [pair for pair in pairs if pair is not None]
    return tuple(sorted(found, key=lambda pair: (-pair.alike, pair.one, pair.other)))


def groups(pairs: Sequence[Pair]) -> tuple[tuple[str, ...], ...]:
    """Pictures that pairs tie together, each group in the order its pictures came up."""
    of: dict[str, list[str]] = {}
    for pair in pairs:
        mine, theirs = of.get(pair.one, [pair.one]), of.get(pair.other, [pair.other])
        if mine is theirs:
            continue
        merged = [*mine, *theirs]
        of.update(dict.fromkeys(merged, merged))
    apart = {id(group): group for group in of.values()}
    return tuple(tuple(sorted(group)) for group in apart.values())


def sentence(names: Sequence[str]) -> str:
    """What the photographer is asked.

    >>> sentence(["shawl", "shawl-2"])
    'shawl and shawl-2 look like versions of one idea: make them a set? --set NAME'
    """
    if len(names) > MOST_NAMED:
        others = len(names) - 2
        return (
            f"{names[0]}, {names[1]} and {others} others look alike: where some of them are"
            " versions of one idea, make those a set: --set NAME"
        )
    told = f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{told} look like versions of one idea: make them a set? --set NAME"


def _worth_it(sights: Sequence[Sight]) -> Iterator[tuple[Sight, Sight]]:
    """For each picture its most alike others at first sight, every pair once."""
    if len(sights) < 2:  # noqa: PLR2004 - a pair is two
        return
    coarse = np.stack([one.lab[2::4, 2::4].ravel() for one in sights])
    coarse -= coarse.mean(axis=1, keepdims=True)
    coarse /= np.maximum(np.linalg.norm(coarse, axis=1, keepdims=True), 1e-6)
    seen: set[tuple[int, int]] = set()
    for number in range(len(sights)):
        alike = coarse @ coarse[number]
        alike[number] = -2
        for other in np.argsort(-alike, kind="stable")[:CLOSEST]:
            if other == number:  # so few pictures that it is among its own nearest
                continue
            key = (min(number, int(other)), max(number, int(other)))
            if key not in seen and not _settled(sights[number], sights[int(other)]):
                yield sights[key[0]], sights[key[1]]
            seen.add(key)


def _settled(one: Sight, other: Sight) -> bool:
    """Already in one set, or of different days."""
    if one.set is not None and one.set == other.set:
        return True
    apart = _apart(one, other)
    return apart is not None and apart > ANOTHER_DAY


def _apart(one: Sight, other: Sight) -> timedelta | None:
    return one.taken.apart(other.taken) if one.taken and other.taken else None


def _pair(one: Sight, other: Sight) -> Pair | None:
    apart = _apart(one, other)
    needed = ALIKE_WITHIN if apart is not None and apart <= CLOSE else ALIKE
    alike = likeness(one.lab, other.lab)
    if alike < needed:
        return None
    return Pair(one=one.name, other=other.name, alike=alike, apart=apart)


def likeness(one: Floats, other: Floats) -> float:
    """Best correlation of the inner part of ``one``, nearer or farther, anywhere in ``other``."""
    import cv2  # noqa: PLC0415

    middle, inner = SIGHT_PX / 2, slice(MARGIN_PX, SIGHT_PX - MARGIN_PX)
    best = -1.0
    for scale in SCALES:
        about: Any = np.array(
            [[scale, 0, middle * (1 - scale)], [0, scale, middle * (1 - scale)]], np.float32
        )
        scaled = cv2.warpAffine(one, about, (SIGHT_PX, SIGHT_PX), borderMode=cv2.BORDER_REPLICATE)
        part = np.ascontiguousarray(scaled[inner, inner])
        if float(part.std(axis=(0, 1)).max()) < 1:  # a blank picture is like any other
            return 0.0
        best = max(best, float(cv2.matchTemplate(other, part, cv2.TM_CCOEFF_NORMED).max()))
    return min(1.0, best)
