"""Pointing out masters of a job that look like versions of one idea and are in no common set.

A glance at each master suffices, at an eighth of its size where it is a JPEG; glances are kept in
JOB/fingerprints/glances.npz, so that planning one more master looks at that one alone.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import Final, Protocol

import numpy as np
import numpy.typing as npt

from cropper.deliverable.writing import write_whole
from cropper.disk import plain
from cropper.errors import CropperError
from cropper.job.fingerprints import FOLDER
from cropper.likeness.capture import Capture, capture, parsed
from cropper.likeness.features import Floats
from cropper.likeness.fingerprint import DAMAGED
from cropper.likeness.twins import SIGHT_PX, Sight, glance, groups, near_twins, sentence
from cropper.master.opening import open_master
from cropper.master.stored import at_hand

GLANCES: Final = "glances.npz"
GLANCE_PX: Final = 256
"""Read at no less than this before it is squeezed into a sight (house)."""


class Planned(Protocol):
    """What is needed of a planned master."""

    @property
    def sha256(self) -> str: ...  # noqa: D102
    @property
    def version(self) -> str: ...  # noqa: D102
    def located(self, job: Path) -> Path: ...  # noqa: D102


def undeclared_twins(
    job: Path, masters: Iterable[Planned], sets: Iterable[tuple[str, Iterable[str]]] = ()
) -> tuple[str, ...]:
    """A sentence for each group of masters that look like one idea; none raises, none stops.

    ``sets``: (name, versions) of the sets there are. A master that cannot be read is left out.
    """
    planned = tuple(masters)
    named = {version: name for name, versions in sets for version in versions}
    known = _read(job / FOLDER / GLANCES)
    sights = [
        Sight(name=one.version, lab=seen[0], taken=seen[1], set=named.get(one.version))
        for one in planned
        if (seen := known.get(one.sha256) or _looked(known, one, job)) is not None
    ]
    _keep(job / FOLDER / GLANCES, known)
    return tuple(sentence(group) for group in groups(near_twins(sights)))


Seen = tuple[Floats, Capture | None]


def _looked(known: _Known, one: Planned, job: Path) -> Seen | None:
    try:
        with at_hand(one.located(job)) as path:
            seen = (glance(_small(path)), capture(path))
    except (CropperError, OSError):
        return None
    known.add(one.sha256, seen)
    return seen


def _small(path: Path) -> npt.NDArray[np.uint8]:
    """The picture upright, small; a JPEG is decoded at the smallest size that will do."""
    from PIL import Image, ImageOps  # noqa: PLC0415 - heavy

    try:
        with Image.open(plain(path)) as picture:
            if picture.format == "JPEG" and picture.mode in {"RGB", "L"}:
                picture.draft("RGB", (GLANCE_PX, GLANCE_PX))
                return np.asarray(ImageOps.exif_transpose(picture).convert("RGB"), np.uint8)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        pass  # the stricter way below tells what is wrong, or reads it
    return open_master(path).srgb8(GLANCE_PX)


class _Known:
    """Glances by SHA-256, and whether any is new."""

    def __init__(self, seen: dict[str, Seen]) -> None:
        self._seen = seen
        self.changed = False

    def get(self, sha256: str) -> Seen | None:
        return self._seen.get(sha256)

    def add(self, sha256: str, seen: Seen) -> None:
        self._seen[sha256] = seen
        self.changed = True

    def to_bytes(self) -> bytes:
        """As a numpy archive: digests, glances, capture times."""
        written = io.BytesIO()
        np.savez_compressed(
            written,
            names=np.array(list(self._seen), dtype="U64"),
            glances=np.stack([lab for lab, _ in self._seen.values()]).astype(np.float16),
            taken=np.array([_words(taken) for _, taken in self._seen.values()], dtype="U40"),
        )
        return written.getvalue()


def _words(taken: Capture | None) -> str:
    """The capture time as EXIF has it, its three fields apart by ``|``."""
    if taken is None:
        return ""
    zone = taken.at.strftime("%z")
    offset = f"{zone[:3]}:{zone[3:5]}" if zone else ""
    return f"{taken.at:%Y:%m:%d %H:%M:%S}|{taken.at:%f}|{offset}"


def _read(path: Path) -> _Known:
    try:
        with np.load(io.BytesIO(plain(path).read_bytes()), allow_pickle=False) as kept:
            names, glances, taken = kept["names"], kept["glances"], kept["taken"]
    except DAMAGED:
        return _Known({})
    if glances.shape != (len(names), SIGHT_PX, SIGHT_PX, 3) or len(taken) != len(names):
        return _Known({})
    return _Known(
        {
            str(name): (lab.astype(np.float32), parsed(*str(when).split("|")))
            for name, lab, when in zip(names, glances, taken, strict=True)
        }
    )


def _keep(path: Path, known: _Known) -> None:
    if not known.changed:
        return
    try:
        write_whole(path, known.to_bytes(), replace=True, within=path.parent.parent)
    except CropperError:
        return  # a glance is cheap: it is taken again next time
