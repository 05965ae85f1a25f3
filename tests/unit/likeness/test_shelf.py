"""Which known pictures a search lays a file on."""

from __future__ import annotations

import numpy as np

from cropper.likeness.fingerprint import fingerprint
from cropper.likeness.shelf import CANDIDATES, shelf


def picture(seed: int) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """Blocks of random greys: corners enough to find features at."""
    blocks = np.random.default_rng(seed).integers(0, 256, (24, 30), dtype=np.uint8)
    return np.repeat(np.kron(blocks, np.ones((16, 16), np.uint8))[..., None], 3, axis=2)


def test_few_known_pictures_are_all_laid_on_though_none_wins_a_vote() -> None:
    for count in (1, CANDIDATES):
        known = [fingerprint(f"{seed:064d}", picture(seed)) for seed in range(count)]
        asked = known[0].views[0].features
        assert set(shelf(known).candidates(asked, ())) == {one.sha256 for one in known}
