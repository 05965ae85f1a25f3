"""What is kept of a known picture, so that a found file can be laid on it without opening it again.

Some grey **views** (the whole, and deep crops nearer by) with their features, and a perceptual hash
of the whole and of each exported crop; and its faces nearer by. Boxes are pixels of the upright
master. The bytes are a plain numpy archive: no code is in it, and none is run when it is read. It
shows the picture small and grey: a fingerprint is personal data like the picture, and stays where
the job is.
"""

from __future__ import annotations

import io
import struct
import tokenize
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.geometry import PixelBox, Size
from cropper.likeness.features import Features, Grey, features, none_found
from cropper.likeness.hashing import perceptual_hash
from cropper.likeness.registration import Lie
from cropper.master.resampling import resized
from cropper.master.seeing import reduced_size

DAMAGED: Final = (
    ArithmeticError,
    EOFError,
    LookupError,
    MemoryError,
    OSError,
    RuntimeError,
    SyntaxError,
    TypeError,
    ValueError,
    struct.error,
    tokenize.TokenError,
    zipfile.BadZipFile,
    zlib.error,
)
"""What the reading of a damaged numpy archive ends in: its layers pass on whatever they meet."""

KEPT_AS: Final = "likeness 2"
"""Goes into every fingerprint: count it up when its content changes, and all are made anew."""
VIEW_PX: Final = 768
"""Long side of a view: features cost 0.1-0.2 s there, 0.2-0.3 s at 1024 (house)."""
MOST_FEATURES: Final = 1200
"""Of a view (house)."""
CLOSEUP_PX: Final = 256
"""Long side of a face's own view: a head of 320 px; lids are seen from 60 on (house)."""
GREY_QUALITY: Final = 92
"""JPEG quality of a kept view: a fifth of the bytes (house)."""
DEEP: Final = 0.45
"""A crop whose long side is less than this share of every view's gets a nearer one (house)."""
ROUND_IT: Final = 0.1
"""A nearer view shows this share of the crop's sides more, all round (house)."""

