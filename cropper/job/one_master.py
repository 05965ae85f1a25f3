"""One master brought up to date: looked at if need be, proposed for, its choices settled.

A :class:`MasterTask` holds plain values and goes to any process on any machine that sees the
master's file; what comes back is the text to be put on the disk. Nothing is written here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from cropper.deliverable.words import Words
from cropper.destination.destination import Destination
from cropper.errors import NO_MEMORY, MasterError
from cropper.geometry import Crop, Size
from cropper.job.cards import Card, card_of
from cropper.job.choices import Measurer, settled
from cropper.job.codec import master_from, master_text
from cropper.job.identity import (
    RULES,
    answer_basis,
    destination_hash,
    digest,
    length_of,
    way_between,
)
from cropper.job.plan import Choice, HandMarks, PlannedMaster
from cropper.job.shelf import file_digest
from cropper.master.stored import StoredPath, placed
from cropper.proposal.filling import filled_as, measured
from cropper.proposal.planning import propose
from cropper.proposal.proposal import Answer, Proposal
from cropper.subject.subject import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One master as it was opened and looked at."""

    sha256: str
    size: Size
    finding: Finding
    notes: tuple[str, ...] = ()


class Looker(Protocol):
    """Opens masters and finds people in them; both raise :class:`MasterError`."""

    name: str
    """Which finder, with its version; a new name means looking again."""

    def digest(self, path: Path) -> str:
        """SHA-256 of the file, without decoding it."""
        ...

    def look(self, path: Path, marks: HandMarks) -> Seen:
        """The master and the people in it, as the photographer's marks have it."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterTask:
    """One master to bring up to date, in plain values.

    ``before`` is the text of its own file (empty: a new master), ``card`` its card, if it has one
    that may be trusted. ``marks`` None: as before. ``looked_at`` false: only propose, the file was
    not named. ``named`` is the file as it was given, and ``remark`` is kept with a new master.
    ``words``, by destination, are those of its files, if they are to be finished at once.
    """

    file: Path
    job: Path
    version: str
    place: int
    destinations: tuple[Destination, ...]
    now: datetime
    before: str = ""
    card: Card | None = None
    marks: HandMarks | None = None
    looked_at: bool = True
    named: str = ""
    remark: str = ""
    words: Mapping[str, Words] | None = None

    @property
    def name(self) -> Path:
        """The file as it was given."""
        return placed(Path(), self.named) if self.named else self.file


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterDone:
    """What came of a task: a card and, where the master changed, its file's new text.

    ``failed`` is the sentence of a file that could not be opened; then there is nothing else.
    """

    file: Path
    version: str
    card: Card | None = None
    text: str | None = None
    failed: str = ""

    @property
    def sentence(self) -> str:
        """What needs saying of it: why it failed, or what the finder asks."""
        return self.failed or (self.card.question if self.card else "")


def ground_of(destinations: Sequence[Destination]) -> str:
    """Digest of what answers rest on besides the master: destinations and rules."""
    return digest([RULES, [[one.name, destination_hash(one)] for one in destinations]])


def bring_up(task: MasterTask, looker: Looker) -> MasterDone:
    """Do it; a file that cannot be opened is told, not raised."""
    return brought_up(task, looker)[0]


def brought_up(task: MasterTask, looker: Looker) -> tuple[MasterDone, PlannedMaster | None]:
    """The same, with the master, unless it stands as it was or could not be opened."""
    try:
        ground = ground_of(task.destinations)
        if _stands(task, looker, ground):
            return MasterDone(file=task.name, version=task.version, card=task.card), None
        before = master_from(task.before).master if task.before else None
        master = fresh(task, before, looker) if task.looked_at or before is None else before
        master = proposed(master, task.destinations, task.now)
    except MasterError as error:
        return MasterDone(file=task.name, version=task.version, failed=str(error)), None
    except MemoryError:
        failed = f"{task.name}: {NO_MEMORY}"
        return MasterDone(file=task.name, version=task.version, failed=failed), None
    text = master_text(master, task.place)
    card = card_of(master, place=task.place, text=file_digest(text), ground=ground)
    new = None if text == task.before else text
    return MasterDone(file=task.name, version=task.version, card=card, text=new), master


def _stands(task: MasterTask, looker: Looker, ground: str) -> bool:
    """Whether all is as it was, told by the card alone."""
    card = task.card
    if card is None or card.ground != ground or task.marks is not None:
        return False
    if not task.looked_at:
        return True
    if card.path != way_between(task.job, task.file) or not _length_known(card, task.file):
        return False
    return card.finder == looker.name and looker.digest(task.file) == card.sha256


def _length_known(card: Card, file: Path) -> bool:
    return card.bytes > 0 or isinstance(file, StoredPath)


def fresh(task: MasterTask, before: PlannedMaster | None, looker: Looker) -> PlannedMaster:
    """The master as it is now, looked at only if its bytes, marks or the finder are new."""
    marks = merged(before.marks if before else HandMarks(), task.marks)
    if before is not None and _unchanged(before, task.file, marks, looker):
        return _placed(before, task)
    seen = looker.look(task.file, marks)
    remarks = (*((task.remark,) if task.remark else ()), *seen.notes)
    if before is None:
        return PlannedMaster(
            file=str(task.name),
            path=way_between(task.job, task.file),
            sha256=seen.sha256,
            width=seen.size.width,
            height=seen.size.height,
            version=task.version,
            finding=seen.finding,
            marks=marks,
            remarks=remarks,
            bytes=length_of(task.file) or 0,
        )
    return replace(
        _placed(before, task),
        sha256=seen.sha256,
        width=seen.size.width,
        height=seen.size.height,
        finding=seen.finding,
        marks=marks,
        remarks=remarks,
    )


def _placed(before: PlannedMaster, task: MasterTask) -> PlannedMaster:
    """The same master where its file lies now."""
    path, length = way_between(task.job, task.file), length_of(task.file) or 0
    if path == before.path:
        return before if length == before.bytes else replace(before, bytes=length)
    return replace(before, file=str(task.name), path=path, bytes=length)


def _unchanged(before: PlannedMaster, file: Path, marks: HandMarks, looker: Looker) -> bool:
    return (
        marks == before.marks
        and before.finding.finder == looker.name
        and looker.digest(file) == before.sha256
    )


def merged(before: HandMarks, given: HandMarks | None) -> HandMarks:
    """What was said before, with what is said now over it."""
    if given is None:
        return before
    return HandMarks(
        eyes=given.eyes or before.eyes,
        crown=given.crown or before.crown,
        chin=given.chin or before.chin,
        principal=given.principal or before.principal,
        excluded=given.excluded or before.excluded,
        small_faces=given.small_faces or before.small_faces,
    )


def proposed(
    master: PlannedMaster, destinations: Sequence[Destination], now: datetime
) -> PlannedMaster:
    """The master with every answer up to date for exactly these destinations, choices settled."""
    answers: list[Answer] = []
    choices: dict[str, Choice] = dict(master.choices)
    basis: dict[str, str] = {}
    for destination in destinations:
        name = destination.name
        basis[name] = answer_basis(master.sha256, master.finding, destination, RULES)
        answer = _answered(master, destination, basis)
        answers.append(answer)
        choice = settled(
            choices.pop(name, None),
            master.chosen(name),
            answer,
            moved=_moved(master, name, basis),
            measure=measurer(master, destination),
            now=now,
        )
        if choice is not None:
            choices[name] = choice
    return replace(master, answers=tuple(answers), choices=choices, basis=basis)


def _moved(master: PlannedMaster, name: str, basis: Mapping[str, str]) -> bool:
    return master.basis.get(name) != basis[name]


def _answered(master: PlannedMaster, destination: Destination, basis: Mapping[str, str]) -> Answer:
    before = master.answer(destination.name)
    if before is None or _moved(master, destination.name, basis):
        return propose(master.finding, destination)
    return before


def measurer(master: PlannedMaster, destination: Destination) -> Measurer:
    """Measures crops of this master by the destination's rules."""

    def measure(crop: Crop, like: Proposal | None = None) -> Proposal:
        filled = destination if like is None else filled_as(destination, like)
        return measured(master.finding, filled, crop)

    return measure
