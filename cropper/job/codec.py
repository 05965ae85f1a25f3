"""Plan <-> JSON, exactly: every number comes back as it was, fractions as ``"4/5"``.

Untrusted JSON becomes a :class:`Plan` or a :class:`PlannedMaster` here, once, and is never a dict
again. A plan lies in several files: its head (``plan.json``) and one for each master.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import datetime
from functools import cache
from typing import Any, Final, cast

from pydantic import TypeAdapter, ValidationError

from cropper._layout import finite, laid_out
from cropper.destination.destination import Destination
from cropper.errors import JobError
from cropper.job.plan import (
    FORMAT,
    FailedMaster,
    Plan,
    PlannedMaster,
    PlannedSet,
    WaitingMaster,
)

MASTER_FORMAT: Final = 3
"""The format of a master's own file."""
RESTORE: Final = "Restore plan.json from a copy, or plan into a fresh job folder"
PLAN_AGAIN: Final = "Restore that file from a copy, or take it away and plan that master again"
UPDATE: Final = "Update cropper, or plan into a fresh job folder"


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterFile:
    """What lies in a master's own file: the master, and its place in the job's order."""

    format: int = MASTER_FORMAT
    place: int
    master: PlannedMaster


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What lies in ``plan.json``: the plan but for its masters and sets."""

    format: int
    program_version: str
    made_at: datetime
    id: str = ""
    folder: str = ""
    destinations: tuple[Destination, ...] = ()
    failed: tuple[FailedMaster, ...] = ()
    outlets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    waiting: tuple[WaitingMaster, ...] = ()


_HEAD: Final = tuple(one.name for one in fields(Head))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Inside:
    """What a plan of format 1 held besides, and its sets that one of format 2 did."""

    masters: tuple[PlannedMaster, ...] = ()
    sets: tuple[PlannedSet, ...] = ()


@cache
def _heads() -> TypeAdapter[Head]:
    return TypeAdapter(Head)


@cache
def _insides() -> TypeAdapter[_Inside]:
    return TypeAdapter(_Inside)


@cache
def _master_files() -> TypeAdapter[MasterFile]:
    return TypeAdapter(MasterFile)


def to_mapping(plan: Plan) -> dict[str, Any]:
    """The whole plan as plain JSON values, every master and every set opened."""
    inside = _Inside(masters=tuple(plan.masters), sets=tuple(plan.sets))
    told = cast("dict[str, Any]", finite(_insides().dump_python(inside, mode="json")))
    return {**_head(plan), **told}


def _head(plan: Plan) -> dict[str, Any]:
    head = Head(**{name: getattr(plan, name) for name in _HEAD})
    return cast("dict[str, Any]", finite(_heads().dump_python(head, mode="json")))


def _master_mapping(filed: MasterFile) -> dict[str, Any]:
    return cast("dict[str, Any]", finite(_master_files().dump_python(filed, mode="json")))


def from_mapping(mapping: object) -> Plan:
    """A plan from JSON values; raises :class:`JobError` naming the first value that is wrong."""
    _refuse_foreign(mapping)
    mapping = brought_up(mapping)
    try:
        head = _heads().validate_python(mapping)
        inside = _insides().validate_python(mapping)
    except ValidationError as error:
        raise _damaged(error, RESTORE) from error
    told = {name: getattr(head, name) for name in _HEAD}
    return Plan(**{**told, "format": FORMAT}, masters=inside.masters, sets=inside.sets)


def _damaged(error: ValidationError, way_out: str) -> JobError:
    """The first value that is wrong, by its place."""
    first = error.errors()[0]
    place = ".".join(str(step) for step in first["loc"])
    said = first["msg"][:1].lower() + first["msg"][1:]
    return JobError(f"{place or 'the plan'} is not as a plan needs it: {said}", way_out=way_out)


def to_text(plan: Plan) -> str:
    """The whole plan as people read it: indented, but points, boxes and short lists on one line."""
    return laid_out(to_mapping(plan))


def head_text(plan: Plan) -> str:
    """The plan without its masters and sets, as ``plan.json`` holds it."""
    return laid_out(_head(plan))


def master_text(master: PlannedMaster, place: int) -> str:
    """One master as its own file holds it."""
    return laid_out(_master_mapping(MasterFile(place=place, master=master)))


def master_from(text: str | bytes) -> MasterFile:
    """What a master's own file says; raises :class:`JobError` where it is not one."""
    try:
        filed = _master_files().validate_json(text)
    except ValidationError:
        filed = _older_master(text)
    if filed.format > MASTER_FORMAT:
        raise JobError(f"it was made by a newer program (format {filed.format})", way_out=UPDATE)
    return filed


