"""From masters and destinations to a plan, again and again, without losing a hand's work.

The disk, the finder and the clock are passed in. A second run looks only at what changed: a
master whose bytes or marks are new is looked at again, an answer whose basis moved is proposed
again, and a choice of the photographer's stays whatever happens.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from cropper import __version__
from cropper.destination.destination import Destination
from cropper.errors import CropperError, MasterError, MisuseError
from cropper.geometry import Crop, PixelBox, Size
from cropper.job.choices import made_by_hand, picked, settled
from cropper.job.identity import RULES, answer_basis, unlike, version_name, way_between
from cropper.job.plan import Choice, FailedMaster, HandMarks, Plan, PlannedMaster
from cropper.proposal.measuring import measure
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
class HandCrop:
    """``--crop``: a box for a destination. ``version`` empty: the one master there is."""

    version: str = ""
    destination: str
    box: PixelBox


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """``--choose``: a proposal for a destination, counted from 1."""

    version: str = ""
    destination: str
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What one run of ``plan`` is asked to do.

    No ``files``: all masters of the job. ``destinations`` are added to what the masters have;
    ``refreshed`` are newer definitions of destinations that the job knows already.
    """

    files: tuple[Path, ...] = ()
    destinations: tuple[Destination, ...] = ()
    refreshed: tuple[Destination, ...] = ()
    marks: HandMarks | None = None
    crops: tuple[HandCrop, ...] = ()
    picks: tuple[Pick, ...] = ()


def _quiet(_: str) -> None:
    """Nobody listens."""


def _unsaved(_: Plan) -> None:
    """Nothing is kept on the way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The edges: where the job lies, who looks, what time it is, and who is told."""

    job: Path
    looker: Looker
    now: datetime
    say: Callable[[str], None] = field(default=_quiet)
    save: Callable[[Plan], None] = field(default=_unsaved)


def plan_job(before: Plan | None, asked: Asked, room: Room) -> Plan:
    """The plan after this run. Raises :class:`MisuseError` for wishes that do not fit together.

    A master that cannot be opened is recorded in :attr:`Plan.failed`; the others go on.
    """
    plan = before or Plan(program_version=__version__, made_at=room.now)
    plan = replace(plan, destinations=_known(plan, asked), program_version=__version__)
    files = asked.files or tuple(one.located(room.job) for one in plan.masters)
    _refuse_useless(files, plan, asked)
    touched: list[str] = []
    for file in _once(files, room):
        plan, version = _looked_at(plan, file, asked, room)
        if version is not None:
            touched.append(version)
            plan = _proposed(plan, version, asked, room)
            room.save(plan)
    for master in plan.masters:
        if master.version not in touched:
            plan = _proposed(plan, master.version, replace(asked, destinations=()), room)
    plan = _by_hand(plan, touched, asked, room)
    same = before is not None and replace(plan, made_at=before.made_at) == before
    return before if same and before is not None else replace(plan, made_at=room.now)


def _refuse_useless(files: tuple[Path, ...], plan: Plan, asked: Asked) -> None:
    if not files:
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


def _known(plan: Plan, asked: Asked) -> tuple[Destination, ...]:
    """The job's destinations: newest definition of each, in the order they first came."""
    known = {one.name: one for one in plan.destinations}
    refreshed = {one.name: one for one in asked.refreshed if one.name in known}
    named = {one.name: one for one in asked.destinations}
    return tuple({**known, **refreshed, **named}.values())


def _once(files: tuple[Path, ...], room: Room) -> tuple[Path, ...]:
    """Each file once, in the order given."""
    apart: dict[Path, Path] = {}
    for file in files:
        real = file.resolve()
        if real in apart:
            room.say(f"{file} was named twice; it is planned once.")
        apart.setdefault(real, file)
    return tuple(apart.values())


def _looked_at(plan: Plan, file: Path, asked: Asked, room: Room) -> tuple[Plan, str | None]:
    """The plan with ``file`` opened and looked at, and its version; None when it failed."""
    before = _planned(plan, file, room)
    try:
        master = _fresh(plan, file, before, asked, room)
    except MasterError as error:
        failed = FailedMaster(file=str(file), sentence=str(error))
        others = tuple(one for one in plan.failed if one.file != failed.file)
        return replace(plan, failed=(*others, failed)), None
    failed_before = tuple(one for one in plan.failed if one.file != str(file))
    return replace(_put(plan, master), failed=failed_before), master.version


def _planned(plan: Plan, file: Path, room: Room) -> PlannedMaster | None:
    real = file.resolve()
    masters = (one for one in plan.masters if one.located(room.job).resolve() == real)
    return next(masters, None)


