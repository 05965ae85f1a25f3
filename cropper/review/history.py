"""What can be taken back and done again, master by master; it outlasts a restart of the page.

A step keeps only what it changed: the marks of a master, its choices, its words and notes, and who
goes where in a set. It can be taken back as long as these are still what the step made of them, so
a command on one master ends the undo of nothing else. The steps lie in ``JOB/review/steps.jsonl``;
that file may be thrown away at any time.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from cropper import disk
from cropper.job.plan import Approval, Choice, HandMarks, Plan, PlannedMaster
from cropper.job.remarking import remarked
from cropper.subject.subject import Finding

STEPS: Final = "steps.jsonl"
STEPS_KEPT: Final = 500
"""Older steps are forgotten (house)."""

Raw = Callable[[PlannedMaster], Finding]
"""What the finder saw in a master before any mark by hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterPart:
    """The part of a master that a step is about; None or "" stands for what was not there."""

    marks: HandMarks
    choices: Mapping[str, Choice | None] = field(default_factory=dict)
    approvals: Mapping[str, Approval | None] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)

    def describes(self, master: PlannedMaster) -> bool:
        """Whether the master holds exactly this now."""
        return (
            master.marks == self.marks
            and all(master.choices.get(name) == one for name, one in self.choices.items())
            and all(master.approvals.get(name) == one for name, one in self.approvals.items())
            and all(master.notes.get(name, "") == one for name, one in self.notes.items())
        )

    def put_into(self, master: PlannedMaster) -> PlannedMaster:
        """The master with this part, its marks apart: other marks bring other proposals."""
        return replace(
            master,
            choices=_with(master.choices, self.choices),
            approvals=_with(master.approvals, self.approvals),
            notes=_with(master.notes, {name: one or None for name, one in self.notes.items()}),
        )