def _older_master(text: str | bytes) -> MasterFile:
    """A master's own file of an older format; :class:`JobError` where it is none either."""
    try:
        return _master_files().validate_python(brought_up(json.loads(text)))
    except ValidationError as error:
        raise _damaged(error, PLAN_AGAIN) from error
    except (ValueError, RecursionError) as error:
        raise JobError(f"this is not JSON ({error})", way_out=PLAN_AGAIN) from error


def brought_up(told: Any) -> Any:
    """JSON values of plan formats 1 to 3 (master formats 1 and 2) as the newest holds them.

    Costs were eight tiers in thousandths, shot sizes stood in every destination, and "by turn" was
    how the eyes stood across. What was proposed under old rules is proposed again when planned.
    """
    if isinstance(told, list):
        return [brought_up(one) for one in told]
    if not isinstance(told, dict):
        return told
    made = {key: brought_up(value) for key, value in told.items()}
    if isinstance(made.get("cost"), list):
        made["cost"] = sum(made["cost"]) / THOUSANDTHS
    if "head_share" in made and "head_height" not in made:
        made["framing"] = None
        if made.get("across") == "by turn":
            made["across"] = "as the master"
    return made


THOUSANDTHS: Final = 1000
"""What a tier of a cost was counted in up to plan format 3."""


def holds_inside(text: str) -> tuple[bool, bool]:
    """Whether a plan's text has its masters inside (format 1), and whether its sets (1 and 2)."""
    mapping = json.loads(text)
    return isinstance(mapping, dict) and "masters" in mapping, "sets" in mapping


def from_text(text: str) -> Plan:
    """A plan from its text; raises :class:`JobError` where it is not one."""
    try:
        mapping = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise JobError(f"this is not JSON ({error})", way_out=RESTORE) from error
    return from_mapping(mapping)


def _refuse_foreign(mapping: object) -> None:
    """Only a plan of a format that this program knows may pass."""
    stated = mapping.get("format") if isinstance(mapping, dict) else None
    if not isinstance(stated, int) or isinstance(stated, bool):
        raise JobError(
            "this is not the plan of a job: it names no format",
            way_out="Point --job at a folder made by `cropper plan`",
        )
    if stated > FORMAT:
        raise JobError(
            f"this job was made by a newer program (plan format {stated}, this one knows {FORMAT})",
            way_out=UPDATE,
        )


def plan_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of plan.json; shipped as ``schemas/plan.schema.json``."""
    schema = _heads().json_schema(mode="serialization")
    return _titled(schema, f"A job's plan without its masters and sets, format {FORMAT}")


def master_schema() -> dict[str, Any]:
    """The schema of a master's own file; shipped as ``schemas/planned-master.schema.json``."""
    return _titled(
        _master_files().json_schema(mode="serialization"),
        f"A planned master, format {MASTER_FORMAT}",
    )


def _titled(schema: dict[str, Any], title: str) -> dict[str, Any]:
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title,
        **{key: value for key, value in schema.items() if key != "title"},
    }


if __name__ == "__main__":
    chosen = master_schema() if "master" in sys.argv[1:] else plan_schema()
    print(json.dumps(chosen, indent=1, ensure_ascii=False))  # noqa: T201 - renews the file