Thumb = npt.NDArray[np.uint8]
"""(rows, columns, 3) sRGB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One grey picture of the part ``box`` of the master."""

    box: PixelBox
    grey: Grey
    features: Features

    @property
    def to_master(self) -> Lie:
        """From pixels of the view to pixels of the upright master."""
        high, wide = self.grey.shape
        across, down = self.box.width / wide, self.box.height / high
        return Lie.scaled(across, down, self.box.x0, self.box.y0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprint:
    """A known picture. ``views`` has the whole first; ``hashes`` are of boxes of the master.

    ``closeups`` show its faces, without features.
    """

    sha256: str
    size: Size
    views: tuple[View, ...]
    hashes: Mapping[PixelBox, int] = field(default_factory=dict)
    closeups: tuple[View, ...] = ()

    def __post_init__(self) -> None:
        if not self.views or self.views[0].box.size != self.size:
            message = "a fingerprint begins with a view of the whole picture"
            raise ValueError(message)

    def ready_for(self, crops: Iterable[PixelBox], faces: Iterable[PixelBox] = ()) -> bool:
        """Whether all of ``crops`` and ``faces`` were known when it was made."""
        seen = {one.box for one in self.closeups}
        return all(box in self.hashes for box in crops) and seen.issuperset(faces)


def fingerprint(
    sha256: str,
    pixels: Thumb,
    crops: Iterable[PixelBox] = (),
    faces: Iterable[PixelBox] = (),
    *,
    full: Size | None = None,
) -> Fingerprint:
    """The fingerprint of the upright picture ``pixels``, with nearer views for deep ``crops``.

    ``faces`` are boxes round eyes and mouth, where frames of one sitting differ. ``full`` is the
    master's size where ``pixels`` are a reduction of it.
    """
    high, wide = pixels.shape[:2]
    size = full or Size(wide, high)
    boxes = [_whole(size), *(box for box in crops if box.inside(size))]
    views = tuple(_view(pixels, box, size) for box in parts(size, boxes))
    return Fingerprint(
        sha256=sha256,
        size=size,
        views=views,
        hashes={box: perceptual_hash(_seen(views, box)) for box in boxes},
        closeups=tuple(_closeup(pixels, box, size) for box in faces),
    )


def parts(size: Size, crops: Iterable[PixelBox]) -> tuple[PixelBox, ...]:
    """Which parts of a picture get a view: the whole, and those that deep crops need.

    >>> parts(Size(6000, 4000), [PixelBox(0, 0, 3000, 3000)])
    (PixelBox(x0=0, y0=0, x1=6000, y1=4000),)
    >>> parts(Size(6000, 4000), [PixelBox(1000, 1000, 2000, 2000)])[1]
    PixelBox(x0=900, y0=900, x1=2100, y1=2100)
    """
    chosen = [_whole(size)]
    for box in sorted(crops, key=lambda one: -max(one.width, one.height)):
        if not any(_near_enough(part, box) for part in chosen):
            chosen.append(_wider(box, size))
    return tuple(chosen)


def _near_enough(part: PixelBox, box: PixelBox) -> bool:
    near = max(box.width, box.height) >= DEEP * max(part.width, part.height)
    return near and _inside(part, box)


def _whole(size: Size) -> PixelBox:
    return PixelBox(0, 0, size.width, size.height)


def _wider(box: PixelBox, size: Size) -> PixelBox:
    more = round(ROUND_IT * max(box.width, box.height))
    return PixelBox(
        max(0, box.x0 - more),
        max(0, box.y0 - more),
        min(size.width, box.x1 + more),
        min(size.height, box.y1 + more),
    )


def reduced_grey(pixels: Thumb, longest: int) -> Grey:
    """Grey, its long side at most ``longest`` px; never enlarged."""
    import cv2  # noqa: PLC0415 - heavy, only when pictures are looked at

    high, wide = pixels.shape[:2]
    if max(high, wide) > longest:
        pixels = resized(pixels, reduced_size(Size(wide, high), longest))
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def _view(pixels: Thumb, box: PixelBox, full: Size) -> View:
    grey = _grey(pixels, box, full, VIEW_PX)
    return View(box=box, grey=grey, features=features(grey, MOST_FEATURES))


def _closeup(pixels: Thumb, box: PixelBox, full: Size) -> View:
    return View(box=box, grey=_grey(pixels, box, full, CLOSEUP_PX), features=none_found())


def _grey(pixels: Thumb, box: PixelBox, full: Size, longest: int) -> Grey:
    """That box of the full picture, small and grey."""
    high, wide = pixels.shape[:2]
    x0, x1 = (round(x * wide / full.width) for x in (box.x0, box.x1))
    y0, y1 = (round(y * high / full.height) for y in (box.y0, box.y1))
    part = np.ascontiguousarray(pixels[y0 : max(y1, y0 + 1), x0 : max(x1, x0 + 1)])
    return reduced_grey(part, longest)


def _seen(views: tuple[View, ...], box: PixelBox) -> Grey:
    """The pixels of ``box`` in the nearest view that has them."""
    view = next(one for one in reversed(views) if _inside(one.box, box))
    back = view.to_master.back()
    (x0, y0), (x1, y1) = back(np.array([[box.x0, box.y0], [box.x1, box.y1]]))
    columns = slice(round(x0), max(round(x1), round(x0) + 1))
    return view.grey[round(y0) : max(round(y1), round(y0) + 1), columns]


def _inside(outer: PixelBox, box: PixelBox) -> bool:
    return outer.x0 <= box.x0 and outer.y0 <= box.y0 and outer.x1 >= box.x1 and outer.y1 >= box.y1


def to_bytes(kept: Fingerprint) -> bytes:
    """The fingerprint as the bytes of a numpy archive."""
    arrays: dict[str, Any] = {
        "kept_as": np.array(KEPT_AS),
        "sha256": np.array(kept.sha256),
        "size": np.array([kept.size.width, kept.size.height], np.int64),
        "boxes": np.array([_corners(one.box) for one in kept.views], np.int64),
        "hashed": np.array([_corners(box) for box in kept.hashes], np.int64).reshape(-1, 4),
        "hashes": np.array(list(kept.hashes.values()), np.uint64),
        "faces": np.array([_corners(one.box) for one in kept.closeups], np.int64).reshape(-1, 4),
    }
    for number, view in enumerate(kept.views):
        arrays[f"grey{number}"] = _packed(view.grey)
        arrays[f"points{number}"] = view.features.points
        arrays[f"descriptors{number}"] = view.features.descriptors
    for number, view in enumerate(kept.closeups):
        arrays[f"face{number}"] = _packed(view.grey)
    written = io.BytesIO()
    np.savez_compressed(written, **arrays)
    return written.getvalue()


def from_bytes(data: bytes) -> Fingerprint | None:
    """What :func:`to_bytes` wrote; None when it is damaged or of another make."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as arrays:
            return _read(arrays) if str(arrays["kept_as"]) == KEPT_AS else None
    except DAMAGED:
        return None


def _packed(grey: Grey) -> npt.NDArray[np.uint8]:
    import cv2  # noqa: PLC0415

    _, data = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, GREY_QUALITY])
    return np.asarray(data, np.uint8)


def _unpacked(data: npt.NDArray[np.uint8]) -> Grey:
    import cv2  # noqa: PLC0415

    grey = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)
    if grey is None:
        raise ValueError("a view of the fingerprint is damaged")
    return np.asarray(grey, np.uint8)


def _read(arrays: Any) -> Fingerprint:
    wide, high = (int(side) for side in arrays["size"])
    views = tuple(
        View(
            box=_box(box),
            grey=_unpacked(arrays[f"grey{number}"]),
            features=Features(
                points=arrays[f"points{number}"], descriptors=arrays[f"descriptors{number}"]
            ),
        )
        for number, box in enumerate(arrays["boxes"])
    )
    closeups = tuple(
        View(box=_box(box), grey=_unpacked(arrays[f"face{number}"]), features=none_found())
        for number, box in enumerate(arrays["faces"])
    )
    hashed = (_box(box) for box in arrays["hashed"])
    hashes = dict(zip(hashed, (int(one) for one in arrays["hashes"]), strict=True))
    sha256 = str(arrays["sha256"])
    return Fingerprint(
        sha256=sha256, size=Size(wide, high), views=views, hashes=hashes, closeups=closeups
    )


def _box(corners: npt.NDArray[np.int64]) -> PixelBox:
    return PixelBox(*(int(edge) for edge in corners))


def _corners(box: PixelBox) -> tuple[int, int, int, int]:
    return box.x0, box.y0, box.x1, box.y1
