"""Crops of a job changed by the photographer's words: adjusted, reset, frozen, and taken back.

One change is for one crop or for a destination over all masters. What cannot be done is told for
each crop, and the others are done.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Final

from cropper.destination.destination import Destination, Surround
from cropper.errors import JobError, MisuseError
from cropper.geometry import Crop
from cropper.job.adjusting import biggest, taken
from cropper.job.adjustment import Adjustment, adjusted
from cropper.job.changed_crops import (
    ChangedCrop,
    CropThen,
    HandChanges,
    SkippedCrop,
    difference,
    some,
)
from cropper.job.choices import frozen, unfrozen
from cropper.job.masters import Entry, Masters
from cropper.job.one_master import measurer
from cropper.job.outlets import read_outlets
from cropper.job.plan import CROPPER, Choice, Plan, PlannedMaster
from cropper.job.recording import standing_in
from cropper.job.rival_sets import Sets
from cropper.job.sets import assigned
from cropper.job.store import JobFolder
from cropper.job.undo_journal import (
    KeptChange,
    KeptChoice,
    Step,
    choice_again,
    kept,
    read_steps,
    write_steps,
)

FROZEN: Final = "It is frozen, and stays as it is. Lift that with --unfreeze."
NO_CROP: Final = "There is no crop to change. Name the picture as well to begin with the largest."
WHOLE: Final = "The whole picture is delivered: there is no crop to change."
FILLED: Final = (
    "It reaches past the picture, which fills all of it. Choose another proposal first:"
    " cropper plan --choose."
)
EDGE: Final = "The picture's edge allows no more."
GAVE_WAY: Final = "It is tighter so that the eyes can stand there."


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What to do with each crop, in this order: unfreeze, reset, adjust, freeze.

    ``frozen`` None leaves it as it is. Resetting leaves nothing to be adjusted.
    """

    adjustment: Adjustment = field(default_factory=Adjustment)
    reset: bool = False
    frozen: bool | None = None


def change_crops(
    job: Path,
    targets: Sequence[str],
    change: Change,
    *,
    label: str,
    now: datetime,
    record: str | None = None,
) -> HandChanges:
    """Change every crop that ``targets`` name: ``DEST``, a group of them, or ``VERSION:DEST``.

    Raises :class:`MisuseError` for names that the job does not have, and :class:`JobError` when
    it cannot be read or written.
    """
    folder = JobFolder(job)
    folder.must_read()
    with folder.held():
        plan = folder.in_today_s_format() or folder.must_read()
        work = _Work(plan, now)
        for version, destination, named in _meant(plan, targets):
            work.change(version, destination, change, named=named)
        return work.finish(folder, label, record)


def undo_last(job: Path, *, now: datetime, record: str | None = None) -> HandChanges:
    """Take back the last change that :func:`change_crops` made, wherever the crop is still that.

    Raises :class:`JobError` when there is none.
    """
    folder = JobFolder(job)
    folder.must_read()
    with folder.held():
        plan, steps = folder.in_today_s_format() or folder.must_read(), read_steps(job)
        if not steps:
            raise JobError(
                "there is nothing to undo: no crop was changed with `cropper adjust`",
                way_out="The page undoes what was done on it while it is open",
            )
        work = _Work(plan, now)
        for one in steps[-1].changes:
            work.take_back(one)
        done = work.finish(folder, f"undo: {steps[-1].label}", record, undoes=True)
        write_steps(job, steps[:-1])
        return done


def _meant(plan: Plan, targets: Iterable[str]) -> Iterator[tuple[str, Destination, bool]]:
    """Version, destination, and whether that very crop was named; each once, by version."""
    meant: dict[str, dict[str, tuple[Destination, bool]]] = {}
    for target in targets:
        version, colon, name = target.strip().rpartition(":")
        if colon and plan.shelf.entry(version) is None:
            raise MisuseError(
                f"this job has no version '{version}'",
                way_out=f"It has {some(plan.shelf.versions)}",
            )
        for destination in _destinations(plan, name):
            for one in (version,) if colon else plan.shelf.versions:
                named = colon or meant.get(one, {}).get(destination.name, (None, False))[1]
                meant.setdefault(one, {})[destination.name] = (destination, bool(named))
    for version in plan.shelf.versions:
        for destination, named in meant.get(version, {}).values():
            yield version, destination, named


