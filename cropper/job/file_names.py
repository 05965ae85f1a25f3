"""Which file of an export's folder each deliverable gets; a name once given stays.

Two names that differ only in case or Unicode form are one name: some disks hold them for one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path, PurePath
from typing import Final

from cropper.deliverable.naming import LONGEST_FOLDER, file_name, first_free, folded
from cropper.destination.naming import DEVICES, portable
from cropper.job.ledger import OpenLedger
from cropper.job.wanted import Item

NO_RECIPIENT: Final = "no-recipient"
"""Folder of the files that no recipient is named for."""
TAKEN: Final = "taken"
PLAIN: Final = "plain"
"""Kinds of words on the scratch paper: folded names that are given, and names as first wanted."""


class FileNames:
    """Gives names in one folder, each once."""

    def __init__(self, folder: Path, ledger: OpenLedger) -> None:
        self._folder, self._ledger, self._paper = folder, ledger, ledger.scratch
        for name in list(ledger.names()):
            self._paper.say(TAKEN, folded(name))
            self._paper.say(PLAIN, name)
        self._seen: set[PurePath] = set()

    def give(self, wanted: str, *, version: str, destination: str) -> str:
        """The name that this deliverable has had, or ``wanted``, or it with a running number."""
        mine = self._ledger.name_of(version, destination)
        if mine is None or not same_but_number(mine, wanted):
            self._look_at(PurePath(wanted).parent)
            mine = first_free(wanted, self)
        self._paper.say(TAKEN, folded(mine))
        return mine

    def keep(self, name: str) -> str:
        """A name that was given once and stays."""
        self._paper.say(TAKEN, folded(name))
        return name

    def __contains__(self, name: object) -> bool:
        """Whether a folded name is taken."""
        return self._paper.was_said(TAKEN, str(name))

    def plain(self, wanted: str, name: str) -> str:
        """``wanted``, if a file there may be ours though the ledger was lost; else ``""``."""
        nobody_s = self._paper.say(PLAIN, wanted)
        return wanted if nobody_s and self._ledger.entry(name) is None else ""

    def _look_at(self, below: PurePath) -> None:
        """Files of others on the disk have their names already; each folder is listed once."""
        if below in self._seen:
            return
        self._seen.add(below)
        for name in _on_disk(self._folder / below):
            self._paper.say(TAKEN, folded((below / name).as_posix()))


def _on_disk(folder: Path) -> Iterator[str]:
    if folder.is_dir():
        with os.scandir(folder) as there:
            yield from (one.name for one in there)


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
