"""From masters and destinations to a plan, again and again, without losing a hand's work.

The disk, the finder, the clock and whoever does the work are passed in. A second run looks only
at what changed: a master whose bytes or marks are new is looked at again, an answer whose basis
moved is proposed again, and a choice of the photographer's stays whatever happens. What a run
takes on is written down first, so that the next one knows what an interruption left.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from uuid import uuid4

from cropper import __version__
from cropper.destination.destination import Destination
from cropper.destination.presets import ALL
from cropper.disk import is_text, spelled
from cropper.errors import MisuseError
from cropper.job.asked import Asked
from cropper.job.finishing_ahead import bring_up_and_finish
from cropper.job.identity import differences
from cropper.job.masters import Entry, Masters
from cropper.job.one_master import Looker, MasterDone, MasterTask, ground_of
from cropper.job.plan import FailedMaster, Plan
from cropper.job.taking_on import Names, all_files, once, taken_on, way
from cropper.job.wishes import wished
from cropper.master.stored import placed

Spread = Callable[[Iterable[MasterTask]], Iterator[MasterDone]]
"""Does tasks, here or elsewhere, and gives what came of each, in any order."""


def _quiet(_: str) -> None:
    """Nobody listens."""


def one_by_one(looker: Looker) -> Spread:
    """Every task in this process, in order."""
    return lambda tasks: (bring_up_and_finish(task, looker) for task in tasks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The edges: where the job lies, who does the work, what time it is, and who is told.

    ``text`` gives the text of a master's file, ``keep`` puts what came of a task on the disk and
    gives its place in the plan, ``save`` puts the plan's head there.
    """

    job: Path
    spread: Spread
    now: datetime
    text: Callable[[Entry], str]
    keep: Callable[[MasterDone], Entry]
    save: Callable[[Plan], None]
    say: Callable[[str], None] = field(default=_quiet)
    told: Callable[[MasterDone, int], None] = field(default=lambda _done, _of: None)
    new_id: Callable[[], str] = field(default=lambda: uuid4().hex)


def plan_job(before: Plan | None, asked: Asked, room: Room) -> Plan:
    """The plan after this run. Raises :class:`MisuseError` for wishes that do not fit together.

    A master that cannot be opened is recorded in :attr:`Plan.failed`; the others go on. Where the
    work was stopped, :attr:`Plan.waiting` tells what is left.
    """
    plan = before or Plan(program_version=__version__, made_at=room.now)
    plan = replace(
        plan,
        id=plan.id or room.new_id(),
        folder=room.job.resolve().as_posix(),
        destinations=_known(plan, asked, room.say),
        program_version=__version__,
    )
    files = once(asked.files, room.say) if asked.files else all_files(plan, asked, room.job)
    _refuse_useless(files, plan, asked)
    plan, files = _without_odd_names(plan, files)
    plan, touched = taken_on(plan, files, asked, room.job, room.say)
    if plan.waiting or before is None or plan.destinations != before.destinations:
        room.save(plan)
    plan = _done(plan, touched, asked, room)
    here = [one for one in touched.values() if plan.shelf.entry(one) is not None]
    plan = wished(plan, here, asked, room.now)
    same = before is not None and replace(plan, made_at=before.made_at) == before
    return before if same and before is not None else replace(plan, made_at=room.now)


def _without_odd_names(plan: Plan, files: tuple[Path, ...]) -> tuple[Plan, tuple[Path, ...]]:
    """Files whose names cannot be written down fail by themselves; the others go on."""
    odd = [one for one in files if not is_text(one)]
    if not odd:
        return plan, files
    failed = {one.file: one for one in plan.failed}
    for one in odd:
        name = spelled(one)
        sentence = f"{name}: its name, or its folder's, is not UTF-8. Rename it"
        failed[name] = FailedMaster(file=name, sentence=sentence)
    left = tuple(one for one in files if one not in odd)
    return replace(plan, failed=tuple(failed.values())), left


def _refuse_useless(files: tuple[Path, ...], plan: Plan, asked: Asked) -> None:
    if not files and not asked.only_wishes:
        raise MisuseError("no master was named", way_out="Name the finished pictures to plan")
    if not plan.destinations:
        raise MisuseError(
            "no destination was named", way_out="Add --for NAME; see `cropper destinations`"
        )
    if asked.marks is not None and len(files) != 1:
        raise MisuseError(
            f"marks by hand belong to one picture, and {len(files)} are meant",
            way_out="Name the one picture that --eyes, --crown, --chin or --principal is about",
        )