def _destinations(plan: Plan, name: str) -> tuple[Destination, ...]:
    one = plan.destination(name)
    if one is not None:
        return (one,)
    group = tuple(one for one in plan.destinations if name == "all" or name in one.groups)
    if not group:
        raise MisuseError(
            f"this job has no destination '{name}'",
            way_out=f"It has {some([one.name for one in plan.destinations])}",
        )
    return group


class _Work:
    """What is to be changed, put together before anything is written.

    Of masters only their new choices are held: a destination may be changed over a whole season.
    """

    def __init__(self, plan: Plan, now: datetime) -> None:
        self.plan, self.now = plan, now
        self.choices: dict[str, dict[str, Choice | None]] = {}
        self.changed: list[ChangedCrop] = []
        self.skipped: list[SkippedCrop] = []
        self.steps: list[KeptChange] = []

    def master(self, version: str) -> PlannedMaster | None:
        """The master as it will be; None when the job has lost it."""
        entry = self.plan.shelf.entry(version)
        return None if entry is None else self._changed(entry)

    def _changed(self, entry: Entry) -> PlannedMaster:
        """The master of an entry with its new choices."""
        master = entry.master
        for name, choice in self.choices.get(entry.version, {}).items():
            master = master.with_choice(name, choice)
        return master

    def change(
        self, version: str, destination: Destination, change: Change, *, named: bool
    ) -> None:
        """Change one crop, or tell why not."""
        master, name = self.master(version), destination.name
        if master is None or master.answer(name) is None:
            if named:
                self.skip(version, name, "It is not planned for this picture: plan it first.")
            return
        made = _changed(master, destination, change, self.now, named=named)
        if isinstance(made, _Not):
            self.skip(version, name, made.why, already=made.already)
        else:
            self.put(master, destination, made.choice, made.remark)

    def take_back(self, one: KeptChange) -> None:
        """Give one crop what it had before."""
        master, destination = self.master(one.version), self.plan.destination(one.destination)
        if master is None or destination is None or master.answer(one.destination) is None:
            self.skip(one.version, one.destination, "It is not planned any longer.")
            return
        current = kept(master, one.destination)
        if _alike(current, one.before):
            self.skip(one.version, one.destination, "It stands so already.", already=True)
        elif not _alike(current, one.after):
            why = "It was changed again after that, by the page or another command: it stays."
            self.skip(one.version, one.destination, why)
        else:
            self.put(master, destination, _before(master, destination, one.before, self.now))

    def skip(self, version: str, destination: str, why: str, *, already: bool = False) -> None:
        """Tell that a crop stays."""
        self.skipped.append(
            SkippedCrop(version=version, destination=destination, why=why, already=already)
        )

    def put(
        self,
        master: PlannedMaster,
        destination: Destination,
        choice: Choice | None,
        remark: str = "",
    ) -> None:
        """Let another crop count; ``remark`` says why it is not just what was wished."""
        name = destination.name
        after = master.with_choice(name, choice)
        self.choices.setdefault(master.version, {})[name] = choice
        self.steps.append(
            KeptChange(
                version=master.version,
                destination=name,
                before=kept(master, name),
                after=kept(after, name),
            )
        )
        self.changed.append(
            ChangedCrop(
                version=master.version,
                destination=name,
                before=CropThen.of(master.chosen(name)),
                after=CropThen.of(after.chosen(name)),
                frozen=choice is not None and choice.frozen,
                said=difference(master, after, destination, remark),
            )
        )

    def finish(
        self, folder: JobFolder, label: str, record: str | None, *, undoes: bool = False
    ) -> HandChanges:
        """Write all of it and tell what came of it."""
        sentences: tuple[str, ...] = ()
        if self.changed:
            if not undoes:  # before the plan: see the journal's own words
                step = Step(label=label, at=self.now, changes=tuple(self.steps))
                write_steps(folder.at, (*read_steps(folder.at), step))
            plan, sentences = _with_sets(self.all(), self.choices, folder.at, record, self.now)
            folder.write(plan)
        return HandChanges(
            label=label,
            changed=tuple(self.changed),
            skipped=tuple(self.skipped),
            sentences=sentences,
        )

    def all(self) -> Plan:
        """The plan with the changed masters in their places, each opened when it is written."""
        entries = (
            self._entry(one) if one.version in self.choices else one
            for one in self.plan.shelf.entries
        )
        return replace(self.plan, masters=Masters(entries))

    def _entry(self, entry: Entry) -> Entry:
        card = entry.card
        if card is None:
            return Entry(entry.version, entry.place, master=self._changed(entry))
        unwritten = replace(card, text="")
        return Entry(
            entry.version, entry.place, card=unwritten, opener=lambda _: self._changed(entry)
        )


