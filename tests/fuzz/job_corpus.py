"""Small right files of a job folder, and right questions of the review page, to be mutated."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

Corpus = Mapping[str, bytes]

REVISION: Final = b"REVISION"
"""Stands for the state that the page shows."""

_ONE: Final = {"revision": "REVISION", "version": "wool-000", "destination": "stamp"}
_FRAME: Final = {"box": [10, 20, 90, 100], "anchor": "centre", "deg": 1.5}
ASKED: Final[Mapping[str, Mapping[str, Any]]] = {
    "/api/measure": {"version": "wool-000", "destination": "stamp", "frame": _FRAME},
    "/api/people": {"version": "wool-000"},
    "/api/choose": {**_ONE, "index": 0},
    "/api/adjust": {**_ONE, "frame": _FRAME, "gesture": "one"},
    "/api/mark": {
        "revision": "REVISION", "version": "wool-000",
        "marks": {"eyes": [[40, 47], [60, 47]], "crown": [50, 10], "principal": [1]},
    },
    "/api/say": {
        "revision": "REVISION", "version": "wool-001", "destinations": ["stamp"],
        "word": "held", "note": "too tight",
    },
    "/api/fix": {
        "revision": "REVISION", "set_name": "knit", "destination": "stamp", "version": None,
    },
    "/api/undo": {"revision": "REVISION"},
    "/api/redo": {"revision": "REVISION"},
}  # fmt: skip


def questions() -> Corpus:
    """A request each: the route, and the body."""
    return {
        f"{at.rpartition('/')[2]}.ask": f"{at}\n{json.dumps(body)}".encode()
        for at, body in ASKED.items()
    }


def _worked(find: str) -> bytes:
    """A file of a small job that was planned and exported."""
    from tests.harness.steps import Small  # noqa: PLC0415 - only in the child

    with tempfile.TemporaryDirectory() as home:
        small = Small(Path(home), masters=2)
        small.prepare()
        job = small.fresh()
        small.work(job)
        return next(job.glob(find)).read_bytes()


def ledgers() -> Corpus:
    """The state of a ledger, and a line of its journal."""
    from cropper.job.ledger import Entry, Note, _line  # noqa: PLC0415

    entry = Entry(version="roll", destination="stamp", basis="b", sha256="0" * 64, written=True)
    note = Note(folder="deliverables", file="roll.jpg", entry=entry)
    claim = replace(note, entry=replace(entry, written=False))
    return {
        "exported.json": _worked("exported.json"),
        "exported.journal": f"{_line(claim)}{_line(note)}".encode(),
    }


def fingerprints() -> Corpus:
    """The fingerprint of one picture, and a shelf of it."""
    import numpy as np  # noqa: PLC0415

    from cropper.geometry import PixelBox  # noqa: PLC0415
    from cropper.likeness import fingerprint as kept  # noqa: PLC0415
    from cropper.likeness import shelf  # noqa: PLC0415

    pixels = np.random.default_rng(3).integers(0, 255, (160, 120, 3), np.uint8)
    one = kept.fingerprint("0" * 64, pixels, [PixelBox(10, 10, 90, 110)])
    return {
        "one.npz": kept.to_bytes(one),
        "shelf.npz": shelf.to_bytes(shelf.shelf([one]), {"0" * 64: "basis"}),
    }


CORPORA: Mapping[str, Callable[[], Corpus]] = {
    "cards": lambda: {"cards.jsonl": _worked("planned/cards.jsonl")},
    "ledger": ledgers,
    "manifest": lambda: {"manifest.json": _worked("deliverables/manifest.json")},
    "fingerprint": fingerprints,
    "asked": questions,
}
