"""The looker of real jobs: opens the master, runs the finder on a reduced picture, scales back."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from cropper.errors import MasterError
from cropper.job.marking import marked, scaled
from cropper.job.one_master import Seen
from cropper.job.plan import HandMarks
from cropper.master.opening import master_digest, open_master
from cropper.subject.finders import Finder, default_finder
from cropper.subject.subject import Finding

LONGEST_PX: Final = 2048
"""The finder's own pyramid ends here (measured: larger finds no more heads of 3 % and more)."""
LONGEST_SMALL_PX: Final = 8192
"""With small faces: a head of 2 % of a 24 MP frame keeps its pixels."""


class MasterLooker:
    """Opens masters and finds people in them with ``finder`` (the shipped one unless given)."""

    def __init__(self, finder: Finder | None = None) -> None:
        self._finder = finder or default_finder()
        self.name = self._finder.name

    def digest(self, path: Path) -> str:
        """SHA-256 of the file, without decoding it."""
        return master_digest(path)

    def look(self, path: Path, marks: HandMarks) -> Seen:
        """The master and its people, in pixels of the upright master."""
        master = open_master(path)
        longest = LONGEST_SMALL_PX if marks.small_faces else LONGEST_PX
        pixels = master.srgb8(longest=longest)
        found = self._finder.find(pixels, small_faces=marks.small_faces)
        return Seen(
            sha256=master.sha256,
            size=master.size,
            finding=self._as_marked(path, scaled(found, master.size), marks),
            notes=master.notes,
        )

    def _as_marked(self, path: Path, found: Finding, marks: HandMarks) -> Finding:
        try:
            return marked(found, marks)
        except ValueError as error:
            raise MasterError(
                f"{path}: {error}", way_out="Run `cropper find` on it, and mark what it lists"
            ) from error
