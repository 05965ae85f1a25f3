"""Crops and faces as plans and manifests tell them, kept slim so that long files are read once.

JOB/fingerprints/cuts.jsonl holds a line for each file that was read: the SHA-256 of its text, the
crops and the faces in it. A master's own file is 140 kB, a season's manifest 500 MB; what is wanted
of them is a hundredth. It is a cache: a file that changed has another SHA-256, and is read again.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, NamedTuple

from cropper.deliverable.writing import write_whole
from cropper.disk import lines, plain
from cropper.errors import CropperError
from cropper.geometry import Crop, PixelBox
from cropper.job.fingerprints import FOLDER
from cropper.job.plan import PlannedMaster
from cropper.likeness.faces import face_box

FILE: Final = "cuts.jsonl"
KEPT_AS: Final = "cuts 1"
"""Count it up when a line holds something else."""
MOST_FACES: Final = 8
"""Faces of a master that are looked at closely, the largest (house)."""

Corners = tuple[int, int, int, int]


class ReadCut(NamedTuple):
    """One crop; ``master`` is its master's SHA-256. What follows is empty where it was planned."""

    destination: str
    corners: Corners
    straighten_deg: float
    master: str
    version: str
    file: str = ""
    sha256: str = ""
    recipient: str = ""

    @property
    def crop(self) -> Crop:
        """The crop in pixels of the upright master."""
        return Crop(PixelBox(*self.corners), self.straighten_deg)


@dataclass(frozen=True, slots=True)
class Read:
    """What one file tells; ``faces`` in pixels of the upright master."""

    cuts: tuple[ReadCut, ...] = ()
    faces: tuple[PixelBox, ...] = ()


class CutsRead:
    """What was read of a job's files, by the SHA-256 of their texts."""

    def __init__(self, job: Path) -> None:
        self._file = job / FOLDER / FILE
        self._known = dict(_lines(self._file))
        self._used: dict[str, Read] = {}

    def of(self, sha256: str, read: Callable[[], Read]) -> Read:
        """What the file of that text tells; ``read`` reads it where it is new."""
        if sha256 not in self._used:
            self._used[sha256] = self._known.get(sha256) or read()
        return self._used[sha256]

    def keep(self) -> None:
        """Write it down, unless it stands there; where that is impossible it costs time alone."""
        if self._used.keys() == self._known.keys():
            return
        lines = "".join(f"{_text(sha256, read)}\n" for sha256, read in self._used.items())
        try:
            write_whole(self._file, lines.encode(), replace=True, within=self._file.parent.parent)
        except CropperError:
            return


def _text(sha256: str, read: Read) -> str:
    faces = [corners(one) for one in read.faces]
    return json.dumps([KEPT_AS, sha256, read.cuts, faces], ensure_ascii=False)


def _lines(file: Path) -> Iterator[tuple[str, Read]]:
    """Every line that can be used."""
    try:
        with plain(file).open(encoding="utf-8") as opened:
            for line in lines(opened):
                told = _line(line)
                if told is not None:
                    yield told
    except (OSError, UnicodeDecodeError):
        return


def _line(line: str) -> tuple[str, Read] | None:
    try:
        kept_as, sha256, cuts, faces = json.loads(line)
        if kept_as != KEPT_AS:
            return None
        read = tuple(ReadCut(*one) for one in cuts)
        return str(sha256), Read(read, tuple(PixelBox(*one) for one in faces))
    except (ValueError, TypeError, RecursionError):
        return None


def corners(box: PixelBox) -> Corners:
    """A box as four numbers."""
    return box.x0, box.y0, box.x1, box.y1


def of_master(master: PlannedMaster) -> Read:
    """The crops that count for a planned master, and its faces, the largest first."""
    cuts = (
        (destination, chosen.crop)
        for destination in master.choices
        if (chosen := master.chosen(destination)) is not None
    )
    people = sorted(master.finding.subjects, key=lambda one: -one.head_height_px)
    faces = (
        face_box(one.eyes, one.head_height_px, master.finding.size) for one in people[:MOST_FACES]
    )
    return Read(
        tuple(
            ReadCut(name, corners(crop.box), crop.straighten_deg, master.sha256, master.version)
            for name, crop in cuts
        ),
        tuple(box for box in faces if box is not None),
    )


def of_row(row: dict[str, Any]) -> ReadCut:
    """The crop of a manifest's row; raises KeyError, TypeError or ValueError without one."""
    box = PixelBox(*(int(edge) for edge in row["crop"]))
    return ReadCut(
        destination=str(row["destination"]),
        corners=corners(box),
        straighten_deg=float(row.get("straighten_deg") or 0),
        master=str(row["master_sha256"]),
        version=str(row["version"]),
        file=str(row["file"]),
        sha256=str(row["sha256"]),
        recipient=str(row.get("recipient") or ""),
    )