def _known(plan: Plan, asked: Asked, say: Callable[[str], None]) -> tuple[Destination, ...]:
    """The job's destinations, in the order they first came.

    One that the job has stays as it is unless it is to be renewed; what differs is told.
    """
    known = {one.name: one for one in plan.destinations}
    newest = {one.name: one for one in _offered(asked) if one.name in known}
    newest |= {one.name: one for one in asked.destinations}
    _refuse_renewing(asked, [*known, *newest])
    for name, one in newest.items():
        before = known.get(name)
        if before is None or _renews(asked, name):
            known[name] = one
        elif differing := differences(before, one):
            say(
                f"'{name}' is described differently today in {one.preset_file} "
                f"({', '.join(differing)}); the job keeps its own. To take today's: --renew {name}"
            )
    return tuple(known.values())


def _offered(asked: Asked) -> tuple[Destination, ...]:
    return () if asked.only_wishes else asked.offered


def _renews(asked: Asked, name: str) -> bool:
    return asked.renewed is None or bool({name, ALL} & asked.renewed) or name in asked.given


def _refuse_renewing(asked: Asked, known: Collection[str]) -> None:
    """Raise :class:`MisuseError` for one to be renewed that the job does not have."""
    for name in asked.renewed or ():
        if name not in {*known, ALL}:
            raise MisuseError(
                f"the job has no destination '{name}' to renew",
                way_out=f"It has {', '.join(dict.fromkeys(known)) or 'none'}",
            )


def _done(plan: Plan, touched: dict[Path, str], asked: Asked, room: Room) -> Plan:
    """The plan with all tasks of this run done, as they come in."""
    entries = {one.version: one for one in plan.shelf.entries}
    waiting = {one.version: one for one in plan.waiting}
    failed = {one.file: one for one in plan.failed}
    tasks = _Tasks(plan, touched, asked, room)
    for done in room.spread(tasks.all()):
        failed.pop(str(done.file), None)
        waiting.pop(done.version, None)
        if done.failed:
            failed[str(done.file)] = FailedMaster(file=str(done.file), sentence=done.failed)
        elif done.text is not None or not _same_card(entries.get(done.version), done):
            entries[done.version] = room.keep(done)
        room.told(done, len(touched))
    return replace(
        plan,
        masters=Masters(entries.values()),
        waiting=tuple(waiting.values()),
        failed=tuple(failed.values()),
    )


def _same_card(entry: Entry | None, done: MasterDone) -> bool:
    return entry is not None and entry.card == done.card


class _Tasks:
    """The tasks of a run: its own files, then whatever else a changed destination touches."""

    def __init__(self, plan: Plan, touched: dict[Path, str], asked: Asked, room: Room) -> None:
        self.plan, self.touched, self.asked, self.room = plan, touched, asked, room
        self._waiting = {one.version: one for one in plan.waiting}
        self._names = Names(plan)
        self._grounds: dict[tuple[str, ...], str] = {}

    def all(self) -> Iterator[MasterTask]:
        """Made one by one, as they are asked for: nothing piles up."""
        for file, version in self.touched.items():
            yield self._task(file, version)
        mine = set(self.touched.values())
        for entry in self.plan.shelf.entries if not self.asked.only_wishes else ():
            if entry.version not in mine and not self._stands(entry):
                yield self._again(entry)

    def _task(self, file: Path, version: str) -> MasterTask:
        entry = self.plan.shelf.entry(version)
        new = tuple(one.name for one in self.asked.destinations)
        if entry is not None:
            return replace(
                self._again(entry),
                file=file,
                named=str(file),
                destinations=self._of((*_names_of(entry), *new)),
                marks=self.asked.marks,
                looked_at=not self.asked.only_wishes,
            )
        waiting = self._waiting[version]
        remark = self._names.remark(version, file)
        if remark:
            self.room.say(remark)
        return MasterTask(
            file=file,
            named=waiting.file,
            job=self.room.job,
            version=version,
            place=waiting.place,
            destinations=self._of(waiting.destinations),
            now=self.room.now,
            marks=self.asked.marks,
            remark=remark,
        )

    def _again(self, entry: Entry) -> MasterTask:
        return MasterTask(
            file=placed(self.room.job, way(entry)),
            job=self.room.job,
            version=entry.version,
            place=entry.place,
            destinations=self._of(_names_of(entry)),
            now=self.room.now,
            before=self.room.text(entry),
            card=entry.card,
            looked_at=False,
        )

    def _of(self, names: Iterable[str]) -> tuple[Destination, ...]:
        wanted = set(names)
        return tuple(one for one in self.plan.destinations if one.name in wanted)

    def _stands(self, entry: Entry) -> bool:
        """Whether its card alone tells that nothing of it moved."""
        names = _names_of(entry)
        if names not in self._grounds:
            self._grounds[names] = ground_of(self._of(names))
        return entry.card is not None and entry.card.ground == self._grounds[names]


def _names_of(entry: Entry) -> tuple[str, ...]:
    if entry.card is not None:
        return tuple(one.destination for one in entry.card.lines)
    return tuple(one.destination for one in entry.master.answers)
