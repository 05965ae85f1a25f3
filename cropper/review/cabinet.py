"""Previews of the job's masters, and what the finder saw in them: made once, kept by content.

They lie in the job's folder under ``review``; the folder may be thrown away at any time. A
preview is asked for by version and length, never by a path.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Final

from PIL import Image
from pydantic import TypeAdapter, ValidationError

from cropper.deliverable.writing import write_whole
from cropper.disk import plain
from cropper.errors import CropperError, MasterError
from cropper.job.identity import digest
from cropper.job.looking import MasterLooker
from cropper.job.one_master import Looker
from cropper.job.plan import HandMarks, PlannedMaster
from cropper.proof.previews import bare_jpeg
from cropper.subject.subject import Finding

FOLDER: Final = "review"
LENGTHS: Final = (960, 1600, 2880)
"""Long sides of previews: thumbnails, the large master, and the same seen near or on a dense screen
(house: 24 MP made within a second)."""
MADE: Final = "1"
"""Goes into the previews' names: count it up when they are made in another way."""


class Cabinet:
    """The previews and findings of one job folder."""

    def __init__(self, job: Path, looker: Callable[[], Looker] = MasterLooker) -> None:
        self.job = job
        self._make_looker = looker
        self._looker: Looker | None = None
        self._decoding = Lock()
        self._looking = Lock()

    def preview(self, master: PlannedMaster, longest: int) -> bytes:
        """A JPEG of the whole upright master, without metadata.

        Raises :class:`MasterError` when the file cannot be opened or is not what was planned.
        """
        path = self._preview_file(master, longest)
        if not path.is_file():
            with self._decoding:  # one master decoded at a time bounds the memory
                if not path.is_file():
                    self._make(master)
        return path.read_bytes()

    def tag(self, master: PlannedMaster) -> str:
        """Names a preview's content in its address: it changes when the picture does."""
        return f"{master.sha256[:16]}-{MADE}"

    def _preview_file(self, master: PlannedMaster, longest: int) -> Path:
        return self.job / FOLDER / f"{master.sha256[:32]}-{MADE}-{longest}.jpg"

    def _make(self, master: PlannedMaster) -> None:
        """All lengths from one decoding, each reduced from the one before."""
        from cropper.master.opening import open_master  # noqa: PLC0415 - brings the decoders

        opened = open_master(master.located(self.job))
        if opened.sha256 != master.sha256:
            raise MasterError(
                f"{master.file} has changed since it was planned, so its crops no longer apply",
                way_out="Plan it again: cropper plan, with the same --job",
            )
        picture = Image.fromarray(opened.srgb8(max(LENGTHS)))
        for longest in sorted(LENGTHS, reverse=True):
            picture = _reduced(picture, longest)
            _put(self._preview_file(master, longest), bare_jpeg(picture))

    def seen(self, master: PlannedMaster) -> Finding:
        """What the finder saw before any mark by hand; looks again only when nobody knows."""
        if not master.marks.given:
            return master.finding
        with self._looking:
            path = self._finding_file(master)
            kept = _kept(path)
            return kept if kept is not None else self._look_again(master, path)

    def known(self, master: PlannedMaster) -> Finding | None:
        """The same, but None rather than looking again."""
        return master.finding if not master.marks.given else _kept(self._finding_file(master))

    def keep_seen(self, master: PlannedMaster) -> None:
        """Put aside what the finder saw, before a first mark covers it."""
        if not master.marks.given:
            text = _findings().dump_json(master.finding)
            _put(self._finding_file(master), text)

    def _finding_file(self, master: PlannedMaster) -> Path:
        name = digest([master.sha256, master.finding.finder, master.marks.small_faces])[:32]
        return self.job / FOLDER / f"{name}.seen.json"

    def _look_again(self, master: PlannedMaster, path: Path) -> Finding:
        if self._looker is None:
            self._looker = self._make_looker()
        marks = HandMarks(small_faces=master.marks.small_faces)
        finding = self._looker.look(master.located(self.job), marks).finding
        _put(path, _findings().dump_json(finding))
        return finding


@cache
def _findings() -> TypeAdapter[Finding]:
    return TypeAdapter(Finding)


def _kept(path: Path) -> Finding | None:
    """A finding put aside; None when it is not there, or damaged: it can be found again."""
    try:
        return _findings().validate_json(plain(path).read_bytes())
    except (OSError, ValidationError):
        return None


def _reduced(picture: Image.Image, longest: int) -> Image.Image:
    shrink = longest / max(picture.size)
    if shrink >= 1:
        return picture
    target = (max(1, round(picture.width * shrink)), max(1, round(picture.height * shrink)))
    return picture.resize(target, Image.Resampling.LANCZOS)


def _put(path: Path, data: bytes) -> None:
    """Write a file that can be made again; a full disk must not stop the looking."""
    try:
        write_whole(path, data, replace=True, within=path.parent.parent)
    except CropperError as error:
        raise CropperError(
            f"{path} cannot be written", way_out="Make room, or make the job's folder writable"
        ) from error
