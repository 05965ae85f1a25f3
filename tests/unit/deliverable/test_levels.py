"""What the shared levels hold in memory, and that looking up in pieces changes no sample."""

from __future__ import annotations

import numpy as np
import pytest

from cropper.deliverable import levels
from cropper.deliverable.levels import BAND_ROWS, Levels, Lit
from cropper.deliverable.light import SRGB, light_of
from cropper.geometry import Extent, Size

TALL = np.random.default_rng(3).integers(0, 256, (4 * BAND_ROWS, 48, 3), np.uint8)
WHOLE = Extent(0, 0, 48, 4 * BAND_ROWS)


def brought_to(shared: Levels, size: Size) -> Lit:
    """All of TALL at ``size``."""
    strips = shared.strips(shared.part(WHOLE, size), size, 64)
    return np.concatenate(list(strips))


def test_bands_of_all_levels_together_stay_within_what_may_be_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    most = 3 * BAND_ROWS * 48 * 6
    monkeypatch.setattr(levels, "MOST_KEPT_BYTES", most)
    shared = Levels(TALL, light_of(SRGB, 8))
    for reduction in (1, 4, 8):
        brought_to(shared, Size(48 // reduction, 4 * BAND_ROWS // reduction))
    assert 0 < shared.kept_bytes <= most


@pytest.mark.parametrize("reduction", [1, 4, 8])
def test_a_band_made_again_gives_the_same_samples_as_one_that_was_kept(
    reduction: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    size = Size(48 // reduction, 4 * BAND_ROWS // reduction)
    kept = brought_to(Levels(TALL, light_of(SRGB, 8)), size)
    monkeypatch.setattr(levels, "MOST_KEPT_BYTES", 0)
    assert np.array_equal(brought_to(Levels(TALL, light_of(SRGB, 8)), size), kept)


@pytest.mark.parametrize("rows", [1, 8, 19])
def test_sixteen_bit_codes_are_lit_as_their_table_says(rows: int) -> None:
    codes = np.random.default_rng(rows).integers(0, 65536, (rows, 7, 3)).astype(np.uint16)
    light = light_of(SRGB, 16)
    assert np.array_equal(light.lit(codes), light.tables[0][codes])