@dataclass(frozen=True, slots=True)
class _Made:
    choice: Choice | None
    remark: str = ""


@dataclass(frozen=True, slots=True)
class _Not:
    why: str
    already: bool = False


def _changed(
    master: PlannedMaster, destination: Destination, change: Change, now: datetime, *, named: bool
) -> _Made | _Not:
    """The choice after the change."""
    if destination.full_frame:
        return _Not(WHOLE)
    before = master.choices.get(destination.name)
    choice = before
    if change.frozen is False and choice is not None and choice.frozen:
        choice = unfrozen(choice)
    if choice is not None and choice.frozen and (change.reset or change.adjustment.stated):
        return _Not(FROZEN)
    remark = ""
    if change.reset:
        choice = _programs(master, destination, choice, now)
    elif change.adjustment.stated:
        made = _moved(master, destination, change.adjustment, now, named=named)
        if isinstance(made, _Not):
            return made
        choice, remark = made.choice, made.remark
    if change.frozen:
        if choice is None:
            return _Not("There is no crop to freeze.")
        choice = frozen(choice, now)
    return (
        _Not("It stands so already.", already=True) if choice == before else _Made(choice, remark)
    )


def _programs(
    master: PlannedMaster, destination: Destination, before: Choice | None, now: datetime
) -> Choice | None:
    """The program's own first proposal; None where it has no crop."""
    answer = master.answer(destination.name)
    if answer is None or answer.best is None:
        return None
    if before is not None and before.index == 0 and before.chosen_by == CROPPER:
        return before
    return Choice(index=0, chosen_by=CROPPER, at=now)


def _moved(
    master: PlannedMaster,
    destination: Destination,
    wish: Adjustment,
    now: datetime,
    *,
    named: bool,
) -> _Made | _Not:
    """The crop as it was wished, as far as the master allows."""
    chosen = master.chosen(destination.name)
    if chosen is None and not named:
        return _Not(NO_CROP)
    crop = chosen.crop if chosen else Crop(biggest(destination, master.finding))
    if chosen is not None and (
        chosen.fill is not Surround.NOTHING or not crop.box.inside(master.finding.size)
    ):
        return _Not(FILLED)
    moved = adjusted(crop, wish, destination, master.finding)
    if chosen is not None and moved.crop == crop:
        return _Not("It stands so already.", already=True) if moved.whole else _Not(EDGE)
    remark = "" if moved.whole else EDGE
    if moved.gave_way and wish.sides <= 1:
        remark = GAVE_WAY
    return _Made(taken(moved.crop, measurer(master, destination), now), remark)


def _alike(one: KeptChoice | None, other: KeptChoice | None) -> bool:
    return one is other if one is None else one.same_crop(other)


def _before(
    master: PlannedMaster, destination: Destination, one: KeptChoice | None, now: datetime
) -> Choice | None:
    """The choice as it was; a crop that is proposed no longer is measured as one by hand."""
    if one is None:
        return None
    again = choice_again(one, master, destination.name)
    if again is not None:
        return again
    if one.chosen_by == CROPPER:
        return _programs(master, destination, None, now)
    made = taken(one.crop, measurer(master, destination), one.at)
    return replace(made, state=one.state, frozen=one.frozen)


def _with_sets(
    plan: Plan, touched: Iterable[str], job: Path, record: str | None, now: datetime
) -> tuple[Plan, tuple[str, ...]]:
    """The plan with the sets of the touched versions assigned anew, and what changed there."""
    named = {one.name: one for one in map(plan.set_of, touched) if one is not None}
    if not named:
        return plan, ()
    some = replace(plan, sets=tuple(named.values()))
    known = standing_in(read_outlets(job), some, job, address=record, now=now)
    done, clashes = assigned(some, known.outlets)
    sets: Sets = plan.rivals
    said = [*known.sentences, *map(str, clashes)]
    for one in done.sets:
        sets = sets.put(one)
        was = named[one.name].best
        said += [
            f"Set '{one.name}': {place} goes to '{version}' now, not to '{was[place]}'."
            for place, version in one.best.items()
            if place in was and was[place] != version
        ]
    return replace(plan, sets=sets), tuple(said)
