"""A perceptual hash: 64 bits that stay nearly the same when a picture is squeezed or recoded.

It only proposes candidates and never settles anything [phash]: two pictures against one backdrop
may share it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from cropper.likeness.features import Grey

NEAR_BITS: Final = 10
"""Hashes that differ in at most this many of 64 bits are candidates [phash]."""


def perceptual_hash(grey: Grey) -> int:
    """The 64 bits of the DCT hash of ``imagehash`` as a number, first bit highest."""
    import imagehash  # noqa: PLC0415 - pulls scipy in
    from PIL import Image  # noqa: PLC0415

    bits = np.packbits(imagehash.phash(Image.fromarray(grey)).hash.ravel())
    return int.from_bytes(bits.tobytes(), "big")


def apart(one: int, other: int) -> int:
    """In how many bits two hashes differ.

    >>> apart(0b1011, 0b0010)
    2
    """
    return (one ^ other).bit_count()
