"""The known pictures as one search sees them: which of a thousand are worth laying the file on.

Two coarse looks propose candidates. Perceptual hashes of the wholes and of all exported crops find
what was only recoded or squeezed. The strongest features of every view vote: each feature of the
file speaks for the views that hold a nearer one than most views do. Both only propose.

Growth is linear with a small step: 96 features of 128 bytes a view. They are read from the disk
where a search comes by (mapped, not loaded), so that processes share them.
"""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cropper.likeness.features import DESCRIPTOR, Features, Floats, rooted
from cropper.likeness.fingerprint import DAMAGED, Fingerprint
from cropper.likeness.hashing import NEAR_BITS

COARSE_FEATURES: Final = 96
"""Of a view's features, the strongest, that vote (house)."""
VOTERS: Final = 240
"""Of the file's features that are asked (house)."""
FIELDS: Final = 6
"""They are chosen from so many fields a side in turn, or an interface's words would be asked
alone: letters are stronger features than wool."""
CANDIDATES: Final = 6
"""Pictures that are laid on the file after the vote (house)."""
MOST_BY_HASH: Final = 12
"""And at most so many more that their hashes propose: a burst has many twins (house)."""
AT_ONCE: Final = 64
"""Views compared in one matrix product: 64 x 96 x 128 floats are 3 MB, and stay near the core."""