def _fresh(
    plan: Plan, file: Path, before: PlannedMaster | None, asked: Asked, room: Room
) -> PlannedMaster:
    marks = _merged(before.marks if before else HandMarks(), asked.marks)
    if before is not None and _unchanged(before, file, marks, room):
        return before
    room.say(f"Looking at {file.name}")
    seen = room.looker.look(file, marks)
    version, remark = (before.version, "") if before else _named(plan, file)
    if remark:
        room.say(remark)
    return PlannedMaster(
        file=before.file if before else str(file),
        path=way_between(room.job, file),
        sha256=seen.sha256,
        width=seen.size.width,
        height=seen.size.height,
        version=version,
        finding=seen.finding,
        marks=marks,
        answers=before.answers if before else (),
        choices=before.choices if before else {},
        basis=before.basis if before else {},
        approvals=before.approvals if before else {},
        remarks=(*((remark,) if remark else ()), *seen.notes),
    )


def _unchanged(before: PlannedMaster, file: Path, marks: HandMarks, room: Room) -> bool:
    return (
        marks == before.marks
        and before.finding.finder == room.looker.name
        and room.looker.digest(file) == before.sha256
    )


def _merged(before: HandMarks, given: HandMarks | None) -> HandMarks:
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


def _named(plan: Plan, file: Path) -> tuple[str, str]:
    """A version's name that no other master of the job has, and what to say if it had to change."""
    wanted = version_name(file.stem)
    name = unlike(wanted, [one.version for one in plan.masters])
    if name == wanted:
        return name, ""
    other = next(one for one in plan.masters if one.version.casefold() == wanted.casefold())
    return name, f"{file} is called '{name}' here, because '{wanted}' is {other.file}."


def _put(plan: Plan, master: PlannedMaster) -> Plan:
    """The plan with this master in its old place, or last."""
    if plan.master(master.version) is None:
        return replace(plan, masters=(*plan.masters, master))
    masters = (master if one.version == master.version else one for one in plan.masters)
    return replace(plan, masters=tuple(masters))


def _proposed(plan: Plan, version: str, asked: Asked, room: Room) -> Plan:
    """The plan with every answer of ``version`` up to date and its choices settled."""
    master = _must_have(plan, version)
    wanted = {one.destination for one in master.answers} | {one.name for one in asked.destinations}
    answers: list[Answer] = []
    choices: dict[str, Choice] = dict(master.choices)
    basis: dict[str, str] = {}
    for destination in plan.destinations:
        if destination.name not in wanted:
            continue
        name = destination.name
        basis[name] = answer_basis(master.sha256, master.finding, destination, RULES)
        before = master.answer(name)
        moved = master.basis.get(name) != basis[name]
        answer = propose(master.finding, destination) if before is None or moved else before
        answers.append(answer)
        choice = settled(
            choices.pop(name, None),
            master.chosen(name),
            answer,
            moved=moved,
            measure=_measurer(master, destination),
            now=room.now,
        )
        if choice is not None:
            choices[name] = choice
    return _put(plan, replace(master, answers=tuple(answers), choices=choices, basis=basis))


def _measurer(master: PlannedMaster, destination: Destination) -> Callable[[Crop], Proposal]:
    return lambda crop: measure(master.finding, destination, crop)


def _must_have(plan: Plan, version: str) -> PlannedMaster:
    master = plan.master(version)
    if master is None:
        listed = ", ".join(one.version for one in plan.masters) or "none"
        raise MisuseError(f"this job has no version '{version}'", way_out=f"It has {listed}")
    return master


def _by_hand(plan: Plan, touched: list[str], asked: Asked, room: Room) -> Plan:
    """The photographer's picks and crops of this run."""
    for pick in asked.picks:
        master = _meant(plan, pick.version, touched, pick.destination)
        choice = picked(master, pick.destination, pick.number, room.now)
        plan = _put(plan, master.with_choice(pick.destination, choice))
    for crop in asked.crops:
        master = _meant(plan, crop.version, touched, crop.destination)
        choice = _drawn(plan, master, crop, room)
        plan = _put(plan, master.with_choice(crop.destination, choice))
    return plan


def _drawn(plan: Plan, master: PlannedMaster, crop: HandCrop, room: Room) -> Choice:
    destination = plan.destination(crop.destination)
    if destination is None or master.answer(crop.destination) is None:
        raise MisuseError(
            f"'{crop.destination}' is not planned for '{master.version}'",
            way_out="Name it with --for as well",
        )
    measurer = _measurer(master, destination)
    try:
        return made_by_hand(master, destination, crop.box, measure=measurer, now=room.now)
    except ValueError as error:
        raise CropperError(
            f"a crop of '{master.version}' cannot be measured while its eyes are not known",
            way_out="Place them as well: --eyes X,Y X,Y",
        ) from error


def _meant(plan: Plan, version: str, touched: list[str], destination: str) -> PlannedMaster:
    """The master a hand's wish is about: named, or the only one of this run."""
    if version:
        return _must_have(plan, version)
    if len(touched) == 1:
        return _must_have(plan, touched[0])
    raise MisuseError(
        f"which picture is the wish for '{destination}' about? {len(touched)} are meant",
        way_out=f"Write VERSION:{destination}=..., with the version's name from the table",
    )
