"""Previews of the job's masters, and what the finder saw in them: made once, kept by content.

They lie in the job's folder under ``review``; the folder may be thrown away at any time. A
preview is asked for by version and length, never by a path.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Final

import numpy as np
import pyvips
from PIL import Image
from pydantic import TypeAdapter, ValidationError

from cropper.deliverable.writing import write_whole
from cropper.disk import plain
from cropper.errors import CropperError, MasterError, MisuseError
from cropper.job.identity import digest
from cropper.job.looking import MasterLooker
from cropper.job.one_master import Looker
from cropper.job.plan import HandMarks, PlannedMaster
from cropper.master.opening import Master, master_digest, open_master
from cropper.master.seeing import seen_in_srgb
from cropper.subject.subject import Finding

FOLDER: Final = "review"
LENGTHS: Final = (960, 1600, 2880)
"""Long sides of previews: thumbnails, the large master, and the same seen near or on a dense screen
(house: one of a 24 MP JPEG is made in .1 to .4 s)."""
QUALITY: Final = 84
"""JPEG quality of previews (house: nothing to be seen of it at their size)."""
PIECE_PX: Final = 1024
"""The side of a square of the master at its own pixels (house: some 150 kB)."""
PIECE_QUALITY: Final = 92
RGB: Final = 3
MADE: Final = "2"
"""Goes into the previews' names: count it up when they are made in another way."""


class Cabinet:
    """The previews and findings of one job folder."""

    def __init__(self, job: Path, looker: Callable[[], Looker] = MasterLooker) -> None:
        self.job = job
        self._make_looker = looker
        self._looker: Looker | None = None
        self._opened: Master | None = None
        self._decoding = Lock()
        self._looking = Lock()

    def ready(self, master: PlannedMaster, longest: int) -> bytes | None:
        """The JPEG of the whole upright master that was made before; None when there is none."""
        try:
            return plain(self._preview_file(master, longest)).read_bytes()
        except OSError:
            return None

    def preview(self, master: PlannedMaster, longest: int) -> bytes:
        """The same, made when there is none.

        Raises :class:`MasterError` when the file cannot be opened or is not what was planned.
        """
        ready = self.ready(master, longest)
        return ready if ready is not None else self.make(master, longest)

    def make(self, master: PlannedMaster, longest: int) -> bytes:
        """Make one preview, without metadata, and keep it."""
        with self._decoding:  # one master decoded at a time bounds the memory
            ready = self.ready(master, longest)
            if ready is not None:
                return ready
            jpeg = _jpeg(_seen(master, self.job, longest), QUALITY)
            _put(self._preview_file(master, longest), jpeg)
            return jpeg

    def piece(self, master: PlannedMaster, column: int, row: int) -> bytes:
        """One square of the master at its own pixels, as a JPEG; see :data:`PIECE_PX`.

        Raises :class:`MasterError` as :meth:`preview` does, and :class:`MisuseError` for a square
        that lies outside the master.
        """
        across, down = column * PIECE_PX, row * PIECE_PX
        if across >= master.width or down >= master.height:
            raise MisuseError("this piece lies outside the master")
        with self.opened(master) as opened:
            cut = opened.pixels()[down : down + PIECE_PX, across : across + PIECE_PX]
            picture = Image.fromarray(seen_in_srgb(cut, opened.icc))
        return _jpeg(picture, PIECE_QUALITY)

    @contextmanager
    def opened(self, master: PlannedMaster) -> Iterator[Master]:
        """The opened master, for one reader at a time; the last one is kept open.

        Raises :class:`MasterError` when it is not the file that was planned.
        """
        with self._decoding:
            if self._opened is None or self._opened.sha256 != master.sha256:
                self._opened = opened_as_planned(master, self.job)
            yield self._opened

    def tag(self, master: PlannedMaster) -> str:
        """Names a preview's content in its address: it changes when the picture does."""
        return f"{master.sha256[:16]}-{MADE}"

    def _preview_file(self, master: PlannedMaster, longest: int) -> Path:
        return self.job / FOLDER / f"{master.sha256[:32]}-{MADE}-{longest}.jpg"

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


def opened_as_planned(master: PlannedMaster, job: Path) -> Master:
    """The opened master; :class:`MasterError` when it is not the file that was planned."""
    opened = open_master(master.located(job))
    if opened.sha256 != master.sha256:
        raise _changed(master)
    return opened


def _changed(master: PlannedMaster) -> MasterError:
    return MasterError(
        f"{master.file} has changed since it was planned, so its crops no longer apply",
        way_out="Plan it again: cropper plan, with the same --job",
    )


def _seen(master: PlannedMaster, job: Path, longest: int) -> Image.Image:
    """The upright master in sRGB. A JPEG is decoded no larger than it is needed."""
    quick = _shrunk_jpeg(master, job, longest)
    if quick is not None:
        return quick
    return Image.fromarray(opened_as_planned(master, job).srgb8(longest))


def _shrunk_jpeg(master: PlannedMaster, job: Path, longest: int) -> Image.Image | None:
    """Decoded at a half, a quarter or an eighth, as JPEG allows; None for anything else.

    The whole file is checked when it is planned and exported; this is for looking at it.
    """
    path = master.located(job)
    if path.suffix.lower() not in {".jpg", ".jpeg"} or not path.is_file():
        return None
    try:
        header = pyvips.Image.new_from_file(str(path))
        if header.bands != RGB or header.format != "uchar":
            return None
        if master_digest(path) != master.sha256:
            raise _changed(master)
        small = pyvips.Image.thumbnail(str(path), longest, height=longest, size="down")
        icc = header.get("icc-profile-data") if header.get_typeof("icc-profile-data") else None
        return Image.fromarray(seen_in_srgb(np.asarray(small.numpy()), icc))
    except pyvips.Error:
        return None  # the slower way says what is wrong with it


def _jpeg(picture: Image.Image, quality: int) -> bytes:
    """JPEG bytes of the pixels alone."""
    out = io.BytesIO()
    Image.fromarray(np.asarray(picture.convert("RGB"))).save(out, "JPEG", quality=quality)
    return out.getvalue()


def _put(path: Path, data: bytes) -> None:
    """Write a file that can be made again; a full disk must not stop the looking."""
    try:
        write_whole(path, data, replace=True, within=path.parent.parent)
    except CropperError as error:
        raise CropperError(
            f"{path} cannot be written", way_out="Make room, or make the job's folder writable"
        ) from error