def _with(kept: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    return {name: one for name, one in {**kept, **given}.items() if one is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What a step did to one master."""

    version: str
    before: MasterPart
    after: MasterPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixing:
    """What a step did to a set: who goes to ``destination`` by the photographer's wish."""

    set_name: str
    destination: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One action in words, and what it changed.

    ``gesture`` joins the many small saves of one movement of the hand into one step.
    """

    label: str
    changes: tuple[Change, ...] = ()
    fixings: tuple[Fixing, ...] = ()
    destination: str = ""
    gesture: str = ""
    number: int = 0

    @property
    def version(self) -> str:
        """The one master it is about; empty for several, or none."""
        return self.changes[0].version if len(self.changes) == 1 else ""

    def touches(self, version: str) -> bool:
        """Whether it changed this master; every step, when no master is named."""
        return not version or any(one.version == version for one in self.changes)

    def stands(self, plan: Plan) -> bool:
        """Whether the plan holds what the step made, so that it can be taken back."""
        return self._holds(plan, lambda one: one.after)

    def stands_back(self, plan: Plan) -> bool:
        """Whether the plan holds what was before the step, so that it can be done again."""
        return self._holds(plan, lambda one: one.before)

    def _holds(self, plan: Plan, side: Callable[[Any], Any]) -> bool:
        for one in self.changes:
            master = plan.master(one.version)
            if master is None or not side(one).describes(master):
                return False
        for fixing in self.fixings:
            planned = plan.rivals.get(fixing.set_name)
            if planned is None or planned.fixed.get(fixing.destination) != side(fixing):
                return False
        return True

    def taken_back(self, plan: Plan, raw: Raw, now: datetime) -> Plan:
        """The plan as it was before the step."""
        return self._turned(plan, raw, now, lambda one: one.before)

    def done_again(self, plan: Plan, raw: Raw, now: datetime) -> Plan:
        """The plan as the step made it."""
        return self._turned(plan, raw, now, lambda one: one.after)

    def _turned(self, plan: Plan, raw: Raw, now: datetime, side: Callable[[Any], Any]) -> Plan:
        for one in self.changes:
            plan = _put(plan, one.version, side(one), raw, now)
        for fixing in self.fixings:
            planned = plan.rivals.get(fixing.set_name)
            if planned is not None:
                fixed = _with({**planned.fixed}, {fixing.destination: side(fixing)})
                if side(fixing) is None:
                    fixed.pop(fixing.destination, None)
                plan = replace(plan, sets=plan.rivals.put(replace(planned, fixed=fixed, basis="")))
        return plan


def _put(plan: Plan, version: str, part: MasterPart, raw: Raw, now: datetime) -> Plan:
    master = plan.master(version)
    if master is None:
        return plan
    if master.marks != part.marks:
        plan = remarked(plan, version, part.marks, raw=raw(master), now=now)
        master = plan.master(version) or master
    return plan.with_master(part.put_into(master))


def step_of(
    before: Plan, after: Plan, versions: Iterable[str], *, label: str, set_name: str = ""
) -> Step:
    """What changed between two plans in these masters, and in one set's wishes."""
    changes = (_change(before.master(one), after.master(one)) for one in dict.fromkeys(versions))
    return Step(
        label=label,
        changes=tuple(one for one in changes if one is not None),
        fixings=tuple(_fixings(before, after, set_name)) if set_name else (),
    )


def _change(before: PlannedMaster | None, after: PlannedMaster | None) -> Change | None:
    if before is None or after is None or before == after:
        return None
    choices = _changed(before.choices, after.choices)
    approvals = _changed(before.approvals, after.approvals)
    notes = _changed(before.notes, after.notes)
    sides = (
        MasterPart(
            marks=one.marks,
            choices={name: one.choices.get(name) for name in choices},
            approvals={name: one.approvals.get(name) for name in approvals},
            notes={name: one.notes.get(name, "") for name in notes},
        )
        for one in (before, after)
    )
    return Change(version=before.version, before=next(sides), after=next(sides))


def _changed(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    return [name for name in {**before, **after} if before.get(name) != after.get(name)]


def _fixings(before: Plan, after: Plan, set_name: str) -> Iterable[Fixing]:
    one, other = before.rivals.get(set_name), after.rivals.get(set_name)
    if one is None or other is None:
        return
    for name in _changed(one.fixed, other.fixed):
        yield Fixing(
            set_name=set_name,
            destination=name,
            before=one.fixed.get(name),
            after=other.fixed.get(name),
        )


class History:
    """Steps done, and steps taken back, oldest first. ``file`` None: in memory only."""

    def __init__(self, file: Path | None = None) -> None:
        self._file = file
        self._done: list[Step] = []
        self._back: list[Step] = []
        self._next = 1
        self._seen: tuple[int, int] | None = None

    def add(self, step: Step) -> None:
        """A new step; what was taken back of the same masters can no longer be done again."""
        self._read()
        touched = {one.version for one in step.changes}
        last = self._done[-1] if self._done else None
        if last is not None and step.gesture and last.gesture == step.gesture:
            step = replace(_joined(last, step), number=last.number)
            self._done[-1] = step
        else:
            step = replace(step, number=self._next)
            self._next += 1
            self._done = [*self._done, step][-STEPS_KEPT:]
        self._back = [
            one for one in self._back if not touched & {each.version for each in one.changes}
        ]
        self._append({"step": _steps().dump_python(step, mode="json")})

    def to_undo(self, plan: Plan, version: str = "") -> Step | None:
        """The step that would be taken back next, of one master or of all."""
        self._read()
        found = (one for one in reversed(self._done) if one.touches(version) and one.stands(plan))
        return next(found, None)

    def to_redo(self, plan: Plan, version: str = "") -> Step | None:
        """The step that would be done again next."""
        self._read()
        found = (
            one for one in reversed(self._back) if one.touches(version) and one.stands_back(plan)
        )
        return next(found, None)

    def undone(self, step: Step) -> None:
        """Note that this step was taken back."""
        self._take_back(step.number)
        self._append({"back": step.number})

    def redone(self, step: Step) -> None:
        """Note that this step was done again."""
        self._do_again(step.number)
        self._append({"again": step.number})

    def _take_back(self, number: int) -> None:
        self._back += [one for one in self._done if one.number == number]
        self._done = [one for one in self._done if one.number != number]

    def _do_again(self, number: int) -> None:
        self._done += [one for one in self._back if one.number == number]
        self._back = [one for one in self._back if one.number != number]

    def _signature(self) -> tuple[int, int] | None:
        if self._file is None:
            return None
        try:
            seen = disk.plain(self._file).stat()
        except OSError:
            return None
        return (seen.st_size, seen.st_mtime_ns)

    def _read(self) -> None:
        """Read what another page of the same job has written since."""
        signature = self._signature()
        if self._file is None or signature == self._seen:
            return
        self._done, self._back, self._seen = [], [], signature
        try:
            lines = self._file.read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeDecodeError):
            return
        for line in lines:
            self._follow(line)
        self._done = self._done[-STEPS_KEPT:]
        if len(lines) > 4 * STEPS_KEPT:
            self._write_anew()

    def _follow(self, line: str) -> None:
        """One line of the file; one that is torn or foreign is passed over."""
        try:
            told = json.loads(line)
            if "step" in told:
                step = _steps().validate_python(told["step"])
                self._done = [one for one in self._done if one.number != step.number]
                self._done.append(step)
                self._next = max(self._next, step.number + 1)
            elif "back" in told:
                self._take_back(int(told["back"]))
            elif "again" in told:
                self._do_again(int(told["again"]))
        except (ValueError, TypeError, ValidationError):
            return

    def _append(self, told: dict[str, Any]) -> None:
        if self._file is None:
            return
        try:
            disk.made(self._file.parent, within=self._file.parent.parent)
            disk.refuse_links(self._file, self._file.parent.parent)
            with self._file.open("a", encoding="utf-8") as file:
                file.write(json.dumps(told, ensure_ascii=False, separators=(",", ":")) + "\n")
        except OSError:
            return  # the action itself is saved; only its undo ends with this page
        self._seen = self._signature()

    def _write_anew(self) -> None:
        if self._file is None:
            return
        told = [json.dumps({"step": _steps().dump_python(one, mode="json")}) for one in self._done]
        try:
            with disk.whole(self._file) as file:
                file.write("".join(f"{one}\n" for one in told))
        except OSError:
            return
        self._back = []
        self._seen = self._signature()


def _joined(first: Step, then: Step) -> Step:
    """Two saves of one movement as one step: what was before the first, what is after the last."""
    started = {one.version: one for one in first.changes}
    changes = []
    for one in then.changes:
        began = started.pop(one.version, None)
        if began is None:
            changes.append(one)
            continue
        before = replace(
            one.before,
            marks=began.before.marks,
            choices={**one.before.choices, **began.before.choices},
            approvals={**one.before.approvals, **began.before.approvals},
            notes={**one.before.notes, **began.before.notes},
        )
        after = replace(
            one.after,
            choices={**began.after.choices, **one.after.choices},
            approvals={**began.after.approvals, **one.after.approvals},
            notes={**began.after.notes, **one.after.notes},
        )
        changes.append(Change(version=one.version, before=before, after=after))
    return replace(then, changes=(*started.values(), *changes))


@cache
def _steps() -> TypeAdapter[Step]:
    return TypeAdapter(Step)