Votes = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """``views``: (fingerprint's number, view's number) of each row of ``descriptors``.

    ``descriptors`` (views, 96, 128) uint8, unused rows zero; ``hashes`` (n,) and ``hash_owners``.
    """

    names: tuple[str, ...]
    views: npt.NDArray[np.int32]
    descriptors: npt.NDArray[np.uint8]
    hashes: npt.NDArray[np.uint64]
    hash_owners: npt.NDArray[np.int32]

    def candidates(self, features: Features, hashes: Sequence[int]) -> tuple[str, ...]:
        """The SHA-256 of the pictures worth laying on, most promising first."""
        votes = self._votes(features)
        # Where all can be laid on, none needs to win: of one picture alone no view beats another.
        all_of_them = len(features) > 0 and len(self.names) <= CANDIDATES
        ranked = np.argsort(-votes, kind="stable")[:CANDIDATES]
        by_vote = [int(n) for n in ranked if all_of_them or votes[n] > 0]
        numbers = dict.fromkeys((*self._by_hash(hashes), *by_vote))
        return tuple(self.names[n] for n in numbers)

    def _by_hash(self, hashes: Sequence[int]) -> list[int]:
        """Owners of near hashes, nearest first."""
        if not hashes or not len(self.hashes):
            return []
        asked = np.array(hashes, np.uint64)
        bits = np.unpackbits((self.hashes[:, None] ^ asked[None]).view(np.uint8), axis=-1)
        differing = bits.reshape(len(self.hashes), len(asked), 64).sum(axis=2).min(axis=1)
        near = np.flatnonzero(differing <= NEAR_BITS)
        ordered = near[np.argsort(differing[near], kind="stable")]
        return list(dict.fromkeys(int(n) for n in self.hash_owners[ordered]))[:MOST_BY_HASH]

    def _votes(self, features: Features) -> Votes:
        """For each picture: how much the file's features prefer its best view to most others."""
        votes = np.zeros(len(self.names))
        if not len(features) or not len(self.views):
            return votes
        best = self._nearest(rooted(features.descriptors[spread(features)]))
        # What most views reach is what wool and backdrop have in common: it votes for nobody.
        rank = max(0, best.shape[1] - 1 - max(CANDIDATES, best.shape[1] // 50))
        usual = np.partition(best, rank, axis=1)[:, [rank]]
        spoken = np.maximum(best - usual, 0).sum(axis=0)
        np.maximum.at(votes, self.views[:, 0], spoken)
        return votes

    def _nearest(self, asked: Floats) -> Floats:
        """(voters, views): likeness of each voter to the nearest feature of each view."""
        parts = []
        for start in range(0, len(self.views), AT_ONCE):
            some = self.descriptors[start : start + AT_ONCE]
            flat = rooted(some.reshape(-1, DESCRIPTOR))
            alike = asked @ flat.T
            parts.append(alike.reshape(len(asked), len(some), -1).max(axis=2))
        return np.asarray(np.concatenate(parts, axis=1), np.float32)


def shelf(kept: Iterable[Fingerprint]) -> Shelf:
    """The shelf of these pictures."""
    names: list[str] = []
    views: list[tuple[int, int]] = []
    descriptors: list[npt.NDArray[np.uint8]] = []
    hashes: list[int] = []
    owners: list[int] = []
    for number, one in enumerate(kept):
        names.append(one.sha256)
        for place, view in enumerate(one.views):
            views.append((number, place))
            descriptors.append(_strongest(view.features))
        hashes.extend(one.hashes.values())
        owners.extend([number] * len(one.hashes))
    empty = np.zeros((0, COARSE_FEATURES, DESCRIPTOR), np.uint8)
    return Shelf(
        names=tuple(names),
        views=np.array(views, np.int32).reshape(-1, 2),
        descriptors=np.stack(descriptors) if descriptors else empty,
        hashes=np.array(hashes, np.uint64),
        hash_owners=np.array(owners, np.int32),
    )


def spread(features: Features) -> npt.NDArray[np.intp]:
    """Places of the voters: the strongest of every field, then the second strongest, and so on."""
    low, high = features.points.min(axis=0), features.points.max(axis=0)
    share = (features.points - low) / np.maximum(high - low, 1)
    across, down = np.minimum(share * FIELDS, FIELDS - 1).astype(int).T
    field = across + FIELDS * down
    turn = np.zeros(len(features), int)
    for one in np.unique(field):
        mine = np.flatnonzero(field == one)
        turn[mine] = np.arange(len(mine))
    return np.argsort(turn, kind="stable")[:VOTERS]


def _strongest(features: Features) -> npt.NDArray[np.uint8]:
    rows = np.zeros((COARSE_FEATURES, DESCRIPTOR), np.uint8)
    some = features.descriptors[:COARSE_FEATURES]
    rows[: len(some)] = some
    return rows


def joined(shelves: Sequence[Shelf]) -> Shelf:
    """All of them as one, pictures in their order."""
    if len(shelves) == 1:
        return shelves[0]  # as it is mapped
    if not shelves:
        return shelf(())
    starts = np.cumsum([0, *(len(one.names) for one in shelves)])
    moved = [
        one.views + np.array([[start, 0]], np.int32)
        for one, start in zip(shelves, starts[:-1], strict=True)
    ]
    owners = [
        one.hash_owners + np.int32(start) for one, start in zip(shelves, starts[:-1], strict=True)
    ]
    return Shelf(
        names=tuple(name for one in shelves for name in one.names),
        views=np.concatenate(moved).astype(np.int32),
        descriptors=np.concatenate([one.descriptors for one in shelves]),
        hashes=np.concatenate([one.hashes for one in shelves]),
        hash_owners=np.concatenate(owners).astype(np.int32),
    )


def picked(one: Shelf, names: Sequence[str]) -> Shelf:
    """The same shelf with these of its pictures alone, in this order."""
    if one.names == tuple(names):
        return one
    numbers = {name: number for number, name in enumerate(one.names)}
    place = np.full(len(one.names), -1, np.int32)
    place[[numbers[name] for name in names]] = np.arange(len(names), dtype=np.int32)
    views, owners = _moved(place[one.views[:, 0]]), _moved(place[one.hash_owners])
    return Shelf(
        names=tuple(names),
        views=np.stack([place[one.views[views, 0]], one.views[views, 1]], axis=1),
        descriptors=one.descriptors[views],
        hashes=one.hashes[owners],
        hash_owners=place[one.hash_owners[owners]],
    )


def _moved(places: npt.NDArray[np.int32]) -> npt.NDArray[np.intp]:
    """Which rows stay, in the order of their new places."""
    order = np.argsort(places, kind="stable")
    return order[places[order] >= 0]


def to_bytes(one: Shelf, bases: Mapping[str, str]) -> bytes:
    """The shelf as the bytes of a numpy archive; ``bases`` says what each picture's rows rest on.

    Nothing in it is compressed: it is mapped when it is read.
    """
    written = io.BytesIO()
    np.savez(
        written,
        names=np.array(one.names, dtype="U64"),
        bases=np.array([bases[name] for name in one.names], dtype="U64"),
        views=one.views,
        descriptors=one.descriptors,
        hashes=one.hashes,
        hash_owners=one.hash_owners,
    )
    return written.getvalue()


def opened(path: Path) -> tuple[Shelf, dict[str, str]] | None:
    """The shelf that :func:`to_bytes` wrote there, and its bases; None when it is damaged or gone.

    It stays readable when another one takes its place.
    """
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            names = tuple(str(name) for name in arrays["names"])
            bases = (str(basis) for basis in arrays["bases"])
            told = dict(zip(names, bases, strict=True))
            found = Shelf(
                names=names,
                views=arrays["views"],
                descriptors=_mapped(path, "descriptors.npy"),
                hashes=arrays["hashes"],
                hash_owners=arrays["hash_owners"],
            )
    except DAMAGED:
        return None
    return found, told


def _mapped(path: Path, member: str) -> npt.NDArray[np.uint8]:
    """An array of an archive as it lies in the file; raises ValueError if it cannot."""
    with zipfile.ZipFile(path) as archive:
        told = archive.getinfo(member)
    if told.compress_type != zipfile.ZIP_STORED:
        raise ValueError("a shelf is not compressed")
    with path.open("rb") as file:
        # The member's own header: 26 bytes, the lengths of its name and of what follows it.
        file.seek(told.header_offset + 26)
        name, extra = struct.unpack("<HH", file.read(4))
        file.seek(name + extra, io.SEEK_CUR)
        array: Any = np.lib.format
        array.read_magic(file)
        shape, _, kind = array.read_array_header_1_0(file)
        if kind != np.uint8 or not all(shape):
            return np.zeros(shape, np.uint8)
        return np.memmap(file, np.uint8, "r", file.tell(), shape)
