"""Which file of an export's folder each deliverable gets; a name once given stays.

Two names that differ only in case or Unicode form are one name: some disks hold them for one.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path, PurePath
from typing import Final

from cropper.deliverable.naming import LONGEST_FOLDER, file_name, first_free, folded
from cropper.destination.naming import DEVICES, portable
from cropper.job.ledger import OpenLedger
from cropper.job.wanted import Item

NO_RECIPIENT: Final = "no-recipient"
"""Folder of the files that no recipient is named for."""


class FileNames:
    """Gives names in one folder, each once."""

    def __init__(self, folder: Path, ledger: OpenLedger) -> None:
        self._folder, self._ledger = folder, ledger
        self._taken = {folded(name) for name in ledger.files}
        self._seen: set[PurePath] = set()

    def give(self, wanted: str, *, version: str, destination: str) -> str:
        """The name that this deliverable has had, or ``wanted``, or it with a running number."""
        mine = self._ledger.name_of(version, destination)
        if mine is None or not same_but_number(mine, wanted):
            self._look_at(PurePath(wanted).parent)
            mine = first_free(wanted, self._taken)
        self._taken.add(folded(mine))
        return mine

    def _look_at(self, below: PurePath) -> None:
        """Files of others on the disk have their names already; each folder is listed once."""
        if below in self._seen:
            return
        self._seen.add(below)
        there = _on_disk(self._folder / below)
        self._taken.update(folded((below / name).as_posix()) for name in there)


def _on_disk(folder: Path) -> Iterable[str]:
    return [one.name for one in folder.iterdir()] if folder.is_dir() else ()


def wanted_name(item: Item, *, day: str, by_recipient: bool) -> str:
    """The destination's pattern filled in; never leads out of the export's folder."""
    name = file_name(
        item.destination,
        item.proposal.delivered,
        version=item.master.version,
        master=PurePath(item.master.file).stem,
        set_name=item.set_name or "",
        recipient=item.destination.recipient,
        date=day,
    )
    return f"{recipient_folder(item.destination.recipient)}/{name}" if by_recipient else name


def recipient_folder(recipient: str) -> str:
    """A recipient as a folder's name, in portable characters and never too long.

    >>> recipient_folder("../Bureau Østlund"), recipient_folder("con"), recipient_folder("..")
    ('Bureau-stlund', '_con', 'no-recipient')
    """
    name = portable(recipient)[:LONGEST_FOLDER].strip("-.") or NO_RECIPIENT
    return f"_{name}" if DEVICES.fullmatch(name) else name


def same_but_number(mine: str, wanted: str) -> bool:
    """Whether ``mine`` is ``wanted``, or ``wanted`` with the running number it was given once."""
    stem, _, ending = wanted.rpartition(".")
    middle = mine.removeprefix(stem).removesuffix(f".{ending}")
    return mine == wanted or (middle.startswith("-") and middle[1:].isdigit())
