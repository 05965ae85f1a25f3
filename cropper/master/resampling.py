"""The one interface through which a picture is made smaller or larger.

Two engines stand behind it: a SIMD resizer (the default) and libvips, which is the other side of
the tests. Both are asked for the same thing: a half-open source box with fractional edges, and
a whole-pixel size. Which of the two lies nearer a float reference is measured in
``tests/reference/test_resampling.py`` and told in decision 0004.
"""

from __future__ import annotations

import threading
from enum import Enum
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.geometry import Extent, Size

Array = npt.NDArray[Any]


class Filter(Enum):
    """The kernels in use, by the name both engines know."""

    LANCZOS3 = "lanczos3"
    BOX = "box"


def resized(
    pixels: Array, size: Size, *, box: Extent | None = None, kernel: Filter = Filter.LANCZOS3
) -> Array:
    """``pixels`` (rows, columns, channels; uint8, uint16 or float32) at ``size``.

    ``box`` is the part taken, in pixel edges of ``pixels``; None takes all. Channels are resampled
    alike: an alpha channel is not treated as one.
    """
    return Source(pixels).resized(size, box=box, kernel=kernel)


class Source:
    """Pixels handed to the resizer once and resized many times (the hand-over is a copy)."""

    def __init__(self, pixels: Array) -> None:
        import cykooz_resizer as engine  # noqa: PLC0415 - only when pixels are moved

        rows, columns, channels = pixels.shape
        self._dtype: Final = pixels.dtype
        self._channels: Final = channels
        self.size: Final = Size(columns, rows)
        self.bytes: Final = int(pixels.nbytes)
        self._type: Final = _pixel_type(engine, pixels.dtype, channels)
        whole = np.ascontiguousarray(pixels).tobytes()
        self._image: Final = engine.ImageData(columns, rows, self._type, whole)

    def resized(
        self, size: Size, *, box: Extent | None = None, kernel: Filter = Filter.LANCZOS3
    ) -> Array:
        """The part in ``box`` at ``size``; a new read-only array."""
        import cykooz_resizer as engine  # noqa: PLC0415

        aimed = _aimed(engine, size, self._type)
        crop = engine.CropBox(box.x0, box.y0, box.width, box.height) if box else None
        options = engine.ResizeOptions(
            resize_alg=engine.ResizeAlg.convolution(engine.FilterType[kernel.value]),
            crop_box=crop,
            use_alpha=False,
        )
        engine.Resizer().resize(self._image, aimed, options)
        flat = np.frombuffer(aimed.get_buffer(), self._dtype)
        return flat.reshape(size.height, size.width, self._channels)


AIMED_KEPT: Final = 2
"""Empty pictures that a thread keeps: most strips of one deliverable have one height or two."""
_KEPT: Final = threading.local()


def _aimed(engine: Any, size: Size, pixel_type: Any) -> Any:
    """A picture to resize into. The engine hands out copies, so one may be used again and again."""
    kept: dict[tuple[Any, ...], Any] = _KEPT.__dict__.setdefault("aimed", {})
    key = (size.width, size.height, pixel_type)
    if key not in kept:
        while len(kept) >= AIMED_KEPT:
            del kept[next(iter(kept))]
        kept[key] = engine.ImageData(size.width, size.height, pixel_type)
    return kept[key]


def _pixel_type(engine: Any, dtype: np.dtype[Any], channels: int) -> Any:
    """The engine's name for this kind of pixel."""
    depth = {"uint8": "U8", "uint16": "U16", "float32": "F32"}[dtype.name]
    return engine.PixelType[depth if channels == 1 else f"{depth}x{channels}"]
